//! Which strokes reach which tile of the picture.
//!
//! A stroke reaches a rectangle that is [`CUT_OFF`] beam radii larger than the stroke on all
//! sides. Its tiles are found row by row, twice: once to count, once to hand each tile what the
//! stroke means to it. Time and memory grow with the number of pairs of stroke and tile, and the
//! order within a tile is that of the strokes.

use super::error::DoseError;
use super::frame::{DoseFrame, DoseStroke};

/// Edge of a tile, px; known to `dose.wgsl`, too.
pub(super) const TILE_PX: u32 = 16;

/// Bound of the error of a pixel, as a part of the largest dose of the picture, or of the dose in
/// the middle of its strongest stroke if that is more. Found by comparison with the formula in
/// double precision (`tests/dose.rs`).
pub const DOSE_ERROR: f64 = 2e-6;

/// From so many beam radii on the dose of a stroke counts as none: it is below exp(-2·3²) = 1.5e-8
/// of that in its middle.
const CUT_OFF: f64 = 3.0;
/// Ends of a stroke that lie farther from a tile's middle than this, in drawn beam radii / √2, are
/// moved here, so that the sums in the shader stay exact. A pixel is at most 0.71 of these units,
/// a tile's corner 8 of them from its middle, and from 4 on erf is ±1 in single precision.
const FAR: f64 = 32.0;
/// Bytes of strokes in a band, about. Well below what any device with compute shaders takes
/// (128 MiB, the least in the WebGPU standard).
const BAND_BYTES: usize = 4 << 20;
/// Most pairs of stroke and tile: 240 MB, for a picture of 8,000 × 8,000 px some 40 strokes a tile.
const MOST_PAIRS: usize = 10_000_000;

/// Twin of `TileStroke` in `dose.wgsl`: direction (2), along (2), across, half the peak. A plain
/// array, since the standard library gets zeroed ones from the system without touching them.
pub(super) type TileStroke = [f32; 6];

/// Rows of tiles whose strokes are uploaded as one.
#[derive(Debug)]
pub(super) struct Band {
    pub first_row: u32,
    pub rows: u32,
    /// Index in `strokes` of the first of each tile, row by row, and of the end.
    pub starts: Vec<u32>,
    pub strokes: Vec<TileStroke>,
}

impl Band {
    /// Size of the larger of both lists.
    pub(super) fn bytes(&self) -> u64 {
        size_of_val(&self.starts[..]).max(size_of_val(&self.strokes[..])) as u64
    }
}

/// Strokes sorted into tiles, ready to be uploaded.
#[derive(Debug)]
pub struct DoseTiles {
    frame: DoseFrame,
    columns: u32,
    bands: Vec<Band>,
    pairs: usize,
}

/// A run of tiles that a stroke reaches.
struct Span {
    stroke: u32,
    row: u32,
    first_column: u32,
    end_column: u32,
}

impl DoseTiles {
    /// Sorts strokes into the tiles of a picture. Strokes that do not reach it cost little.
    ///
    /// # Errors
    /// [`DoseError::Radius`], [`DoseError::Energy`] of the first stroke whose energy is not
    /// finite, [`DoseError::TooMuch`] before memory for more than ten million pairs of stroke and
    /// tile is set aside.
    pub fn new(strokes: &[DoseStroke], frame: DoseFrame) -> Result<Self, DoseError> {
        let frame = frame.checked()?;
        if let Some(stroke) = strokes.iter().position(|stroke| !stroke.energy_j_mm.is_finite()) {
            return Err(DoseError::Energy { stroke });
        }
        let [columns, rows] = frame.size_px.map(|size| size.div_ceil(TILE_PX));
        let (spans, pairs) = spans(strokes, &frame, [columns, rows])?;
        let mut counts = vec![0_u32; columns as usize * rows as usize];
        for span in &spans {
            let row = span.row as usize * columns as usize;
            for count in
                &mut counts[row + span.first_column as usize..row + span.end_column as usize]
            {
                *count += 1;
            }
        }
        let mut bands = bands(&counts, columns);
        fill(&mut bands, counts, columns, &spans, strokes, &frame);
        Ok(Self { frame, columns, bands, pairs })
    }

