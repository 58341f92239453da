//! A part of a section, ready to cut polylines.

use crate::polyline::Polyline;
use base::Point;
use region::{Region, clip_polyline};

/// A part of a section.
#[derive(Clone)]
pub(crate) struct Place {
    /// Everywhere if `None`.
    pub(crate) within: Option<Region>,
    /// The connected pieces of `within` with their bounds, so that a contour is cut only by
    /// those near it.
    pieces: Vec<(Bounds, Region)>,
}

type Bounds = (Point, Point);

impl Place {
    pub(crate) fn everywhere() -> Self {
        Self { within: None, pieces: Vec::new() }
    }

    pub(crate) fn within(within: Region) -> Self {
        let islands = within.islands().into_iter();
        let pieces = islands.filter_map(|piece| Some((piece.bounds()?, piece))).collect();
        Self { within: Some(within), pieces }
    }

    /// Whether nothing lies here.
    pub(crate) fn is_empty(&self) -> bool {
        self.within.is_some() && self.pieces.is_empty()
    }

    /// The parts of a ring that lie here; its first point is not repeated.
    pub(crate) fn cut_ring(&self, ring: &[Point]) -> Vec<Polyline> {
        if self.within.is_none() {
            return vec![Polyline { points: ring.to_vec(), is_closed: true }];
        }
        let near = self.near(ring);
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

    /// The parts of a polyline that lie here.
    pub(crate) fn cut(&self, line: &Polyline) -> Vec<Polyline> {
        if line.is_closed {
            return self.cut_ring(&line.points);
        }
        if self.within.is_none() {
            return vec![line.clone()];
        }
        let near = self.near(&line.points);
        let pieces = clip_polyline(&line.points, &near).into_iter();
        let pieces = pieces.filter(|points| points.len() > 1);
        pieces.map(|points| Polyline { points, is_closed: false }).collect()
    }

    /// The pieces that may meet these points' box.
    fn near(&self, points: &[Point]) -> Region {
        let mut near = Region::empty();
        let Some((lo, hi)) = bounds(points) else { return near };
        for ((from, to), piece) in &self.pieces {
            if from.x <= hi.x && lo.x <= to.x && from.y <= hi.y && lo.y <= to.y {
                near.append(piece);
            }
        }
        near
    }
}

fn bounds(ring: &[Point]) -> Option<Bounds> {
    let first = *ring.first()?;
    Some(ring.iter().fold((first, first), |(lo, hi), p| {
        (Point::new(lo.x.min(p.x), lo.y.min(p.y)), Point::new(hi.x.max(p.x), hi.y.max(p.y)))
    }))
}
