//! Points of a section that lie on straight edges, left out: a facet cut into triangles has one at
//! every diagonal, elsewhere in every layer. Without them there is less to do for all that follows,
//! and layers through the same walls have the same section.

use base::Point;
use region::Region;

/// How far a point left out may lie from the edge that stays, nm: the rounding to the grid moves a point by
/// 0.7 nm at most.
const OFF_NM: f64 = 1.0;

/// Points left out one after the other at most, so that the work grows with the points only.
const MOST: usize = 32;

/// The rings without points on straight edges, each from its smallest point on, in the order of
/// these points.
pub(crate) fn straightened(rings: &Region) -> Region {
    let mut kept: Vec<Vec<Point>> = rings.rings().map(without_straight).collect();
    kept.sort_unstable();
    let mut region = Region::empty();
    for ring in &kept {
        region.push_ring(ring);
    }
    region
}

/// The smallest point of a ring is a corner of it in every layer.
fn without_straight(ring: &[Point]) -> Vec<Point> {
    let Some(smallest) = (0..ring.len()).min_by_key(|&i| ring[i]) else { return Vec::new() };
    let ring = [&ring[smallest..], &ring[..=smallest]].concat();
    let mut kept = Vec::with_capacity(ring.len());
    let mut from = 0;
    while from + 1 < ring.len() {
        kept.push(ring[from]);
        let farthest = (from + 1 + MOST).min(ring.len() - 1);
        let mut to = from + 1;
        while to < farthest && is_straight(&ring[from..=to + 1]) {
            to += 1;
        }
        from = to;
    }
    if kept.len() < 3 { ring[..ring.len() - 1].to_vec() } else { kept }
}

/// Whether all points between the first and the last lie on the way between them.
fn is_straight(points: &[Point]) -> bool {
    let [a, between @ .., b] = points else { return true };
    let [dx, dy] = vector(*a, *b);
    let length = dx.hypot(dy);
    between.iter().all(|p| {
        let [x, y] = vector(*a, *p);
        let along = x * dx + y * dy;
        (x * dy - y * dx).abs() <= OFF_NM * length && (0.0..=length * length).contains(&along)
    })
}

fn vector(a: Point, b: Point) -> [f64; 2] {
    [f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square turned by 30° with a point on each side, rounded to the grid, begun anywhere, has
    /// four corners; a circle of 0.01 mm chords loses none.
    #[test]
    fn only_points_on_straight_edges_go() {
        let (sin, cos) = 30_f64.to_radians().sin_cos();
        let corners = [[0.0, 0.0], [7e6, 0.0], [7e6, 5e6], [0.0, 5e6]];
        #[expect(clippy::cast_possible_truncation, reason = "7 mm")]
        let turned = |[x, y]: [f64; 2]| {
            Point::new((x * cos - y * sin).round() as i32, (x * sin + y * cos).round() as i32)
        };
        let square = |at: f64| -> Vec<Point> {
            let sides = corners.iter().zip(corners.iter().cycle().skip(1));
            sides
                .flat_map(|(a, b)| [*a, [0, 1].map(|k| a[k] + at * (b[k] - a[k]))])
                .map(turned)
                .collect()
        };
        let plain = straightened(&Region::from_proper_rings([square(0.0)]));
        for at in [0.1, 1.0 / 3.0, 0.77] {
            let mut ring = square(at);
            for _ in 0..ring.len() {
                ring.rotate_left(1);
                let straight = straightened(&Region::from_proper_rings([ring.clone()]));
                assert_eq!(straight.points().len(), 4);
                let bare: Vec<Point> = corners.map(turned).to_vec();
                assert!(straight.points().iter().all(|p| bare.contains(p)));
            }
        }
        assert_eq!(plain.points().len(), 4);
        #[expect(clippy::cast_possible_truncation, reason = "10 mm")]
        let circle: Vec<Point> = (0..6283)
            .map(|i| (f64::from(i) * std::f64::consts::TAU / 6283.0).sin_cos())
            .map(|(y, x)| Point::new((x * 1e7).round() as i32, (y * 1e7).round() as i32))
            .collect();
        let round = straightened(&Region::from_proper_rings([circle.clone()]));
        assert!(round.points().len() > 6000, "{}", round.points().len());
    }
}
