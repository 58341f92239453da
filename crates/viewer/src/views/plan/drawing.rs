//! A layer made ready to be drawn and pointed at; made once for each layer, in the
//! background.

use super::mark_grid::MarkGrid;
use crate::state::results::ShownLayer;
use crate::work::threads::Background;
use base::Point;
use motion::MoveKind;
use render::plan::{FillSet, LineSet, Segment};
use scan_path::{ExposureKind, Layer, Paths};
use std::sync::Arc;

/// Lines of one kind, and the move that each of them is.
#[derive(Default)]
pub(crate) struct Strokes {
    /// The lines, in order of time.
    pub(crate) lines: Arc<LineSet>,
    /// For each line its index among the timeline's moves; rising.
    pub(crate) moves: Vec<u32>,
    /// For each line how far along its path it starts, hundredths of a mm, wrapping.
    pub(crate) phases: Vec<u16>,
}

impl Strokes {
    /// How many of the lines begin before a move.
    pub(crate) fn before(&self, step: usize) -> usize {
        self.moves.partition_point(|&index| (index as usize) < step)
    }
}

/// See the module.
pub(crate) struct Drawing {
    /// What it shows.
    pub(crate) shown: Arc<ShownLayer>,
    /// What is to be fused.
    pub(crate) section: Arc<FillSet>,
    /// Its boundary.
    pub(crate) boundary: Arc<LineSet>,
    pub(crate) contours: Strokes,
    pub(crate) hatch: Strokes,
    pub(crate) centrelines: Strokes,
    /// Whether jumps and runs are there: they are up to three quarters of all moves, and seldom
    /// looked at.
    pub(crate) has_ways: bool,
    pub(crate) jumps: Strokes,
    /// Run-ins and run-outs.
    pub(crate) runs: Strokes,
    /// Finds the mark nearest to a point.
    pub(crate) mark_grid: MarkGrid,
}

/// Lines of one kind, being collected.
#[derive(Default)]
struct Collected {
    segments: Vec<Segment>,
    moves: Vec<u32>,
    phases: Vec<u16>,
}

impl Collected {
    fn done(self, spacing_nm: Option<f64>) -> Strokes {
        let lines = Arc::new(LineSet::new(self.segments, spacing_nm));
        Strokes { lines, moves: self.moves, phases: self.phases }
    }
}

impl Drawing {
    /// With jumps and runs or without. O(moves), on as many threads as it has parts.
    pub(crate) fn new(shown: Arc<ShownLayer>, has_ways: bool, background: &Background) -> Self {
        let spacing_nm = spacing_nm(&shown.layer);
        let ((kinds, mark_grid), (section, boundary)) = background.join(
            || background.join(|| collect(&shown, has_ways), || MarkGrid::new(&shown.timeline)),
            || (section(&shown, |_| true), boundary(&shown, |_| true)),
        );
        let [contours, hatch, centrelines, jumps, runs] = kinds;
        Self {
            section: Arc::new(section),
            boundary: Arc::new(boundary),
            contours: contours.done(None),
            hatch: hatch.done(spacing_nm),
            centrelines: centrelines.done(None),
            has_ways,
            jumps: jumps.done(None),
            runs: runs.done(spacing_nm),
            mark_grid,
            shown,
        }
    }
}

/// The moves of a layer by kind: contours, hatch, centrelines, jumps, runs.
fn collect(shown: &ShownLayer, has_ways: bool) -> [Collected; 5] {
    let blocks = &shown.layer.blocks;
    let timeline = &shown.timeline;
    let mut kinds: [Collected; 5] = std::array::from_fn(|_| Collected::default());
    let mut along_mm = 0.0;
    for (index, step) in timeline.moves().iter().enumerate() {
        if !has_ways && step.kind != MoveKind::Mark {
            continue;
        }
        let kind = blocks.get(step.block as usize).map(|block| block.kind);
        let into = match (step.kind, kind) {
            (MoveKind::Mark, Some(ExposureKind::Contour)) => 0,
            (MoveKind::Mark, Some(ExposureKind::Hatch)) => 1,
            (MoveKind::Mark, Some(ExposureKind::Centreline) | None) => 2,
            (MoveKind::Jump, _) => 3,
            (MoveKind::RunIn | MoveKind::RunOut, _) => 4,
            // on the spot
            (MoveKind::Wait | MoveKind::Dwell | MoveKind::RunPast, _) => continue,
        };
        if step.mark == 0 {
            along_mm = 0.0;
        }
        let into = &mut kinds[into];
        let to = timeline.to(index);
        into.segments.push(segment(step.from, to));
        into.moves.push(u32::try_from(index).unwrap_or(u32::MAX));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "wraps")]
        into.phases.push((along_mm * 100.0) as u64 as u16);
        along_mm += step.from.distance(to) / base::NM_PER_MM;
    }
    kinds
}

/// What is to be fused of some rows of the placement table.
pub(super) fn section(shown: &ShownLayer, wanted: impl Fn(usize) -> bool) -> FillSet {
    let rows = shown.regions.iter().enumerate().filter(|(row, _)| wanted(*row));
    let rings = rows.flat_map(|(_, region)| region.rings());
    FillSet::new(rings.map(|ring| ring.iter().map(|p| [p.x, p.y])))
}

/// The boundary of what is to be fused of some rows of the placement table.
pub(super) fn boundary(shown: &ShownLayer, wanted: impl Fn(usize) -> bool) -> LineSet {
    let rows = shown.regions.iter().enumerate().filter(|(row, _)| wanted(*row));
    let edges = rows.flat_map(|(_, region)| region.rings()).flat_map(|ring| {
        let next = ring.iter().cycle().skip(1);
        ring.iter().zip(next).map(|(&a, &b)| segment(a, b))
    });
    LineSet::new(edges.collect(), None)
}

fn segment(a: Point, b: Point) -> Segment {
    Segment { from: [a.x, a.y], to: [b.x, b.y] }
}

/// Typical distance of neighbouring hatch lines, nm: the middle one of a sample of the distances
/// from each line's middle to the line before.
fn spacing_nm(layer: &Layer) -> Option<f64> {
    const SAMPLE: usize = 2000;
    let hatches = layer.blocks.iter().filter(|block| block.kind == ExposureKind::Hatch);
    let pairs = hatches.flat_map(|block| match &block.paths {
        Paths::Segments(segments) => segments.windows(2),
        Paths::Polylines { .. } => [].windows(2),
    });
    let distance = |pair: &[[Point; 2]]| {
        let ([a, b], [c, d]) = (pair[0], pair[1]);
        let middle = Point::new(i32::midpoint(c.x, d.x), i32::midpoint(c.y, d.y));
        let length = a.distance(b);
        (length > 0.0).then(|| (a.cross(b, middle) as f64 / length).abs())
    };
    // the pieces of one line lie on it, at no distance
    let mut found: Vec<f64> =
        pairs.take(SAMPLE).filter_map(distance).filter(|d| *d > 1e3).collect();
    let middle = found.len() / 2;
    (!found.is_empty()).then(|| *found.select_nth_unstable_by(middle, f64::total_cmp).1)
}
