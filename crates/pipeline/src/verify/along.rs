//! Lines along walls, each as a whole: it keeps to the middle, has an energy that one of its own widths asks for, is
//! run as often as the hatch has passes, and ends only where something ends it.
//!
//! What crosses a wall ([`super::across`]) tells little next to ends and junctions. A line's own depths tell there, too,
//! and a piece that is left out leaves the ends of its neighbours with nothing that ends them.

use super::disc::Disc;
use super::expected::Required;
use super::facing::Facing;
use super::grid::{Xy, length};
use super::narrow::{WIDTH_NM, is_surely_narrow, is_surely_wide, may_be_cut};
use super::outcome::{Check, Tally};
use super::tracks::{Mark, Tracks};
use super::wall_rules::{STEP, line_energy, melting_energy};
use super::walls::{Edge, Walls, dot};
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use scan_path::RegionKind;
use scan_strategy::Melt;

/// A line is looked at so often along it, nm.
const APART_NM: f64 = 40_000.0;

/// Energies may follow what lies beyond the end of a line that was cut, as far as this, nm.
const BEYOND_NM: f64 = 200_000.0;

/// Lines end within this of where they meet: twice the tolerance of middles, nm.
const MEETS_NM: f64 = 10_000.0;

/// How far from the middle or a ring a line may lie, nm: thrice the tolerance of middles, since walls bend.
const OFF_NM: f64 = 15_000.0;

/// The middle sees both sides of a wall under more than this, rad.
const ACROSS_RAD: f64 = 2.4;

/// The same place, but for rounding, nm.
const SAME_NM: f64 = 3_000.0;

/// Cosine of how far from straight ahead a cap may be touched: by the sides of a corner of 70°, which has a line of
/// its own when it is sharper.
const AHEAD: f64 = 0.57;

/// All lines along the walls of a placement in a layer.
struct Lines<'a> {
    required: &'a Required,
    walls: &'a Walls<'a>,
    facing: &'a Facing<'a>,
    tracks: &'a Tracks,
    melt: Melt,
    /// Half the width of the widest wall with lines, and a little more, nm.
    most: f64,
}

/// A point of a line and how deep it lies.
#[derive(Clone, Copy)]
struct Place {
    at: Xy,
    depth: f64,
}

/// An end of a line with the direction in which it would go on.
struct End {
    place: Place,
    ahead: Xy,
}

/// Checks every line along walls, `tracks`.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    (walls, facing): (&Walls, &Facing),
    tracks: &Tracks,
) {
    let Some(rule) = &required.centrelines else { return };
    let lines = Lines {
        required,
        walls,
        facing,
        tracks,
        melt: check.build.melt(check.build.placed[check.row].recipe),
        most: rule.half_narrow + 50_000.0,
    };
    let (mut loose, mut energy) = <(Tally, Tally)>::default();
    let (mut astray, mut repeated) = <(Tally, Tally)>::default();
    for (number, path) in tracks.paths.iter().enumerate() {
        let marks = &tracks.marks[path.marks.clone()];
        let Some(first) = marks.first() else { continue };
        let places = lines.places(marks);
        let nm = marks.iter().map(Mark::length).sum::<f64>();
        if lines.is_repeated(number, &places, nm) {
            repeated.add(first.at(0.5), nm);
        }
        if lines.is_astray(first.region, &places) {
            astray.add(first.at(0.5), 0.0);
        }
        let ends = if path.is_closed { Vec::new() } else { lines.ends(marks) };
        let mut widths = Widths::of(&places);
        for end in &ends {
            let is_cut = lines.is_cut(end, first.region);
            if is_cut {
                lines.add_beyond(end, &mut widths);
            }
            if !is_cut && lines.is_loose(number, end, first.region, &widths) {
                loose.add(end.place.at, 0.0);
            }
        }
        let joules = line_energy(check.build, first.exposure);
        let is_ring = lines.is_ring(first.region, &places);
        if !lines.may_have(first.region, widths, is_ring, joules) {
            energy.add(first.at(0.5), 0.0);
        }
    }
    check.outcome.points_tested += tracks.paths.len() as u64;
    loose.report(check, |_| VectorsProblem::CentrelineMissing { reach_mm: 0.1 });
    astray.report(check, |t| VectorsProblem::CentrelineAstray { marks: t.count });
    energy.report(check, |t| VectorsProblem::DoseDiffers { places: t.count });
    let length_mm = |t: &Tally| t.amount / NM_PER_MM;
    repeated.report(check, |t| VectorsProblem::CentrelineRepeated { length_mm: length_mm(t) });
}

