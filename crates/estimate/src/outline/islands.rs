//! Islands and holes of a section that do not come out as such.

use base::Point;
use region::{Containment, FillRule, Region, difference, intersection, resolve, union};

use super::Ring;
use super::nearest::Boundary;
use super::widest::widest;
use crate::error::EstimateError;

/// What the grid of nanometres does not resolve, mm: a crossing is rounded by less than this.
const ROUNDING_MM: f64 = 2e-6;

/// An island of the section in which nothing melts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vanished {
    /// Its widest spot, mm.
    pub at: [f64; 2],
    /// Its width there, mm.
    pub width_mm: f64,
    /// The box around it: lower left and upper right corner, mm.
    pub around: [[f64; 2]; 2],
}

/// A hole of the section that melts over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filled {
    /// Its widest spot, mm.
    pub at: [f64; 2],
    /// Its width there, mm.
    pub width_mm: f64,
    /// The box around it: lower left and upper right corner, mm.
    pub around: [[f64; 2]; 2],
}

/// Two islands of the section that melt into one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Merged {
    /// Where they are nearest to each other, mm.
    pub at: [f64; 2],
    /// How far apart they should be there, mm.
    pub gap_mm: f64,
    /// The boxes around the two: lower left and upper right corner, mm.
    pub around: [[[f64; 2]; 2]; 2],
}

/// What became of islands and holes.
#[derive(Default)]
pub(super) struct Changes {
    pub(super) vanished: Vec<Vanished>,
    pub(super) filled: Vec<Filled>,
    pub(super) merged: Vec<Merged>,
}

/// What became of the islands and holes of a proper section.
pub(super) fn changes(rings: &[Ring], section: &Region) -> Result<Changes, EstimateError> {
    let melt = region_of(rings)?;
    let islands = section.islands();
    let kept = intersection(section, &melt);
    let is_kept = occupied(&islands, &kept.islands());
    let lost = islands.iter().zip(&is_kept).filter(|(_, is_kept)| !**is_kept);
    let spots = lost.filter_map(|(island, _)| Some((widest(island)?, island.bounds_mm()?)));
    let vanished = spots.map(|((at, width_mm), around)| Vanished { at, width_mm, around });
    let vanished = vanished.collect();

    let joined = union(section, &melt);
    let merged = merged(section, &islands, &is_kept, &joined.islands());

    let holes: Vec<Region> = islands.iter().flat_map(holes_of).collect();
    let mut all_holes = Region::empty();
    for hole in &holes {
        all_holes.append(hole);
    }
    let open = difference(&resolve(&all_holes, FillRule::Positive), &joined);
    let is_open = occupied(&holes, &open.islands());
    let closed = holes.iter().zip(&is_open).filter(|(_, is_open)| !**is_open);
    let spots = closed.filter_map(|(hole, _)| Some((widest(hole)?, hole.bounds_mm()?)));
    let filled = spots.map(|((at, width_mm), around)| Filled { at, width_mm, around }).collect();
    Ok(Changes { vanished, filled, merged })
}

/// The melt as a proper region.
pub(super) fn region_of(rings: &[Ring]) -> Result<Region, EstimateError> {
    let mut region = Region::empty();
    for ring in rings {
        let points: Result<Vec<Point>, _> =
            ring.points.iter().map(|&[x, y]| Point::from_mm(x, y)).collect();
        region.push_ring(&points?);
    }
    Ok(resolve(&region, FillRule::Positive))
}

/// The holes of an island, each as a region of its own.
fn holes_of(island: &Region) -> Vec<Region> {
    let reversed = |ring: &[Point]| ring.iter().rev().copied().collect::<Vec<_>>();
    island.rings().skip(1).map(|hole| Region::from_proper_rings([reversed(hole)])).collect()
}

/// For each of some regions, whether a piece lies within it. A piece counts for the smallest region
/// around it.
fn occupied(regions: &[Region], pieces: &[Region]) -> Vec<bool> {
    let mut is_occupied = vec![false; regions.len()];
    for piece in pieces.iter().filter(|piece| piece.area_mm2() > sliver_mm2(piece)) {
        let around = (0..regions.len()).filter(|&i| holds(&regions[i], piece));
        if let Some(smallest) = around.min_by_key(|&i| regions[i].area_twice_nm2()) {
            is_occupied[smallest] = true;
        }
    }
    is_occupied
}

