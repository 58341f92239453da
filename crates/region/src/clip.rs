//! Cutting polylines at the boundary of a region.

use base::Point;

use crate::region::{Region, crossing};
use crate::ring_index::{Bounds, RingIndex};

/// The pieces of a polyline that lie in a region, in order and in its direction.
///
/// A polyline whose last point equals its first is closed: a piece that runs over that point stays
/// in one. What lies on the boundary counts as inside. Cuts are rounded to the grid, so pieces
/// shorter than 1 nm may vanish. O((n + m) log m + k log m) for n points, m boundary points, k cuts.
pub fn clip_polyline(points: &[Point], region: &Region) -> Vec<Vec<Point>> {
    if points.len() < 2 || region.is_empty() {
        return Vec::new();
    }
    let index = RingIndex::new(region);
    let mut pieces: Vec<Vec<Point>> = Vec::new();
    let mut open = false; // whether the last piece still goes on
    let mut cuts = Vec::new();
    let mut known = None; // whether the end of the last segment is inside, where certain
    for w in points.windows(2).filter(|w| w[0] != w[1]) {
        let (a, b) = (w[0], w[1]);
        // A cut within half a nanometre of an end is no place of its own, but changes sides.
        let meets = find_cuts(&index, a, b, &mut cuts);
        for (nr, step) in cuts.windows(2).enumerate() {
            let inside = match known {
                Some(inside) if nr == 0 && !meets => inside,
                _ => is_middle_inside(&index, a, b, [step[0].0, step[1].0]),
            };
            if inside {
                if !open {
                    pieces.push(vec![step[0].1]);
                }
                if let Some(piece) = pieces.last_mut()
                    && piece.last() != Some(&step[1].1)
                {
                    piece.push(step[1].1);
                }
            }
            open = inside;
        }
        known = (!meets && !touches(&index, b)).then_some(open);
    }
    let is_closed = points.first() == points.last();
    if is_closed && open && pieces.len() > 1 && pieces[0].first() == points.first() {
        // The last piece runs on into the first.
        if let Some(last) = pieces.pop() {
            pieces[0].splice(..1, last);
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

/// Fills `cuts` with the ends of the segment and all places where it meets an edge, in order along
/// it: fraction of the way, and grid point. Whether it meets an edge at all.
fn find_cuts(index: &RingIndex, a: Point, b: Point, cuts: &mut Vec<(f64, Point)>) -> bool {
    cuts.clear();
    cuts.push((0.0, a));
    let [dx, dy] = [f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y)];
    let fraction = |p: Point| {
        let (ex, ey) = (f64::from(p.x) - f64::from(a.x), f64::from(p.y) - f64::from(a.y));
        (ex * dx + ey * dy) / (dx * dx + dy * dy)
    };
    index.edges_in(Bounds::of(a, b), |u, v| {
        let (su, sv) = (a.cross(b, u), a.cross(b, v));
        let (sa, sb) = (u.cross(v, a), u.cross(v, b));
        for (end, side) in [(u, su), (v, sv)] {
            if side == 0 && Bounds::of(a, b).meets(&Bounds::of(end, end)) {
                cuts.push((fraction(end), end));
            }
        }
        let straddle = |s: i64, t: i64| (s > 0 && t < 0) || (s < 0 && t > 0);
        if straddle(su, sv) && straddle(sa, sb) {
            let t = sa as f64 / (sa as f64 - sb as f64);
            #[expect(clippy::cast_possible_truncation, reason = "between the ends of the segment")]
            let at = |from: i32, d: f64| (f64::from(from) + t * d).round() as i32;
            cuts.push((t, Point::new(at(a.x, dx), at(a.y, dy))));
        }
    });
    let meets = cuts.len() > 1;
    cuts.push((1.0, b));
    cuts.sort_by(|p, q| p.0.total_cmp(&q.0));
    cuts.dedup_by(|q, p| q.1 == p.1);
    if cuts.len() < 2 {
        cuts.push((1.0, b));
    }
    meets
}

/// Whether the middle of a stretch of the segment `a` to `b` lies in the region or on its boundary.
fn is_middle_inside(index: &RingIndex, a: Point, b: Point, stretch: [f64; 2]) -> bool {
    let t = 0.5 * (stretch[0] + stretch[1]);
    let at = |p: i32, q: i32| f64::from(p) + t * (f64::from(q) - f64::from(p));
    let exact = [at(a.x, b.x), at(a.y, b.y)];
    #[expect(clippy::cast_possible_truncation, reason = "between the ends of the segment")]
    let [x, y] = exact.map(|c| c.round() as i32);
    // A stretch along an edge has its middle on it, but hardly ever on a grid point.
    let mut on = false;
    let window = Bounds::of(Point::new(x - 1, y - 1), Point::new(x + 1, y + 1));
    index.edges_in(window, |u, v| on |= distance(exact, u, v) < 1.0);
    if on {
        return true;
    }
    let mut winding = 0;
    index.ray(Point::new(x, y), |_, step| winding += step);
    winding > 0
}

/// Distance of a point from a segment, nm.
fn distance(p: [f64; 2], u: Point, v: Point) -> f64 {
    let (ux, uy) = (f64::from(u.x), f64::from(u.y));
    let (dx, dy) = (f64::from(v.x) - ux, f64::from(v.y) - uy);
    let (ex, ey) = (p[0] - ux, p[1] - uy);
    let t = ((ex * dx + ey * dy) / (dx * dx + dy * dy).max(1.0)).clamp(0.0, 1.0);
    (ex - t * dx).hypot(ey - t * dy)
}

/// Whether a point lies on an edge.
fn touches(index: &RingIndex, p: Point) -> bool {
    let mut on = false;
    index.edges_in(Bounds::of(p, p), |u, v| on |= crossing(u, v, p).is_none());
    on
}