/// Least and most half width, nm.
#[derive(Clone, Copy)]
struct Widths {
    least: f64,
    most: f64,
}

impl Widths {
    fn of(places: &[Place]) -> Self {
        let mut widths = Self { least: f64::INFINITY, most: 0.0 };
        places.iter().for_each(|place| widths.add(place.depth));
        widths
    }

    fn add(&mut self, depth: f64) {
        (self.least, self.most) = (self.least.min(depth), self.most.max(depth));
    }
}

impl Lines<'_> {
    fn place(&self, at: Xy) -> Place {
        let near = self.walls.nearest(at, self.most);
        Place { at, depth: near.map_or(self.most, |near| near.distance) }
    }

    /// Places all along a line, its ends included.
    fn places(&self, marks: &[Mark]) -> Vec<Place> {
        let mut places = Vec::new();
        for mark in marks {
            let count = (mark.length() / APART_NM).ceil().max(1.0);
            let mut i = 0.0;
            while i < count {
                places.push(self.place(mark.at(i / count)));
                i += 1.0;
            }
        }
        places.extend(marks.last().map(|mark| self.place(mark.ends.1)));
        places
    }

    fn ends(&self, marks: &[Mark]) -> Vec<End> {
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

    /// Whether other lines run along the whole of one, so that there are more of them than the hatch has passes.
    fn is_repeated(&self, own: usize, places: &[Place], nm: f64) -> bool {
        let middle = places[places.len() / 2];
        // two lines may share a short way between junctions
        if nm < 0.5 * middle.depth {
            return false;
        }
        let region = self.tracks.marks[self.tracks.paths[own].marks.start].region;
        let is_single = middle.depth < self.required.half_single;
        let allowed = if is_single { 1 } else { self.passes(region) };
        let mut others: Option<Vec<usize>> = None;
        let mut near = Vec::new();
        for place in places {
            self.tracks.near(place.at, SAME_NM, &mut near);
            let mut here: Vec<usize> = near
                .iter()
                .map(|&mark| self.tracks.marks[mark].path)
                .filter(|&p| p != own)
                .collect();
            here.dedup();
            others = Some(match others {
                Some(before) => before.into_iter().filter(|p| here.contains(p)).collect(),
                None => here,
            });
            if others.as_ref().is_some_and(|others| others.len() < allowed) {
                return false;
            }
        }
        true
    }

    /// How many passes the hatch of a kind of region has; one without hatch.
    fn passes(&self, region: RegionKind) -> usize {
        let hatch = self.required.kind(region).and_then(|kind| kind.hatch.as_ref());
        hatch.map_or(1, |hatch| hatch.order.len())
    }

    /// How deep rings beyond the contours lie, nm.
    fn rings(&self, region: RegionKind) -> &[f64] {
        self.required.walls(region).map_or(&[], |rule| rule.further(rule.depths.len()))
    }

    /// Whether a third of some places lie as deep as a ring.
    fn is_ring(&self, region: RegionKind, places: &[Place]) -> bool {
        let rings = self.rings(region);
        let is_on = |place: &&Place| rings.iter().any(|ring| (ring - place.depth).abs() < OFF_NM);
        3 * places.iter().filter(is_on).count() >= places.len()
    }

    /// Whether all of a line lies beside the middle, and none of it along a ring.
    fn is_astray(&self, region: RegionKind, places: &[Place]) -> bool {
        let mut is_known = false;
        let is_off = |place: &Place| {
            let Some(disc) = Disc::touching(self.walls, place.at, self.most) else { return true };
            if disc.angle < ACROSS_RAD {
                return true;
            }
            is_known = true;
            let off = [0, 1].map(|k| disc.centre[k] - place.at[k]);
            length(off) > OFF_NM
        };
        let may_be_cut = |place: &Place| {
            self.required.walls(region).is_some_and(|rule| {
                let mut rings = 1..rule.depths.len();
                rings.any(|ring| may_be_cut(self.walls, place.at, rule.half_from(ring)))
            })
        };
        let rings = self.rings(region);
        let is_on_ring =
            |place: &Place| rings.iter().any(|ring| (ring - place.depth).abs() < OFF_NM);
        places.iter().all(is_off)
            && is_known
            && !places.iter().any(|place| is_on_ring(place) || may_be_cut(place))
    }

    /// Whether a line may have been cut at its end: where kinds of region meet, or where a wider place begins.
    fn is_cut(&self, end: &End, region: RegionKind) -> bool {
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

    fn add_beyond(&self, end: &End, widths: &mut Widths) {
        for part in [0.25, 0.5, 0.75, 1.0] {
            let at = [0, 1].map(|k| end.place.at[k] + part * BEYOND_NM * end.ahead[k]);
            widths.add(self.place(at).depth);
        }
    }

    /// Whether nothing ends a line.
    fn is_loose(&self, own: usize, end: &End, region: RegionKind, widths: &Widths) -> bool {
        !self.goes_on(own, region, end)
            && !self.is_capped(end)
            && !self.is_at_limit(end, region, widths)
            && !self.is_junction(end)
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
            let (distance, t) = super::grid::distance(at, (edge.start, edge.end));
            let foot = [0, 1].map(|k| edge.start[k] + t * (edge.end[k] - edge.start[k]));
            let way = [foot[0] - at[0], foot[1] - at[1]];
            is_capped |= distance <= reach && dot(way, end.ahead) >= AHEAD * distance;
        });
        is_capped
    }

    /// Whether walls of nearly the width at an end have other lines.
    fn is_at_limit(&self, end: &End, region: RegionKind, widths: &Widths) -> bool {
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
            let (distance, t) = super::grid::distance(at, (edge.start, edge.end));
            let foot = [0, 1].map(|k| edge.start[k] + t * (edge.end[k] - edge.start[k]));
            if distance <= reach && distance > 1.0 {
                let way = [0, 1].map(|k| (foot[k] - at[k]) / distance);
                if ways.iter().all(|other| dot(*other, way) < 0.75) {
                    ways.push(way);
                }
            }
        });
        ways.len() > 2
    }

    /// Whether a line between walls of some widths may have an energy, J/mm.
    fn may_have(&self, region: RegionKind, widths: Widths, is_ring: bool, joules: f64) -> bool {
        let halves = [widths.least - WIDTH_NM, widths.most + WIDTH_NM];
        if halves[0] < self.required.half_single + 6_000.0
            && melting_energy(self.melt, halves).contains(&joules)
        {
            return true;
        }
        let Some(rule) = self.required.walls(region) else { return false };
        let is_near = |energy: f64| (energy / STEP..=energy * STEP).contains(&joules);
        rule.passes_j_mm.iter().any(|&of_pass| {
            is_ring && is_near(of_pass)
                || (1..=rule.depths.len()).any(|rings| {
                    let shares = rule.shares(rings, halves);
                    shares.is_some_and(|[low, high]| {
                        (low * of_pass / STEP..=high * of_pass * STEP).contains(&joules)
                    })
                })
        })
    }
}