    /// The picture they are for, with numbers that can be drawn.
    pub fn frame(&self) -> &DoseFrame {
        &self.frame
    }

    /// How often the formula is to be evaluated: what drawing costs. A graphics card does some
    /// 10⁹ to 10¹¹ in a second, software on a processor some 10⁸ to 10⁹.
    pub fn evaluations(&self) -> u64 {
        self.pairs as u64 * u64::from(TILE_PX * TILE_PX)
    }

    pub(super) fn columns(&self) -> u32 {
        self.columns
    }

    pub(super) fn bands(&self) -> &[Band] {
        &self.bands
    }
}

/// A stroke in pixels of the picture.
struct Placed {
    from: [f64; 2],
    to: [f64; 2],
    /// Of length one, from start to end.
    direction: [f64; 2],
    length: f64,
}

impl Placed {
    /// Nothing for a stroke without length.
    fn new(stroke: &DoseStroke, frame: &DoseFrame) -> Option<Self> {
        let size = frame.size_px.map(f64::from);
        let place = |nm: [i32; 2]| frame.view.px_of(nm.map(f64::from), size);
        let (from, to) = (place(stroke.from_nm), place(stroke.to_nm));
        let way = [to[0] - from[0], to[1] - from[1]];
        let length = way[0].hypot(way[1]);
        (length > 0.0).then(|| Self { from, to, direction: way.map(|c| c / length), length })
    }

    /// Corners of what the stroke reaches, in order around it.
    fn reached(&self, reach: f64) -> [[f64; 2]; 4] {
        let [x, y] = self.direction.map(|c| c * reach);
        let (from, to) = (self.from, self.to);
        [
            [from[0] - x - y, from[1] - y + x],
            [from[0] - x + y, from[1] - y - x],
            [to[0] + x + y, to[1] + y - x],
            [to[0] + x - y, to[1] + y + x],
        ]
    }
}

/// The runs of tiles that strokes reach, in the order of the strokes, and the number of their
/// tiles.
fn spans(
    strokes: &[DoseStroke],
    frame: &DoseFrame,
    [columns, rows]: [u32; 2],
) -> Result<(Vec<Span>, usize), DoseError> {
    let reach = CUT_OFF * frame.drawn_radius_mm() * frame.view.px_per_mm;
    let (mut spans, mut pairs) = (Vec::new(), 0);
    for (stroke, index) in strokes.iter().zip(0_u32..) {
        let Some(placed) = Placed::new(stroke, frame) else { continue };
        let corners = placed.reached(reach);
        let low = corners.iter().fold(f64::INFINITY, |low, corner| low.min(corner[1]));
        let high = corners.iter().fold(f64::NEG_INFINITY, |high, corner| high.max(corner[1]));
        for row in tiles_between(low, high, rows) {
            let [top, bottom] = centres(row);
            let Some([left, right]) = extent(&corners, top, bottom) else { continue };
            let run = tiles_between(left, right, columns);
            if run.is_empty() {
                continue;
            }
            pairs += run.len();
            if pairs > MOST_PAIRS {
                return Err(DoseError::TooMuch { pairs, most: MOST_PAIRS });
            }
            let (first_column, end_column) = (run.start, run.end);
            spans.push(Span { stroke: index, row, first_column, end_column });
        }
    }
    Ok((spans, pairs))
}

/// First and last pixel centre of a tile, along one axis.
fn centres(tile: u32) -> [f64; 2] {
    let start = f64::from(tile * TILE_PX);
    [start + 0.5, start + f64::from(TILE_PX) - 0.5]
}

/// The tiles with pixel centres between two places, of `count` along one axis.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "limited to the tiles there are"
)]
fn tiles_between(low: f64, high: f64, count: u32) -> std::ops::Range<u32> {
    let edge = f64::from(TILE_PX);
    let first = ((low + 0.5 - edge) / edge).ceil().clamp(0.0, f64::from(count));
    let end = ((high - 0.5) / edge).floor() + 1.0;
    first as u32..end.clamp(first, f64::from(count)) as u32
}

