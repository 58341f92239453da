//! Contours: one along the boundary at every depth asked for, as often as asked for, closed, in order.
//!
//! Offsets of the edges are where contours have to be, except where another edge is nearer. They
//! are asked at points at most [`STEP_NM`] apart. Every mark in turn has to lie at such a depth.

use super::expected::{Asked, ContourRule, Required, TOLERANCE_NM};
use super::facing::Facing;
use super::grid::Xy;
use super::narrow::{is_surely_wide, may_be_cut};
use super::outcome::{Check, Marks, Tally};
use super::tracks::{Mark, Track, Tracks};
use super::walls::{Edge, Near, Walls};
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use scan_path::{ExposureKind, RegionKind};

/// Points of a contour are tested at most this far apart, nm: a fifth of a beam's width.
const STEP_NM: f64 = 100_000.0;

/// How far from where it should be a mark may pass, nm: rounding, twice.
const REACH_NM: f64 = 3.0 * TOLERANCE_NM;

#[derive(Default)]
struct Faults {
    missing: Tally,
    repeated: Tally,
    astray: Tally,
    outside: Tally,
    shallow: Tally,
    elsewhere: Tally,
    open: Tally,
    order: Tally,
}

struct Contours<'a> {
    required: &'a Required,
    walls: &'a Walls<'a>,
    facing: &'a Facing<'a>,
    tracks: Tracks,
    faults: Faults,
    near: Vec<usize>,
    tested: u64,
}

/// Compares the contours of a placement in a layer with what is asked for.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    walls: &Walls,
    facing: &Facing,
    marks: &Marks,
    cell: f64,
) {
    let mut contours = Contours {
        required,
        walls,
        facing,
        tracks: Tracks::new(marks, ExposureKind::Contour, cell),
        faults: Faults::default(),
        near: Vec::new(),
        tested: 0,
    };
    for depth in required.contour_depths() {
        let asked: Vec<(RegionKind, Asked)> = required
            .kinds
            .iter()
            .filter_map(|kind| Some((kind.region, kind.contours.as_ref()?.at(depth)?)))
            .collect();
        for (number, edge) in walls.edges.iter().enumerate() {
            contours.follow(number, edge, depth, &asked);
        }
    }
    for number in 0..contours.tracks.paths.len() {
        contours.look_at(number);
    }
    check.outcome.points_tested += contours.tested;
    contours.faults.report(check);
}

impl Faults {
    fn report(&self, check: &mut Check) {
        let mm = |t: &Tally| t.amount / NM_PER_MM;
        self.missing.report(check, |t| VectorsProblem::ContourMissing { length_mm: mm(t) });
        self.repeated.report(check, |t| VectorsProblem::ContourRepeated { length_mm: mm(t) });
        self.astray.report(check, |t| VectorsProblem::ContourAstray { marks: t.count });
        self.outside.report(check, |t| VectorsProblem::MarkOutside { marks: t.count });
        self.shallow.report(check, |t| VectorsProblem::MarkShallow { marks: t.count });
        self.elsewhere.report(check, |t| VectorsProblem::MarkElsewhere { marks: t.count });
        self.open.report(check, |t| VectorsProblem::ContourOpen { contours: t.count });
        self.order.report(check, |_| VectorsProblem::OrderDiffers {
            what: "contours, from the inside or from the outside".to_owned(),
        });
    }
}

