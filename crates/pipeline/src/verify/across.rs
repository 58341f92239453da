//! What crosses a narrow wall: from side to side, the lines along it that its width asks for, each with its
//! energy, and no others.

use super::disc::Disc;
use super::dose::Place;
use super::expected::{Corners, Required};
use super::facing::Facing;
use super::grid::{Xy, length};
use super::narrow::{WIDTH_NM, is_surely_narrow};
use super::outcome::{Check, Tally};
use super::tracks::{Mark, Tracks};
use super::wall_rules::{STEP, WallRule, line_energy, melting_energy};
use super::walls::{Edge, Walls, cross, dot};
use base::finding::VectorsProblem;
use scan_path::RegionKind;
use scan_strategy::Melt;
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

/// One look for each square of this edge, nm: lines change their energy no sooner than after 0.1 mm.
const APART_NM: f64 = 100_000.0;

/// Lines along walls are cut where they get another energy; a short piece goes with its neighbour: so widths
/// count as far along the wall as this, nm.
const ALONG_NM: [f64; 4] = [-200_000.0, -100_000.0, 100_000.0, 200_000.0];

/// How far the middle may lie aside where it is looked for along the wall, nm: walls bend.
const ASIDE_NM: f64 = 60_000.0;

/// How far a line may lie from where it belongs, nm: thrice the tolerance of middles, since walls bend.
const OFF_NM: f64 = 15_000.0;

/// The middle sees both sides of a wall under more than this, rad; of a corner of more than 42° it does not.
const ACROSS_RAD: f64 = 2.4;

/// Lines along the walls of a placement in a layer, ready to be asked what crosses a wall.
struct Lines<'a> {
    required: &'a Required,
    walls: &'a Walls<'a>,
    facing: &'a Facing<'a>,
    tracks: &'a Tracks,
    melt: Melt,
    /// Energy per length of each row of the table, J/mm.
    energies: Vec<f64>,
}

/// Places in walls where the dose has to tell what lines across them do not.
#[derive(Default)]
pub(super) struct Undecided {
    /// It could not be decided what the wall is to have.
    pub(super) any: Vec<Place>,
    /// The wall may lack a line, since others reach in.
    pub(super) lacking: Vec<Place>,
}

/// Looks across walls at some places, and at all lines along walls, `tracks`.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    (walls, facing): (&Walls, &Facing),
    tracks: &Tracks,
    places: &[Place],
) -> Undecided {
    let mut undecided = Undecided::default();
    if required.centrelines.is_none() {
        undecided.any = places.to_vec();
        return undecided;
    }
    let rows = 0..u16::try_from(check.build.header.exposures.len()).unwrap_or(u16::MAX);
    let lines = Lines {
        required,
        walls,
        facing,
        tracks,
        melt: check.build.melt(check.build.placed[check.row].recipe),
        energies: rows.map(|row| line_energy(check.build, row)).collect(),
    };
    let along = lines.tracks.marks.iter().flat_map(|mark| {
        samples(mark).map(|p| (p, mark.region)) // a line may lie where no hatch would
    });
    let mut looked_at: BTreeSet<[i64; 2]> = BTreeSet::new();
    let mut off = Tally::default();
    for (number, place) in places.iter().copied().chain(along).enumerate() {
        let disc = Disc::touching(walls, place.0, lines.most()).filter(is_across);
        #[expect(clippy::cast_possible_truncation, reason = "squares of a layer")]
        let square = |disc: &Disc| disc.centre.map(|c| (c / APART_NM).floor() as i64);
        if disc.as_ref().is_some_and(|disc| !looked_at.insert(square(disc))) {
            continue;
        }
        match disc.and_then(|disc| Wall::around(&lines, disc)) {
            Some(wall) => match lines.are_as_asked(&wall, place.1) {
                Answer::MayLack if wall.halves[0] > required.half_single => {
                    undecided.lacking.push((wall.disc.centre, place.1));
                }
                Answer::MayLack | Answer::Complete => {}
                Answer::Wrong => off.add(wall.disc.centre, 0.0),
            },
            None if number < places.len() => undecided.any.push(place),
            None => {}
        }
    }
    check.outcome.points_tested += looked_at.len() as u64;
    off.report(check, |t| VectorsProblem::DoseDiffers { places: t.count });
    undecided
}