/// The smallest and largest x of a convex polygon between two heights.
fn extent(corners: &[[f64; 2]; 4], top: f64, bottom: f64) -> Option<[f64; 2]> {
    let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut take = |x: f64| (left, right) = (left.min(x), right.max(x));
    for (index, [x, y]) in corners.iter().enumerate() {
        let [next_x, next_y] = corners[(index + 1) % 4];
        if y.max(next_y) < top || y.min(next_y) > bottom {
            continue;
        }
        let (dx, dy) = (next_x - x, next_y - y);
        if dy == 0.0 {
            take(*x);
            take(next_x);
        } else {
            take(x + dx * ((top - y) / dy).clamp(0.0, 1.0));
            take(x + dx * ((bottom - y) / dy).clamp(0.0, 1.0));
        }
    }
    (left <= right).then_some([left, right])
}

/// Divides rows of tiles into bands with empty places for their strokes. `counts` of strokes of
/// each tile.
fn bands(counts: &[u32], columns: u32) -> Vec<Band> {
    let most = BAND_BYTES / size_of::<TileStroke>();
    let mut bands: Vec<Band> = Vec::new();
    for (row, first_row) in counts.chunks(columns as usize).zip(0_u32..) {
        let more: usize = row.iter().map(|&count| count as usize).sum();
        let full = |band: &Band| band.starts.last().map_or(0, |&end| end as usize) + more > most;
        if bands.last().is_none_or(full) {
            bands.push(Band { first_row, rows: 0, starts: vec![0], strokes: Vec::new() });
        }
        let Some(band) = bands.last_mut() else { continue };
        band.rows += 1;
        let mut end = band.starts.last().copied().unwrap_or(0);
        band.starts.extend(row.iter().map(|count| {
            end += count;
            end
        }));
    }
    for band in &mut bands {
        band.strokes = vec![[0.0; 6]; band.starts.last().map_or(0, |&end| end as usize)];
    }
    bands
}

/// Hands each tile its strokes. `next` is memory of one number for each tile, whatever is in it.
fn fill(
    bands: &mut [Band],
    mut next: Vec<u32>,
    columns: u32,
    spans: &[Span],
    strokes: &[DoseStroke],
    frame: &DoseFrame,
) {
    let columns = columns as usize;
    next.clear();
    let mut band_of_row = Vec::new();
    for (index, band) in bands.iter().enumerate() {
        next.extend(&band.starts[..band.starts.len() - 1]);
        band_of_row.resize(band_of_row.len() + band.rows as usize, index);
    }
    let unit = std::f64::consts::SQRT_2 / (frame.drawn_radius_mm() * frame.view.px_per_mm);
    for run in spans.chunk_by(|a, b| a.stroke == b.stroke) {
        let stroke = &strokes[run[0].stroke as usize];
        let Some(placed) = Placed::new(stroke, frame) else { continue };
        let half_peak = half_peak(stroke, frame);
        for span in run {
            let list = &mut bands[band_of_row[span.row as usize]].strokes;
            for column in span.first_column..span.end_column {
                let place = &mut next[span.row as usize * columns + column as usize];
                list[*place as usize] = tile_stroke(&placed, half_peak, [column, span.row], unit);
                *place += 1;
            }
        }
    }
}

/// Half the dose in the middle of a long stroke, J/mm².
fn half_peak(stroke: &DoseStroke, frame: &DoseFrame) -> f64 {
    let peak = std::f64::consts::FRAC_2_PI.sqrt() / frame.drawn_radius_mm();
    0.5 * peak * f64::from(stroke.energy_j_mm)
}

/// What a stroke means to a tile; lengths are multiplied by `unit`.
#[expect(clippy::cast_possible_truncation, reason = "relative to the middle of a tile")]
fn tile_stroke(placed: &Placed, half_peak: f64, tile: [u32; 2], unit: f64) -> TileStroke {
    let [x, y] = placed.direction;
    let middle = tile.map(|index| (f64::from(index) + 0.5) * f64::from(TILE_PX));
    let [dx, dy] = [middle[0] - placed.from[0], middle[1] - placed.from[1]];
    let (along, across) = (x * dx + y * dy, x * dy - y * dx);
    let ends = [along, along - placed.length].map(|c| (c * unit).clamp(-FAR, FAR) as f32);
    let direction = [x, y].map(|c| (c * unit) as f32);
    [direction[0], direction[1], ends[0], ends[1], (across * unit) as f32, half_peak as f32]
}
