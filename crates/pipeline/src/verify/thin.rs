//! Walls too thin for contours, found at the points of a lattice: those that no disc inside the section
//! holds whose diameter is the least width for two contours.
//!
//! What walls have that are narrow, but not that thin: [`super::dose`].

use super::around::Around;
use super::disc::Disc;
use super::expected::{CentrelineRule, Required, TOLERANCE_NM};
use super::grid::{Grid, Xy, length};
use super::lattice::{Bits, Lattice, edges};
use super::outcome::{Check, Marks};
use super::pieces::pieces;
use super::tracks::Tracks;
use super::walls::Walls;
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use scan_path::ExposureKind;

/// Every thin wall that is long and wide enough has a centreline.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    around: &Around,
    walls: &Walls,
    (marks, tracks): (&Marks, &Tracks),
) {
    let half = required.half_single;
    let Some(bounds) = around.own.first().and_then(|section| section.region.bounds()) else {
        return;
    };
    if half <= TOLERANCE_NM {
        return; // nothing is too thin
    }
    let lattice = Lattice::new(bounds, half / 3.0);
    let mut sections = around.own.iter().map(|section| lattice.inside(&section.region));
    let Some(first) = sections.next() else { return };
    let inside = sections.fold(first, |all, section| all.and(&section));
    check.outcome.points_tested += inside.count();
    let shallow = |depth: f64| {
        let mut bits = lattice.empty();
        for (a, b) in around.own.iter().flat_map(|s| s.region.rings()).flat_map(edges) {
            lattice.add_stadium(&mut bits, a, b, depth);
        }
        bits
    };
    let rim = inside.clone().and(&shallow(half));
    let body = inside.without(&rim);
    let mut thin = rim.clone().without(&near_marks(&lattice, marks, required.corners.reach(half)));
    for (column, row) in thin.clone().points() {
        // Some disc of this radius holds the point: it is no thin wall.
        if lattice.any_within(&body, column, row, half) {
            thin.clear(column, row);
        }
    }
    let point_mm2 = (lattice.pitch_nm() / NM_PER_MM).powi(2);
    check.outcome.thin_unexposed_mm2 += thin.count() as f64 * point_mm2;
    if let Some(rule) = &required.centrelines {
        let wall = Wall { lattice: &lattice, rim: &rim, body: &body, half, walls, tracks };
        wall.middles(check, thin, rule);
    }
}

/// What is asked about walls that seem to lack a centreline.
struct Wall<'a> {
    lattice: &'a Lattice,
    rim: &'a Bits,
    body: &'a Bits,
    half: f64,
    walls: &'a Walls<'a>,
    tracks: &'a Tracks,
}

impl Wall<'_> {
    /// Looks around bare places for stretches of a wall's middle that are long enough for a
    /// centreline and have none.
    fn middles(&self, check: &mut Check, bare: Bits, rule: &CentrelineRule) {
        // A line that the enlarged disc at its end covers, 1/sin 35° times its radius, is none, and 5 µm
        // either way are the tolerance of centrelines.
        let least = rule.min_length.max(1.75 * self.half) + 20_000.0;
        let pitch = self.lattice.pitch_nm();
        for piece in pieces(self.lattice, bare).into_iter().filter(|p| p.extent_nm > 3.0 * pitch) {
            for (first, extent_nm) in stretches(&self.around(&piece.points, rule), 2.5 * pitch) {
                if extent_nm > least {
                    let reach_mm = extent_nm / NM_PER_MM;
                    check.fault(first, VectorsProblem::CentrelineMissing { reach_mm });
                }
            }
        }
    }

    /// Points of the middle of thin walls around some points, without a centreline.
    ///
    /// The middle is the centre of the disc that touches the boundary at the nearest place and once
    /// more. Where both places are seen under less than 115° it is the way into a corner of more
    /// than 65°, which need not be a wall.
    fn around(&self, points: &[Xy], rule: &CentrelineRule) -> Vec<Xy> {
        const CORNER_RAD: f64 = 115.0 * std::f64::consts::PI / 180.0;
        /// A line this near to a middle is its own: the tolerance of both.
        const HAS_LINE_NM: f64 = 10_000.0;
        let widths = rule.min_width / 2.0 + 2_000.0..self.half - 2_000.0;
        let mut near = Vec::new();
        let mut middles = Vec::new();
        for (column, row) in self.lattice.around(points, 1.5 * self.half) {
            if !self.rim.get(column, row)
                || self.lattice.any_within(self.body, column, row, self.half)
            {
                continue;
            }
            let p = self.lattice.position(column, row);
            let Some(disc) = Disc::touching(self.walls, p, self.half) else { continue };
            if widths.contains(&disc.radius) && disc.angle > CORNER_RAD {
                self.tracks.near(disc.centre, HAS_LINE_NM, &mut near);
                if near.is_empty() {
                    middles.push(disc.centre);
                }
            }
        }
        middles
    }
}

/// Points in chains with steps of at most `step` nm: the first of each, and the diagonal of its box, nm.
fn stretches(points: &[Xy], step: f64) -> Vec<(Xy, f64)> {
    let places: Vec<(Xy, Xy)> = points.iter().map(|p| (*p, *p)).collect();
    let grid = Grid::new(&places, step);
    let mut is_taken = vec![false; points.len()];
    let mut found = Vec::new();
    let mut queue = Vec::new();
    for number in 0..points.len() {
        if std::mem::replace(&mut is_taken[number], true) {
            continue;
        }
        let (mut low, mut high) = (points[number], points[number]);
        queue.push(number);
        while let Some(at) = queue.pop() {
            let p = points[at];
            low = [low[0].min(p[0]), low[1].min(p[1])];
            high = [high[0].max(p[0]), high[1].max(p[1])];
            grid.near(p, step, |other| {
                let q = points[other];
                if !is_taken[other] && length([q[0] - p[0], q[1] - p[1]]) <= step {
                    is_taken[other] = true;
                    queue.push(other);
                }
            });
        }
        found.push((points[number], length([high[0] - low[0], high[1] - low[1]])));
    }
    found
}

/// The points within a reach of contours and centrelines, nm.
fn near_marks(lattice: &Lattice, marks: &Marks, reach: f64) -> Bits {
    let mut bits = lattice.empty();
    let blocks = marks.blocks.iter().filter(|block| block.kind != ExposureKind::Hatch);
    for mark in blocks.flat_map(|block| block.paths.iter()).flat_map(|path| path.windows(2)) {
        lattice.add_stadium(&mut bits, mark[0], mark[1], reach);
    }
    bits
}
