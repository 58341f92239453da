//! Discs within the sections that touch the boundary at two places: the middle of a wall, and its width.

use super::grid::{Xy, length};
use super::walls::{Edge, Walls, cross, dot};

/// A disc that touches the boundary at two places.
#[derive(Clone, Copy, Debug)]
pub(super) struct Disc {
    pub(super) centre: Xy,
    pub(super) radius: f64,
    pub(super) feet: [Xy; 2],
    /// Under which the places are seen from the centre, rad.
    pub(super) angle: f64,
}

impl Disc {
    /// The disc within the sections that touches the boundary where it is nearest to `p`, and
    /// touches it again elsewhere. `None` if it is larger than `most`.
    pub(super) fn touching(walls: &Walls, p: Xy, most: f64) -> Option<Self> {
        let near = walls.nearest(p, most)?;
        let foot = walls.foot(p, near.edge);
        let away = [p[0] - foot[0], p[1] - foot[1]];
        let scale = 1.0 / length(away).max(1.0);
        let ray = Ray { foot, inwards: away.map(|a| a * scale) };
        let (mut radius, mut other) = (most, None);
        walls.visit_near(foot, 2.0 * most, |edge| {
            // every smaller disc at the foot lies within the one found so far
            let centre = ray.at(radius);
            let away = [edge.start[0] - centre[0], edge.start[1] - centre[1]];
            let reach = radius + edge.length;
            if dot(away, away) <= reach * reach
                && let Some((found, at)) = ray.touches(edge)
                && (found < radius || other.is_none() && found <= most)
            {
                (radius, other) = (found, Some(at));
            }
        });
        let other = other?;
        let radius = radius.max(near.distance);
        let centre = ray.at(radius);
        let [a, b] = [foot, other].map(|q| [q[0] - centre[0], q[1] - centre[1]]);
        let angle = cross(a, b).atan2(dot(a, b)).abs();
        Some(Self { centre, radius, feet: [foot, other], angle })
    }
}

/// Centres of growing discs that touch the boundary at a place.
struct Ray {
    foot: Xy,
    inwards: Xy,
}

impl Ray {
    fn at(&self, radius: f64) -> Xy {
        [self.foot[0] + radius * self.inwards[0], self.foot[1] + radius * self.inwards[1]]
    }

    /// The radius from which on a disc reaches over an edge, and where; by less than this it may, since
    /// edges next to the place turn when their ends are rounded to the grid, nm.
    fn touches(&self, edge: &Edge) -> Option<(f64, Xy)> {
        const EXACT_NM: f64 = 20.0;
        let from = |q: Xy| [q[0] - self.foot[0], q[1] - self.foot[1]];
        let mut least: Option<(f64, Xy)> = None;
        let mut add = |radius: f64, q: Xy| {
            if radius > 0.0 && least.is_none_or(|(least, _)| radius < least) {
                least = Some((radius, q));
            }
        };
        // the distance of a centre `foot + r·inwards` from a point or a line, set to `r` less the leeway
        for q in [edge.start, edge.end] {
            let v = from(q);
            let ahead = dot(v, self.inwards) - EXACT_NM;
            if ahead > 0.0 {
                add((dot(v, v) - EXACT_NM * EXACT_NM) / (2.0 * ahead), q);
            }
        }
        // on either side of the line; a distance below nothing is on neither
        let normal = [-edge.unit[1], edge.unit[0]];
        let beside = -dot(from(edge.start), normal);
        for side in [1.0, -1.0] {
            let radius = (side * beside + EXACT_NM) / (1.0 - side * dot(normal, self.inwards));
            let centre = self.at(radius);
            let t = dot([centre[0] - edge.start[0], centre[1] - edge.start[1]], edge.unit);
            if radius >= EXACT_NM && (0.0..=edge.length).contains(&t) {
                let q = [edge.start[0] + t * edge.unit[0], edge.start[1] + t * edge.unit[1]];
                add(radius, q);
            }
        }
        least
    }
}