impl Contours<'_> {
    /// Tests points along the offset of an edge.
    fn follow(&mut self, number: usize, edge: &Edge, depth: f64, asked: &[(RegionKind, Asked)]) {
        let count = (edge.length / STEP_NM).ceil().max(1.0);
        let piece = edge.length / count;
        let mut along = piece / 2.0;
        while along < edge.length {
            let p = moved(edge, along, depth);
            along += piece;
            if self.walls.is_cut_off(p, number, depth, self.required.corners)
                || !self.walls.holds(p, Some(edge.section))
            {
                continue;
            }
            let Some(region) = self.facing.kind(p) else { continue };
            let Some((_, group)) = self.required.shared_contours(region) else { continue };
            let Some((_, asked)) = asked.iter().find(|(kind, _)| *kind == region) else { continue };
            // a further pass is where the outermost contour is
            let ring = asked.level.unwrap_or(0);
            self.tested += 1;
            self.tracks.near(p, REACH_NM, &mut self.near);
            for &(exposure, times) in &asked.passes {
                let required = self.required;
                let group_of = |mark: &Mark| Some(required.shared_contours(mark.region)?.1);
                let is_wanted =
                    |mark: &Mark| group_of(mark) == Some(group) && mark.exposure == exposure;
                let found = self.tracks.passages(&self.near, is_wanted);
                if found < times {
                    if self.has_ring(p, region, ring) {
                        self.faults.missing.add(p, piece);
                    }
                } else if found > times {
                    self.faults.repeated.add(p, piece);
                }
            }
        }
    }

    /// Whether a wall is surely wide enough for a contour.
    fn has_ring(&self, p: Xy, region: RegionKind, ring: usize) -> bool {
        let rule = self.required.walls(region);
        rule.is_none_or(|rule| is_surely_wide(self.walls, p, rule.half_from(ring)))
    }

    /// Whether a contour may be cut off here, because the wall beyond is too narrow for it.
    fn may_be_cut(&self, p: Xy, region: RegionKind) -> bool {
        let rule = self.required.walls(region);
        rule.is_some_and(|rule| {
            let mut halves = (0..rule.depths.len()).map(|ring| rule.half_from(ring));
            halves.any(|half| may_be_cut(self.walls, p, half))
        })
    }

    /// Tests the marks of a path: depth, kind of region, whether it is closed, when it is run.
    fn look_at(&mut self, number: usize) {
        let track = self.tracks.paths[number].clone();
        let Some(first) =
            self.tracks.marks.get(track.marks.start).filter(|_| !track.marks.is_empty())
        else {
            return; // a path without length
        };
        let kind = self.required.kind(first.region);
        let Some(rule) = kind.and_then(|kind| kind.contours.as_ref()) else { return };
        let mut longest: Option<(f64, usize, Near)> = None;
        for i in track.marks.clone() {
            let mark = self.tracks.marks[i];
            let middle = self.place(rule, &mark, mark.at(0.5));
            self.place(rule, &mark, mark.ends.1);
            let group = |kind| self.required.shared_contours(kind).map(|(_, first)| first);
            let here = self.facing.kind(mark.at(0.5));
            if here.is_some_and(|kind| group(kind) != group(mark.region)) {
                self.faults.elsewhere.add(mark.at(0.5), 0.0);
            }
            if let Some((level, near)) = middle.filter(|(_, near)| near.corner.is_none()) {
                let length = mark.length();
                if longest.is_none_or(|(longest, ..)| length > longest) {
                    longest = Some((length, level, near));
                    if (1..rule.depths.len()).contains(&level) {
                        self.compare_order(rule, &track, &mark, level, near);
                    }
                }
            }
        }
        self.look_at_ends(number, &track);
    }

    /// Which contour, from the outermost, a point of a mark belongs to; a fault if it is none.
    fn place(&mut self, rule: &ContourRule, mark: &Mark, p: Xy) -> Option<(usize, Near)> {
        let corners = self.required.corners;
        let deepest = rule.all_depths().fold(0.0, f64::max);
        let Some(near) = self.walls.nearest(p, corners.reach(deepest) + REACH_NM) else {
            let is_inside = self.walls.holds(p, None);
            if is_inside && self.may_be_cut(p, mark.region) {
                return None;
            }
            let tally = if is_inside { &mut self.faults.astray } else { &mut self.faults.outside };
            tally.add(p, mark.length());
            return None;
        };
        let is_right = |depth: f64| {
            let (low, high) = match near.corner {
                None => (depth, depth),
                Some(bend) => (corners.certain(depth), corners.farthest(depth, bend)),
            };
            (low - REACH_NM..=high + REACH_NM).contains(&near.distance)
        };
        // Where an offset goes around a corner, edges on the other side may still be nearer.
        let goes_around = |depth: f64| {
            near.distance >= depth - REACH_NM && self.walls.is_by_corner(p, depth, corners)
        };
        let level = rule.all_depths().position(is_right);
        let level = level.or_else(|| rule.all_depths().position(goes_around));
        let is_outside = !near.is_inside && near.distance > REACH_NM;
        if is_outside || !self.walls.holds(p, Some(self.walls.edges[near.edge].section)) {
            self.faults.outside.add(p, mark.length());
        } else if level.is_none() && !self.may_be_cut(p, mark.region) {
            let shallowest = rule.all_depths().fold(f64::INFINITY, f64::min);
            let is_shallow = near.distance < shallowest - corners.chord_nm() - REACH_NM;
            let tally = if is_shallow { &mut self.faults.shallow } else { &mut self.faults.astray };
            tally.add(p, mark.length());
        }
        Some((level?, near))
    }

    /// The contour next to this one on the outside has to be run before or after it.
    fn compare_order(
        &mut self,
        rule: &ContourRule,
        track: &Track,
        mark: &Mark,
        level: usize,
        near: Near,
    ) {
        let edge = &self.walls.edges[near.edge];
        let p = mark.at(0.5);
        let along = (p[0] - edge.start[0]) * edge.unit[0] + (p[1] - edge.start[1]) * edge.unit[1];
        let outer = moved(edge, along, rule.depths[level - 1]);
        self.tracks.near(outer, REACH_NM, &mut self.near);
        let outer_path = self.near.iter().map(|&i| self.tracks.marks[i].path);
        let mut in_block = outer_path.filter(|&path| self.tracks.paths[path].block == track.block);
        if let Some(outer_path) = in_block.next()
            && (mark.path < outer_path) != rule.is_inside_out
        {
            self.faults.order.add(p, 0.0);
        }
    }

    /// A contour is closed, or ends where kinds of region meet, or where the next piece begins.
    fn look_at_ends(&mut self, number: usize, track: &Track) {
        if track.is_closed {
            return;
        }
        let ends = [
            self.tracks.marks[track.marks.start].ends.0,
            self.tracks.marks[track.marks.end - 1].ends.1,
        ];
        for end in ends {
            self.tracks.near(end, 1.0, &mut self.near);
            let goes_on = self.near.iter().any(|&i| {
                let path = self.tracks.marks[i].path;
                path != number && self.tracks.paths[path].block == track.block
            });
            if !goes_on && !self.facing.is_border(end, REACH_NM) {
                self.faults.open.add(end, 0.0);
            }
        }
    }
}

/// The point `along` an edge and `depth` to its left.
fn moved(edge: &Edge, along: f64, depth: f64) -> Xy {
    [
        edge.start[0] + along * edge.unit[0] - depth * edge.unit[1],
        edge.start[1] + along * edge.unit[1] + depth * edge.unit[0],
    ]
}
