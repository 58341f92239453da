//! Sets of line segments on the nanometre grid, and how they are to be drawn.

use std::ops::Range;
use std::sync::Arc;

/// A straight line between two grid points, nm. 16 bytes, as the graphics card reads it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C)]
pub struct Segment {
    /// Where it starts, nm.
    pub from: [i32; 2],
    /// Where it ends, nm.
    pub to: [i32; 2],
}

/// What one segment carries besides its place. 4 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C)]
pub struct Shade {
    /// Place on the colour scale, 0 the lowest colour, `u16::MAX` the highest.
    pub value: u16,
    /// Where the segment starts within its connected path, in hundredths of a mm, wrapping: a
    /// dash pattern goes on across corners.
    pub phase: u16,
}

/// Segments in a chunk: what is drawn or left out as one.
pub(super) const CHUNK: usize = 512;

/// Smallest and largest corner, nm.
type Bounds = [[i32; 2]; 2];

/// Line segments in the order in which they are drawn, ready to be uploaded.
///
/// Neighbours in order should be neighbours in the plane, as scan paths are: what lies outside
/// the view is left out in chunks of consecutive segments.
#[derive(Debug, Default)]
pub struct LineSet {
    segments: Vec<Segment>,
    chunks: Vec<Bounds>,
    spacing_nm: Option<f64>,
}

impl LineSet {
    /// Takes over segments. `spacing_nm` is the typical distance between neighbours of a fill of
    /// parallel lines: zoomed out until they merge, they are drawn as a tone instead of a block
    /// of ink. `None` for lines that stand alone. O(segments).
    pub fn new(segments: Vec<Segment>, spacing_nm: Option<f64>) -> Self {
        let chunks = segments.chunks(CHUNK).map(bounds).collect();
        let spacing_nm = spacing_nm.filter(|spacing| spacing.is_finite() && *spacing > 0.0);
        Self { segments, chunks, spacing_nm }
    }

    /// The segments, in order.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// Typical distance between neighbours of a fill, nm.
    pub fn spacing_nm(&self) -> Option<f64> {
        self.spacing_nm
    }

    /// Runs of segments that may be seen in a rectangle (nm), in order.
    pub(super) fn visible(&self, low: [f64; 2], high: [f64; 2]) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        for (index, [from, to]) in self.chunks.iter().enumerate() {
            let outside =
                |axis: usize| f64::from(to[axis]) < low[axis] || f64::from(from[axis]) > high[axis];
            if outside(0) || outside(1) {
                continue;
            }
            let run = index * CHUNK..((index + 1) * CHUNK).min(self.segments.len());
            match runs.last_mut() {
                Some(last) if last.end == run.start => last.end = run.end,
                _ => runs.push(run),
            }
        }
        runs
    }
}

fn bounds(segments: &[Segment]) -> Bounds {
    let nothing = [[i32::MAX; 2], [i32::MIN; 2]];
    segments.iter().flat_map(|s| [s.from, s.to]).fold(nothing, |[low, high], [x, y]| {
        [[low[0].min(x), low[1].min(y)], [high[0].max(x), high[1].max(y)]]
    })
}

/// Where a segment's colour comes from. Colours are red, green, blue, opacity, 0 to 1, as shown
/// on the screen (not linear light), not premultiplied.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ink {
    /// One colour for all.
    Flat([f32; 4]),
    /// The [`ColourScale`](super::ColourScale) of the picture, at each segment's value, with this
    /// opacity.
    Scale(f32),
}

/// How wide a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Width {
    /// Pixels, at any zoom.
    Px(f32),
    /// Millimetres in the plane, but at least so many pixels.
    Mm(f32, f32),
}

impl Width {
    pub(super) fn px(self, px_per_mm: f64) -> f32 {
        #[expect(clippy::cast_possible_truncation, reason = "a width in pixels")]
        let width = match self {
            Self::Px(px) => px,
            Self::Mm(mm, least_px) => ((f64::from(mm) * px_per_mm) as f32).max(least_px),
        };
        width
    }
}