/// Points of a mark as far apart as places are looked at.
fn samples(mark: &Mark) -> impl Iterator<Item = Xy> {
    let count = (mark.length() / APART_NM).ceil().max(1.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a mark's length")]
    let last = count as u32;
    (0..last).map(move |i| mark.at((f64::from(i) + 0.5) / count))
}

/// Whether a disc lies between the two sides of a wall, not on the way into a corner.
fn is_across(disc: &Disc) -> bool {
    disc.angle > ACROSS_RAD
}

/// A wall where it is looked across.
struct Wall {
    disc: Disc,
    /// Direction along the wall.
    along: Xy,
    /// Least and most half width nearby, as exactly as it is known, nm.
    halves: [f64; 2],
}

impl Wall {
    /// The wall around a disc; `None` where it ends, branches or bends too much nearby, or where another kind
    /// of region begins.
    fn around(lines: &Lines, disc: Disc) -> Option<Self> {
        let most = lines.most();
        let [a, b] = disc.feet;
        let far = length([b[0] - a[0], b[1] - a[1]]);
        let along = [(a[1] - b[1]) / far, (b[0] - a[0]) / far];
        let mut halves = [disc.radius; 2];
        for by in ALONG_NM {
            match further(lines.walls, &disc, along, by, most) {
                Some(there) => {
                    halves = [halves[0].min(there.radius), halves[1].max(there.radius)];
                }
                None if by.abs() <= APART_NM => return None,
                None => {}
            }
        }
        if lines.facing.is_border(disc.centre, halves[1] + OFF_NM) {
            return None;
        }
        halves = [halves[0] - WIDTH_NM, halves[1] + WIDTH_NM];
        Some(Self { disc, along, halves })
    }
}

/// The disc that touches both sides of a wall somewhat further along.
fn further(walls: &Walls, from: &Disc, along: Xy, by: f64, most: f64) -> Option<Disc> {
    let at = [0, 1].map(|k| from.centre[k] + by * along[k]);
    let disc = Disc::touching(walls, at, most).filter(is_across)?;
    let aside = length([disc.centre[0] - at[0], disc.centre[1] - at[1]]);
    (aside < ASIDE_NM).then_some(disc)
}

/// What lines across a wall say.
enum Answer {
    /// All that it may have is there, or it cannot be told.
    Complete,
    /// What is missing need not be there.
    MayLack,
    /// There is something else, or too little.
    Wrong,
}

/// A line that a wall is to have, or may have.
struct Asked {
    /// How deep it lies, nm; as deep as can be if it is the line in the middle.
    depth: Option<f64>,
    energy: RangeInclusive<f64>,
    is_required: bool,
}

impl Lines<'_> {
    /// The most that half a wall's width can be, nm.
    fn most(&self) -> f64 {
        self.required.centrelines.as_ref().map_or(0.0, |rule| rule.half_narrow) + 50_000.0
    }

    /// Whether the lines across a wall are those of one of the widths that it may have.
    fn are_as_asked(&self, wall: &Wall, region: RegionKind) -> Answer {
        if self.has_end(wall) {
            return Answer::Complete;
        }
        let Some(possible) = self.possible(wall, region) else { return Answer::Complete };
        let mut is_one_missing = false;
        let mut is_lacking = false;
        for asked in possible {
            match self.compare(wall, &asked) {
                Some([0, 0]) if !asked.is_empty() => return Answer::Complete,
                Some([0, _]) => is_lacking = true,
                Some(_) => is_one_missing = true,
                None => {}
            }
        }
        if is_lacking || is_one_missing && !self.is_long(wall) {
            Answer::MayLack
        } else {
            Answer::Wrong
        }
    }

    /// All that a wall may have, by the widths that it has nearby: near the limits between them either will do,
    /// and where there is a wider place within reach its lines may come in.
    fn possible(&self, wall: &Wall, region: RegionKind) -> Option<Vec<Vec<Asked>>> {
        let [low, _] = wall.halves;
        let mut possible = Vec::new();
        if low < self.required.half_single {
            possible.push(vec![self.single(wall)]);
        }
        let Some(rule) = self.required.walls(region) else {
            possible.push(Vec::new());
            return Some(possible);
        };
        // tips of corners are deeper than the sides of a ring
        let is_mitred = matches!(self.required.corners, Corners::Mitre { .. });
        if is_mitred && wall.disc.feet.iter().any(|foot| self.is_corner(*foot)) {
            return None;
        }
        // a ring that just fits runs along the middle, twice
        let just_fits =
            |ring: &usize| (rule.depths[*ring] - wall.disc.radius).abs() < OFF_NM + 2_000.0;
        let mut fitting = (1..rule.depths.len()).filter(just_fits);
        let reaching = self.reaching(wall, rule);
        if fitting.any(|ring| ring < reaching) {
            return None;
        }
        // whether the next ring does, or hatch, where the wall is looked at: there lines end in its place
        let reaches = |rings: usize| {
            let half = rule.half_from(rings);
            rings < reaching && !is_surely_narrow(self.walls, wall.disc.centre, half)
        };
        let hatch_reaches = reaches(rule.depths.len());
        for rings in 1..=rule.depths.len().min(reaching) {
            if low < rule.half_from(rings) {
                let reach = [reaches(rings), hatch_reaches];
                possible.push(Self::several(wall, rule, rings, reach));
            }
        }
        if hatch_reaches {
            possible.push(Vec::new());
        }
        Some(possible)
    }

    /// How many rings, hatch counting as one more, a wall has or may have reaching in from a wider place: where
    /// one does, those for narrower walls do, too.
    fn reaching(&self, wall: &Wall, rule: &WallRule) -> usize {
        let may_reach = |half: f64| {
            wall.halves[1] >= half || !is_surely_narrow(self.walls, wall.disc.centre, half)
        };
        let last = (0..=rule.depths.len()).rev().find(|&ring| may_reach(rule.half_from(ring)));
        last.map_or(0, |ring| ring + 1)
    }

    /// Whether something runs across the wall rather than along it, as a ring does where it ends.
    fn has_end(&self, wall: &Wall) -> bool {
        let Disc { centre, radius, .. } = wall.disc;
        let mut near = Vec::new();
        self.tracks.near(centre, radius, &mut near);
        let across = [wall.along[1], -wall.along[0]];
        near.iter().map(|&number| &self.tracks.marks[number]).any(|mark| {
            let (a, b) = mark.ends;
            let along = dot(wall.along, [b[0] - a[0], b[1] - a[1]]).abs();
            let is_steep = along < mark.length() * std::f64::consts::FRAC_1_SQRT_2;
            is_steep && crossing(mark, centre, across).is_some_and(|at| at.abs() <= radius)
        })
    }

    /// Whether the material bends at a point of the boundary by so much that a tip is a micrometre deeper.
    fn is_corner(&self, foot: Xy) -> bool {
        const HALF_TURN_RAD: f64 = 0.05;
        let mut is_corner = false;
        self.walls.visit_near(foot, OFF_NM, |Edge { start, bends, .. }| {
            let away = length([start[0] - foot[0], start[1] - foot[1]]);
            is_corner |= bends[0] > HALF_TURN_RAD && away <= OFF_NM;
        });
        is_corner
    }

    /// The centreline of a wall too thin for contours; that none is missing is for [`super::thin`] to see.
    fn single(&self, wall: &Wall) -> Asked {
        let energy = melting_energy(self.melt, wall.halves);
        Asked { depth: None, energy, is_required: false }
    }

    /// The lines of a wall with so many rings, contours among them: those beyond the contours, and one in the
    /// middle for what is missing. Where the next ring reaches in, the one in the middle may have ended; where
    /// hatch does, all of them.
    fn several(
        wall: &Wall,
        rule: &WallRule,
        rings: usize,
        [next_reaches, hatch_reaches]: [bool; 2],
    ) -> Vec<Asked> {
        let line = rule.hatch_j_mm;
        let ring = |&depth: &f64| Asked {
            depth: Some(depth),
            energy: line / STEP..=line * STEP,
            is_required: !hatch_reaches,
        };
        let mut asked: Vec<Asked> = rule.further(rings).iter().map(ring).collect();
        let [least, most] = wall.halves.map(|half| rule.missing(half, rings));
        if most >= WallRule::LEAST * line / STEP {
            // where the least width for it is near, one of several passes may have it alone
            let is_certain = least > WallRule::LEAST * line * STEP;
            let energy = if is_certain { least / STEP } else { 0.0 }..=most * STEP;
            let is_required = is_certain && !next_reaches;
            asked.push(Asked { depth: None, energy, is_required });
        }
        asked
    }

    /// How many of the lines that must be, and of those that may be, are missing across a wall; `None` if others are
    /// there, or one with another energy.
    fn compare(&self, wall: &Wall, asked: &[Asked]) -> Option<[usize; 2]> {
        let mut missing = [0; 2];
        for (asked, found) in asked.iter().zip(self.crossings(wall, asked)?) {
            let sides = if asked.depth.is_some() { &found[..] } else { &found[..1] };
            for energy in sides {
                if *energy == 0.0 {
                    missing[usize::from(!asked.is_required)] += 1;
                } else if !asked.energy.contains(energy) {
                    return None;
                }
            }
        }
        Some(missing)
    }

    /// The energy of all that crosses a wall, by line and side, J/mm; `None` if something crosses where no line
    /// is asked for.
    fn crossings(&self, wall: &Wall, asked: &[Asked]) -> Option<Vec<[f64; 2]>> {
        let Disc { centre, radius, feet, .. } = wall.disc;
        let mut near = Vec::new();
        self.tracks.near(centre, radius + OFF_NM, &mut near);
        let mut found = vec![[0.0; 2]; asked.len()];
        let across = [wall.along[1], -wall.along[0]];
        for mark in near.iter().map(|&number| &self.tracks.marks[number]) {
            let energy = self.energies.get(usize::from(mark.exposure)).copied().unwrap_or(f64::NAN);
            if crossing(mark, centre, across).is_some_and(|at| at.abs() <= OFF_NM) {
                let middle = asked.iter().position(|asked| asked.depth.is_none());
                found[middle?][0] += energy;
                continue;
            }
            for (side, foot) in feet.iter().enumerate() {
                let inwards = [0, 1].map(|k| (centre[k] - foot[k]) / radius);
                let depth = crossing(mark, *foot, inwards);
                let Some(depth) = depth.filter(|d| (0.0..radius - OFF_NM).contains(d)) else {
                    continue;
                };
                let is_it =
                    |asked: &Asked| asked.depth.is_some_and(|d| (d - depth).abs() <= OFF_NM);
                found[asked.iter().position(is_it)?][side] += energy;
            }
        }
        Some(found)
    }

    /// Whether a wall goes on for long enough to have lines at all.
    fn is_long(&self, wall: &Wall) -> bool {
        let Some(rule) = &self.required.centrelines else { return false };
        let wanted = rule.min_length + 1.5 * APART_NM;
        let mut long = 0.0;
        for way in [1.0, -1.0] {
            let (mut disc, mut along) = (wall.disc, wall.along.map(|a| a * way));
            while long < wanted {
                let next = further(self.walls, &disc, along, APART_NM, self.most());
                let Some(next) = next.filter(|next| next.radius < rule.half_narrow) else { break };
                let way = [0, 1].map(|k| next.centre[k] - disc.centre[k]);
                let far = length(way);
                if far < APART_NM / 2.0 {
                    break; // the way turns back on itself
                }
                long += far;
                (disc, along) = (next, way.map(|c| c / far));
            }
        }
        long >= wanted
    }
}

/// Where a mark crosses the line through a point along a direction: how far from the point, nm.
fn crossing(mark: &Mark, from: Xy, direction: Xy) -> Option<f64> {
    let (a, b) = mark.ends;
    let [a, b] = [a, b].map(|q| [q[0] - from[0], q[1] - from[1]]);
    let [left, right] = [a, b].map(|q| cross(direction, q));
    if (left < 0.0) == (right < 0.0) {
        return None;
    }
    let t = left / (left - right);
    Some(dot(direction, [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]))
}
