//! Ends of lines along walls, and what ends a line: another one that goes on, a cap, a junction, a border of kinds of
//! region, the mouth of a wider place, or a width at which walls change their lines.

use super::along::{Lines, Place, SAME_NM, Widths};
use super::grid::{Xy, distance, length};
use super::narrow::{WIDTH_NM, is_surely_narrow, is_surely_wide};
use super::tracks::Mark;
use super::walls::{Edge, dot};
use scan_path::RegionKind;

/// Energies may follow what lies beyond the end of a line that was cut, as far as this, nm.
const BEYOND_NM: f64 = 200_000.0;

/// Lines end within this of where they meet: twice the tolerance of middles, nm.
const MEETS_NM: f64 = 10_000.0;

/// Cosine of how far from straight ahead a cap may be touched: by the sides of a corner of 70°, which has a line of
/// its own when it is sharper.
const AHEAD: f64 = 0.57;

/// An end of a line with the direction in which it would go on.
pub(super) struct End {
    pub(super) place: Place,
    ahead: Xy,
}

impl Lines<'_> {
    /// Both ends of an open line.
    pub(super) fn ends(&self, marks: &[Mark]) -> Vec<End> {
        let forth: Vec<Xy> = marks.iter().map(|mark| mark.ends.1).collect();
        let back: Vec<Xy> = marks.iter().rev().map(|mark| mark.ends.0).collect();
        let first = marks.first().map(|mark| mark.ends.0);
        let last = marks.last().map(|mark| mark.ends.1);
        let end = |at: Option<Xy>, inwards: &[Xy]| {
            let place = self.place(at?);
            // the last few points may bend on a nanometre's account
            let far = place.depth / 2.0;
            let away = |p: &&Xy| length([p[0] - place.at[0], p[1] - place.at[1]]) > far;
            let back = inwards.iter().find(away).or(inwards.last())?;
            let way = [place.at[0] - back[0], place.at[1] - back[1]];
            let long = length(way).max(1.0);
            Some(End { place, ahead: way.map(|c| c / long) })
        };
        [end(first, &forth), end(last, &back)].into_iter().flatten().collect()
    }

    /// Whether a line may have been cut at its end: where kinds of region meet, or where a wider place begins.
    pub(super) fn is_cut(&self, end: &End, region: RegionKind) -> bool {
        let p = end.place.at;
        if self.facing.is_border(p, SAME_NM) {
            return true;
        }
        // what of the middle of a thin wall lies where contours come in has none
        let single = self.required.half_single;
        if end.place.depth < single + 6_000.0 && !is_surely_narrow(self.walls, p, single) {
            return true;
        }
        self.required.walls(region).is_some_and(|rule| {
            (1..=rule.depths.len()).any(|ring| {
                let half = rule.half_from(ring);
                !is_surely_wide(self.walls, p, half) && !is_surely_narrow(self.walls, p, half)
            })
        })
    }

    /// Adds how wide the wall is further on.
    pub(super) fn add_beyond(&self, end: &End, widths: &mut Widths) {
        for part in [0.25, 0.5, 0.75, 1.0] {
            let at = [0, 1].map(|k| end.place.at[k] + part * BEYOND_NM * end.ahead[k]);
            widths.add(self.place(at).depth);
        }
    }

    /// Whether nothing ends a line.
    pub(super) fn is_loose(
        &self,
        own: usize,
        end: &End,
        region: RegionKind,
        widths: Widths,
    ) -> bool {
        !self.goes_on(own, region, end)
            && !self.is_capped(end)
            && !self.is_at_limit(end, region, widths)
            && !self.is_junction(end)
            && !self.is_cut(end, region)
    }

    /// Whether other lines go on from the end of one, as many as end there or come by.
    fn goes_on(&self, own: usize, region: RegionKind, end: &End) -> bool {
        let mut near = Vec::new();
        self.tracks.near(end.place.at, MEETS_NM, &mut near);
        let (mut on, mut back) = (0, 1);
        let mut paths: Vec<usize> = near.iter().map(|&mark| self.tracks.marks[mark].path).collect();
        paths.dedup();
        for other in paths.into_iter().filter(|&other| other != own) {
            let marks = self.tracks.paths[other].marks.clone();
            let points =
                self.tracks.marks[marks].iter().flat_map(|m| [m.ends.0, m.at(0.5), m.ends.1]);
            let (mut is_on, mut is_back) = (false, false);
            for q in points {
                let way = [q[0] - end.place.at[0], q[1] - end.place.at[1]];
                let far = length(way);
                if far > SAME_NM && far < 4.0 * end.place.depth.max(100_000.0) {
                    let along = dot(way, end.ahead) / far;
                    is_on |= along > -0.7;
                    is_back |= along <= -0.7;
                }
            }
            on += usize::from(is_on);
            back += usize::from(is_back);
        }
        // passes with energies of their own end in places of their own
        let is_one_pass = self.passes(region) == 1;
        on >= if is_one_pass { back } else { 1 }
    }

    /// Whether the boundary is ahead, as near as it is on both sides.
    fn is_capped(&self, end: &End) -> bool {
        let Place { at, depth } = end.place;
        let reach = 1.05 * depth + 15_000.0;
        let mut is_capped = false;
        self.walls.visit_near(at, reach, |edge: &Edge| {
            let (far, t) = distance(at, (edge.start, edge.end));
            let foot = [0, 1].map(|k| edge.start[k] + t * (edge.end[k] - edge.start[k]));
            let way = [foot[0] - at[0], foot[1] - at[1]];
            is_capped |= far <= reach && dot(way, end.ahead) >= AHEAD * far;
        });
        is_capped
    }

    /// Whether walls of nearly the width at an end have other lines.
    fn is_at_limit(&self, end: &End, region: RegionKind, widths: Widths) -> bool {
        let mut near = Widths::of(&[end.place]);
        for far in [-150_000.0, -100_000.0, -50_000.0, 50_000.0, 100_000.0, 150_000.0] {
            let at = [0, 1].map(|k| end.place.at[k] + far * end.ahead[k]);
            near.add(self.place(at).depth);
        }
        near.least = near.least.max(widths.least.min(end.place.depth) - 30_000.0);
        let is_here =
            |half: f64| half + 6_000.0 > near.least - WIDTH_NM && half < near.most + WIDTH_NM;
        let least = self.required.centrelines.as_ref().map_or(0.0, |rule| rule.min_width / 2.0);
        is_here(self.required.half_single)
            || is_here(least)
            || self.required.walls(region).is_some_and(|rule| {
                (0..=rule.depths.len()).any(|ring| is_here(rule.half_from(ring)))
                    || (1..=rule.depths.len()).any(|rings| is_here(rule.half_from_least(rings)))
            })
    }

    /// Whether a third side is as near as both sides of the wall.
    fn is_junction(&self, end: &End) -> bool {
        let Place { at, depth } = end.place;
        let reach = 1.05 * depth + 15_000.0;
        let mut ways: Vec<Xy> = Vec::new();
        self.walls.visit_near(at, reach, |edge: &Edge| {
            let (far, t) = distance(at, (edge.start, edge.end));
            let foot = [0, 1].map(|k| edge.start[k] + t * (edge.end[k] - edge.start[k]));
            if far <= reach && far > 1.0 {
                let way = [0, 1].map(|k| (foot[k] - at[k]) / far);
                if ways.iter().all(|other| dot(*other, way) < 0.75) {
                    ways.push(way);
                }
            }
        });
        ways.len() > 2
    }
}