/// What rounding may leave along the whole of a piece's boundary, mm².
fn sliver_mm2(piece: &Region) -> f64 {
    piece.perimeter_mm() * ROUNDING_MM
}

/// Whether a piece that crosses no boundary of a region lies within it.
fn holds(region: &Region, piece: &Region) -> bool {
    let (Some((lo, hi)), Some((from, to))) = (region.bounds(), piece.bounds()) else {
        return false;
    };
    // crossings are rounded to the grid, by less than 2 nm
    let near = 4;
    if from.x < lo.x - near || from.y < lo.y - near || to.x > hi.x + near || to.y > hi.y + near {
        return false;
    }
    // a rounded crossing may lie on the boundary or just outside; then a spot well within decides
    let mut verdicts = piece.points().iter().map(|&point| region.contains(point));
    let verdict = verdicts.find(|verdict| *verdict != Containment::Boundary);
    verdict == Some(Containment::Inside) || holds_widest(region, piece)
}

/// Whether a piece's widest spot lies in a region.
fn holds_widest(region: &Region, piece: &Region) -> bool {
    let spot = widest(piece).and_then(|([x, y], _)| Point::from_mm(x, y).ok());
    spot.is_some_and(|spot| region.contains(spot) != Containment::Outside)
}

/// Pairs of islands in one piece of section and melt together, neither of them vanished: for each island
/// its nearest neighbour there.
fn merged(section: &Region, islands: &[Region], kept: &[bool], joined: &[Region]) -> Vec<Merged> {
    let piece_of: Vec<Option<usize>> = islands
        .iter()
        .zip(kept)
        .map(|(island, kept)| joined.iter().position(|piece| *kept && holds(piece, island)))
        .collect();
    let island_of_ring = island_of_ring(section, islands);
    let boundary = Boundary::new(section);
    let mut pairs: Vec<(usize, usize, Merged)> = Vec::new();
    for (this, island) in islands.iter().enumerate() {
        let is_alone = piece_of.iter().filter(|piece| **piece == piece_of[this]).count() < 2;
        if piece_of[this].is_none() || is_alone {
            continue;
        }
        let gaps = island.points().iter().filter_map(|point| {
            let from = point.to_mm();
            let other = |ring: usize| island_of_ring[ring].filter(|&other| other != this);
            let is_there = |ring| other(ring).is_some_and(|i| piece_of[i] == piece_of[this]);
            let near = boundary.nearest(from, |edge| is_there(edge.ring))?;
            Some((other(near.name.ring)?, from, near))
        });
        let nearest = gaps.min_by(|a, b| a.2.distance.total_cmp(&b.2.distance));
        let Some((other, from, near)) = nearest else { continue };
        let at = [0, 1].map(|axis| 0.5 * (from[axis] + near.at[axis]));
        let Some(around) = island.bounds_mm().zip(islands[other].bounds_mm()) else { continue };
        let found = Merged { at, gap_mm: near.distance, around: around.into() };
        if near.distance > ROUNDING_MM {
            pairs.push((this.min(other), this.max(other), found));
        }
    }
    // a pair found from both sides counts once, with the smaller gap
    pairs.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.gap_mm.total_cmp(&b.2.gap_mm)));
    pairs.dedup_by_key(|pair| (pair.0, pair.1));
    pairs.into_iter().map(|pair| pair.2).collect()
}

/// For each ring of a region the island that it belongs to, told by the ring's points.
fn island_of_ring(section: &Region, islands: &[Region]) -> Vec<Option<usize>> {
    let mut rings: Vec<(&[Point], usize)> = Vec::new();
    for (number, island) in islands.iter().enumerate() {
        rings.extend(island.rings().map(|ring| (ring, number)));
    }
    rings.sort_unstable();
    let of = |ring: &[Point]| rings.binary_search_by(|probe| probe.0.cmp(ring)).ok();
    section.rings().map(|ring| of(ring).map(|position| rings[position].1)).collect()
}
