//! Core, up-facing and down-facing regions of a section, each with its strategy.

use crate::facing::Facing;
use crate::polyline::Polyline;
use base::Point;
use job::Recipe;
use job::recipe::Strategy;
use region::{Region, clip_polyline, difference};
use scan_path::RegionKind;

/// Regions of one kind.
pub(crate) struct Kind<'a> {
    pub(crate) region: RegionKind,
    pub(crate) strategy: &'a Strategy,
    /// Where the kind is; everywhere if `None`.
    pub(crate) within: Option<Region>,
    /// The connected pieces of `within` with their bounds, so that a contour is cut only by
    /// those near it.
    pieces: Vec<(Bounds, Region)>,
}

type Bounds = (Point, Point);

/// The kinds that a section has, in the order they are run.
pub(crate) fn kinds<'a>(
    section: &Region,
    facing: Option<&Facing>,
    recipe: &'a Recipe,
) -> Vec<Kind<'a>> {
    let none = Region::empty();
    let (up, down) = facing.map_or((&none, &none), |facing| (&facing.up, &facing.down));
    let faces = [
        (RegionKind::UpFacing, recipe.up_facing.as_ref(), up),
        (RegionKind::DownFacing, recipe.down_facing.as_ref(), down),
    ];
    let mut core = Some(section.clone());
    let mut kinds = Vec::new();
    for (kind, facing, region) in faces {
        let Some(facing) = facing.filter(|_| !region.is_empty()) else { continue };
        if region == section {
            // such a section is of this kind only: `up` and `down` do not overlap
            return vec![Kind::everywhere(kind, &facing.strategy)];
        }
        core = core.map(|core| difference(&core, region)).filter(|core| !core.is_empty());
        kinds.push(Kind::within(kind, &facing.strategy, region.clone()));
    }
    match core {
        Some(_) if kinds.is_empty() => kinds.push(Kind::everywhere(RegionKind::Core, &recipe.core)),
        Some(core) => kinds.insert(0, Kind::within(RegionKind::Core, &recipe.core, core)),
        None => {}
    }
    kinds
}

impl<'a> Kind<'a> {
    fn everywhere(kind: RegionKind, strategy: &'a Strategy) -> Self {
        Self { region: kind, strategy, within: None, pieces: Vec::new() }
    }

    fn within(kind: RegionKind, strategy: &'a Strategy, within: Region) -> Self {
        let islands = within.islands().into_iter();
        let pieces = islands.filter_map(|piece| Some((piece.bounds()?, piece))).collect();
        Self { region: kind, strategy, within: Some(within), pieces }
    }

    /// The parts of a contour's ring that lie in regions of this kind.
    pub(crate) fn cut_ring(&self, ring: &[Point]) -> Vec<Polyline> {
        let whole = || Polyline { points: ring.to_vec(), is_closed: true };
        if self.within.is_none() {
            return vec![whole()];
        }
        let Some((lo, hi)) = bounds(ring) else { return Vec::new() };
        let mut near = Region::empty();
        for ((from, to), piece) in &self.pieces {
            if from.x <= hi.x && lo.x <= to.x && from.y <= hi.y && lo.y <= to.y {
                near.append(piece);
            }
        }
        if near.is_empty() {
            return Vec::new();
        }
        let closed: Vec<_> = ring.iter().chain(ring.first()).copied().collect();
        let cut = clip_polyline(&closed, &near).into_iter().filter(|piece| piece.len() >= 2);
        cut.map(|mut points| {
            let is_closed = points.len() > 3 && points.first() == points.last();
            if is_closed {
                points.pop();
            }
            Polyline { points, is_closed }
        })
        .collect()
    }
}

fn bounds(ring: &[Point]) -> Option<Bounds> {
    let first = *ring.first()?;
    Some(ring.iter().fold((first, first), |(lo, hi), p| {
        (Point::new(lo.x.min(p.x), lo.y.min(p.y)), Point::new(hi.x.max(p.x), hi.y.max(p.y)))
    }))
}
