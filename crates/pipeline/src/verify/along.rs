//! Lines along walls, each as a whole: it keeps to the middle, has an energy that one of its own widths asks for, and is
//! run as often as the hatch has passes.
//!
//! What crosses a wall ([`super::across`]) tells little next to ends and junctions. A line's own depths tell there, too.

use super::disc::Disc;
use super::ends::End;
use super::expected::Required;
use super::facing::Facing;
use super::grid::{Xy, length};
use super::narrow::{WIDTH_NM, may_be_cut};
use super::outcome::{Check, Tally};
use super::tracks::{Mark, Tracks};
use super::wall_rules::{STEP, line_energy, melting_energy};
use super::walls::Walls;
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use scan_path::RegionKind;
use scan_strategy::Melt;

/// A line is looked at so often along it, nm.
const APART_NM: f64 = 40_000.0;

/// How far from the middle or a ring a line may lie, nm: thrice the tolerance of middles, since walls bend.
const OFF_NM: f64 = 15_000.0;

/// The middle sees both sides of a wall under more than this, rad.
const ACROSS_RAD: f64 = 2.4;

/// The same place, but for rounding, nm.
pub(super) const SAME_NM: f64 = 3_000.0;

/// All lines along the walls of a placement in a layer.
pub(super) struct Lines<'a> {
    pub(super) required: &'a Required,
    pub(super) walls: &'a Walls<'a>,
    pub(super) facing: &'a Facing<'a>,
    pub(super) tracks: &'a Tracks,
    melt: Melt,
    /// Half the width of the widest wall with lines, and a little more, nm.
    most: f64,
}

/// A point of a line and how deep it lies.
#[derive(Clone, Copy)]
pub(super) struct Place {
    pub(super) at: Xy,
    pub(super) depth: f64,
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
    let (mut energy, mut astray, mut repeated) = <(Tally, Tally, Tally)>::default();
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
        let joules = line_energy(check.build, first.exposure);
        if !lines.has_energy(first.region, (&places, &ends), joules) {
            energy.add(first.at(0.5), 0.0);
        }
    }
    check.outcome.points_tested += tracks.paths.len() as u64;
    astray.report(check, |t| VectorsProblem::CentrelineAstray { marks: t.count });
    energy.report(check, |t| VectorsProblem::DoseDiffers { places: t.count });
    let length_mm = |t: &Tally| t.amount / NM_PER_MM;
    repeated.report(check, |t| VectorsProblem::CentrelineRepeated { length_mm: length_mm(t) });
}

/// Least and most half width, nm.
#[derive(Clone, Copy)]
pub(super) struct Widths {
    pub(super) least: f64,
    pub(super) most: f64,
}

impl Widths {
    pub(super) fn of(places: &[Place]) -> Self {
        let mut widths = Self { least: f64::INFINITY, most: 0.0 };
        for place in places {
            widths.add(place.depth);
        }
        widths
    }

    pub(super) fn add(&mut self, depth: f64) {
        (self.least, self.most) = (self.least.min(depth), self.most.max(depth));
    }
}

impl Lines<'_> {
    pub(super) fn place(&self, at: Xy) -> Place {
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
    pub(super) fn passes(&self, region: RegionKind) -> usize {
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
        !places.iter().any(is_on_ring)
            && places.iter().all(is_off)
            && is_known
            && !places.iter().any(may_be_cut)
    }

    /// Whether a line has an energy that a width of its own, or beyond an end at which it was cut, asks for.
    fn has_energy(
        &self,
        region: RegionKind,
        (places, ends): (&[Place], &[End]),
        joules: f64,
    ) -> bool {
        let mut widths = Widths::of(places);
        let is_ring = self.is_ring(region, places);
        if self.may_have(region, widths, is_ring, joules) {
            return true;
        }
        for end in ends.iter().filter(|end| self.is_cut(end, region)) {
            self.add_beyond(end, &mut widths);
        }
        self.may_have(region, widths, is_ring, joules)
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
