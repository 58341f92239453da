//! Which strokes reach which tile of the picture.
//!
//! A stroke reaches a rectangle that is [`CUT_OFF`] beam radii larger than the stroke on all
//! sides. Its tiles are found row by row, counted, and then each is handed what the stroke means to
//! it. Tiles keep strokes that only pass through apart from those with an end nearby, since only
//! ends need erf. Time and memory grow with the number of pairs of stroke and tile, and the
//! order within a tile is that of the strokes.

use super::error::DoseError;
use super::frame::{DoseFrame, DoseStroke};
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, SQRT_2};
use std::ops::Range;

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
    /// Index in `strokes` of the first of each list, two lists a tile, row by row; and the end.
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
    columns: Range<u32>,
    /// Whether an end of the stroke changes what reaches these tiles.
    has_end: bool,
}

/// How strokes are placed on the tiles of a picture.
struct Grid {
    columns: u32,
    rows: u32,
    /// What one pixel is in drawn beam radii / √2.
    unit: f64,
    /// How far a stroke reaches to all sides, px.
    reach: f64,
}

impl Grid {
    fn new(frame: &DoseFrame) -> Self {
        let [columns, rows] = frame.size_px.map(|size| size.div_ceil(TILE_PX));
        let radius_px = frame.drawn_radius_mm() * frame.view.px_per_mm;
        Self { columns, rows, unit: SQRT_2 / radius_px, reach: CUT_OFF * radius_px }
    }

    /// The two lists of each tile of a run: strokes that pass through, strokes with an end.
    fn lists(&self, span: &Span) -> impl Iterator<Item = usize> + use<> {
        let tile = span.row as usize * self.columns as usize;
        let has_end = usize::from(span.has_end);
        span.columns.clone().map(move |column| (tile + column as usize) * 2 + has_end)
    }
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
        let grid = Grid::new(&frame);
        let (spans, pairs) = spans(strokes, &frame, &grid)?;
        let mut counts = vec![0_u32; 2 * grid.columns as usize * grid.rows as usize];
        for list in spans.iter().flat_map(|span| grid.lists(span)) {
            counts[list] += 1;
        }
        let mut bands = bands(&counts, grid.columns);
        fill(&mut bands, counts, &grid, &spans, strokes, &frame);
        Ok(Self { frame, columns: grid.columns, bands, pairs })
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

    /// How far the middle of a tile lies behind the start, and beside the stroke, px.
    fn middle(&self, tile: [u32; 2]) -> [f64; 2] {
        let [x, y] = self.direction;
        let middle = tile.map(|index| (f64::from(index) + 0.5) * f64::from(TILE_PX));
        let [dx, dy] = [middle[0] - self.from[0], middle[1] - self.from[1]];
        [x * dx + y * dy, x * dy - y * dx]
    }

    /// Whether a pixel of a tile lies nearer to an end than the stroke reaches.
    fn has_end(&self, grid: &Grid, tile: [u32; 2]) -> bool {
        let [along, _] = self.middle(tile);
        let near = grid.reach + f64::from(TILE_PX) * FRAC_1_SQRT_2;
        along < near || along > self.length - near
    }

    /// What the stroke means to a tile.
    #[expect(clippy::cast_possible_truncation, reason = "relative to the middle of a tile")]
    fn on_tile(&self, half_peak: f64, unit: f64, tile: [u32; 2]) -> TileStroke {
        let [along, across] = self.middle(tile);
        let [start, end] = [along, along - self.length].map(|c| (c * unit).clamp(-FAR, FAR) as f32);
        let [x, y] = self.direction.map(|c| (c * unit) as f32);
        [x, y, start, end, (across * unit) as f32, half_peak as f32]
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
    grid: &Grid,
) -> Result<(Vec<Span>, usize), DoseError> {
    let (mut spans, mut pairs) = (Vec::new(), 0);
    for (stroke, index) in strokes.iter().zip(0_u32..) {
        let Some(placed) = Placed::new(stroke, frame) else { continue };
        let corners = placed.reached(grid.reach);
        let low = corners.iter().fold(f64::INFINITY, |low, corner| low.min(corner[1]));
        let high = corners.iter().fold(f64::NEG_INFINITY, |high, corner| high.max(corner[1]));
        for row in tiles_between(low, high, grid.rows) {
            let [top, bottom] = centres(row);
            let Some([left, right]) = extent(&corners, top, bottom) else { continue };
            let run = tiles_between(left, right, grid.columns);
            pairs += run.len();
            if pairs > MOST_PAIRS {
                return Err(DoseError::TooMuch { pairs, most: MOST_PAIRS });
            }
            divide(&mut spans, index, row, run, |column| placed.has_end(grid, [column, row]));
        }
    }
    Ok((spans, pairs))
}

/// Divides a run of tiles where an end of the stroke begins or ceases to matter.
fn divide(
    spans: &mut Vec<Span>,
    stroke: u32,
    row: u32,
    run: Range<u32>,
    has_end: impl Fn(u32) -> bool,
) {
    let first_of_run = spans.len();
    for column in run {
        let has_end = has_end(column);
        match spans[first_of_run..].last_mut() {
            Some(last) if last.has_end == has_end => last.columns.end = column + 1,
            _ => spans.push(Span { stroke, row, columns: column..column + 1, has_end }),
        }
    }
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
fn tiles_between(low: f64, high: f64, count: u32) -> Range<u32> {
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
/// both lists of each tile.
fn bands(counts: &[u32], columns: u32) -> Vec<Band> {
    let most = BAND_BYTES / size_of::<TileStroke>();
    let mut bands: Vec<Band> = Vec::new();
    for (row, first_row) in counts.chunks(2 * columns as usize).zip(0_u32..) {
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

/// Hands each list its strokes. `next` is memory of one number for each list, whatever is in it.
fn fill(
    bands: &mut [Band],
    mut next: Vec<u32>,
    grid: &Grid,
    spans: &[Span],
    strokes: &[DoseStroke],
    frame: &DoseFrame,
) {
    next.clear();
    let mut band_of_row = Vec::new();
    for (index, band) in bands.iter().enumerate() {
        next.extend(&band.starts[..band.starts.len() - 1]);
        band_of_row.resize(band_of_row.len() + band.rows as usize, index);
    }
    for run in spans.chunk_by(|a, b| a.stroke == b.stroke) {
        let stroke = &strokes[run[0].stroke as usize];
        let Some(placed) = Placed::new(stroke, frame) else { continue };
        let half_peak = half_peak(stroke, frame);
        for span in run {
            let places = &mut bands[band_of_row[span.row as usize]].strokes;
            for (list, column) in grid.lists(span).zip(span.columns.clone()) {
                places[next[list] as usize] =
                    placed.on_tile(half_peak, grid.unit, [column, span.row]);
                next[list] += 1;
            }
        }
    }
}

/// Half the dose in the middle of a long stroke, J/mm².
fn half_peak(stroke: &DoseStroke, frame: &DoseFrame) -> f64 {
    let peak = FRAC_2_PI.sqrt() / frame.drawn_radius_mm();
    0.5 * peak * f64::from(stroke.energy_j_mm)
}