/// How a line is interrupted, in pixels: drawn, not drawn, drawn, not drawn, and again. All zero
/// is an unbroken line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dash(pub [f32; 4]);

impl Dash {
    /// Unbroken.
    pub const SOLID: Self = Self([0.0; 4]);
    /// Long, short: the line of centres in drafting (ISO 128-2 line type 04.1, from memory).
    pub const DASH_DOT: Self = Self([12.0, 3.0, 2.0, 3.0]);
    /// Points.
    pub const DOTTED: Self = Self([1.5, 3.5, 1.5, 3.5]);
    /// Short strokes.
    pub const DASHED: Self = Self([5.0, 3.0, 5.0, 3.0]);
}

/// A set of lines and how to draw it.
#[derive(Clone, Debug)]
pub struct LineLayer {
    /// The lines.
    pub lines: Arc<LineSet>,
    /// One shade for each segment; missing ones are all zero.
    pub shades: Option<Arc<Vec<Shade>>>,
    /// Colour.
    pub ink: Ink,
    /// Width.
    pub width: Width,
    /// Interruptions.
    pub dash: Dash,
    /// Whether ends reach half a width beyond their points, so that corners of heavy lines close;
    /// only where the line is opaque.
    pub closes_corners: bool,
    /// Opacity that a fill of parallel lines tends to when zoomed out until the lines merge.
    pub tone: f32,
    /// Opacity of the segments before [`Self::split`], a factor.
    pub opacity: f32,
    /// Segments before this index have `opacity`, the others `opacity_after`.
    pub split: usize,
    /// Opacity of the segments from [`Self::split`] on, a factor; 0 leaves them out.
    pub opacity_after: f32,
}

impl LineLayer {
    /// Unbroken lines, one pixel wide, all in full ink.
    pub fn new(lines: Arc<LineSet>, ink: Ink) -> Self {
        Self {
            lines,
            shades: None,
            ink,
            width: Width::Px(1.0),
            dash: Dash::SOLID,
            closes_corners: false,
            tone: 0.5,
            opacity: 1.0,
            split: usize::MAX,
            opacity_after: 1.0,
        }
    }
}

impl PartialEq for LineLayer {
    /// Sets of lines are compared by identity: they are large, and never change.
    fn eq(&self, other: &Self) -> bool {
        let shades = match (&self.shades, &other.shades) {
            (Some(a), Some(b)) => Arc::ptr_eq(a, b),
            (None, None) => true,
            _ => false,
        };
        shades
            && Arc::ptr_eq(&self.lines, &other.lines)
            && (self.ink, self.width, self.dash) == (other.ink, other.width, other.dash)
            && (self.closes_corners, self.split) == (other.closes_corners, other.split)
            && (self.tone, self.opacity, self.opacity_after)
                == (other.tone, other.opacity, other.opacity_after)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_chunks_that_touch_the_view_are_drawn_and_neighbours_are_joined() {
        let count = i32::try_from(CHUNK).expect("small") * 5 + 7;
        let column = |x| Segment { from: [x, 0], to: [x, 10] };
        let lines = LineSet::new((0..count).map(column).collect(), None);
        let all = lines.segments().len();
        let one = |run: Range<usize>| Vec::from_iter(Some(run));
        assert_eq!(lines.visible([-1.0, 0.0], [1e9, 1.0]), one(0..all));
        let at = |chunk: usize| (chunk * CHUNK) as f64 + 3.0;
        assert_eq!(lines.visible([at(1), 5.0], [at(2), 6.0]), one(CHUNK..3 * CHUNK));
        assert_eq!(lines.visible([at(5), 5.0], [1e9, 6.0]), one(5 * CHUNK..all));
        assert!(lines.visible([0.0, 11.0], [1e9, 12.0]).is_empty());
    }

    #[test]
    fn a_spacing_that_is_none_is_not_believed() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(LineSet::new(Vec::new(), Some(bad)).spacing_nm(), None);
        }
    }
}
