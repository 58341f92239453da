//! Area, perimeter, containment and islands; `geo` as the oracle.

use base::Point;
use geo::algorithm::coordinate_position::{CoordPos, CoordinatePosition};
use geo::{Area, LineString, Polygon};
use proptest::prelude::*;
use region::{Containment, Region};

use crate::shapes::{nm2, proper, rings, square_mm};

fn to_geo(island: &Region) -> Polygon<f64> {
    let line = |r: &[Point]| {
        LineString::from(r.iter().map(|p| (f64::from(p.x), f64::from(p.y))).collect::<Vec<_>>())
    };
    let mut rings = island.rings().map(line);
    Polygon::new(rings.next().expect("an outer ring"), rings.collect())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn islands_partition_the_region_and_their_areas_agree_with_geo(region in proper()) {
        let islands = region.islands();
        prop_assert_eq!(islands.iter().map(Region::ring_count).sum::<usize>(), region.ring_count());
        let total: i128 = islands.iter().map(Region::area_twice_nm2).sum();
        prop_assert_eq!(total, region.area_twice_nm2());
        for island in &islands {
            let theirs = to_geo(island).signed_area();
            // f64 sums of products up to 4e12 nm²: far better than 1e-9 of them.
            prop_assert!((nm2(island) - theirs).abs() < 4e3, "{} {}", nm2(island), theirs);
            prop_assert!(island.area_twice_nm2() > 0);
        }
    }

    #[test]
    fn containment_agrees_with_geo(
        region in proper(), points in prop::collection::vec((-1_000_000..1_000_000, -1_000_000..1_000_000), 20),
    ) {
        let islands: Vec<_> = region.islands().iter().map(to_geo).collect();
        let own = region.points().iter().copied();
        for p in points.into_iter().map(|(x, y)| Point::new(x, y)).chain(own) {
            let c = geo::Coord { x: f64::from(p.x), y: f64::from(p.y) };
            let theirs: Vec<_> = islands.iter().map(|i| i.coordinate_position(&c)).collect();
            let expected = if theirs.contains(&CoordPos::OnBoundary) {
                Containment::Boundary
            } else if theirs.contains(&CoordPos::Inside) {
                Containment::Inside
            } else {
                Containment::Outside
            };
            prop_assert_eq!(region.contains(p), expected);
        }
    }

    #[test]
    fn area_does_not_depend_on_place(rings in rings(1_000_000), dx in -1_000_000_000..1_000_000_000_i32) {
        let moved = rings.translated(dx, -dx).unwrap();
        prop_assert_eq!(moved.area_twice_nm2(), rings.area_twice_nm2());
    }
}

#[test]
fn the_area_of_the_whole_grid_is_exact() {
    let m = base::GRID_LIMIT_NM - 1;
    let corners = [(-m, -m), (m, -m), (m, m), (-m, m)].map(|(x, y)| Point::new(x, y));
    let all = Region::from_proper_rings([corners]);
    assert_eq!(all.area_twice_nm2(), 2 * (2 * i128::from(m)) * (2 * i128::from(m)));
    assert_eq!(all.translated(1, 0), None);
}

#[test]
fn nested_islands_keep_their_own_holes() {
    let mut region = Region::empty();
    // Listed from the inside out, holes first: the order must not matter.
    for (lo, hi, is_hole) in [
        (4.0, 5.0, true),
        (1.0, 8.0, true),
        (3.0, 6.0, false),
        (0.0, 9.0, false),
        (20., 21., false),
    ] {
        let mut ring = square_mm(lo, hi).points().to_vec();
        if is_hole {
            ring.reverse();
        }
        region.push_ring(&ring);
    }
    let areas: Vec<f64> = region.islands().iter().map(Region::area_mm2).collect();
    assert_eq!(areas, [9.0 - 1.0, 81.0 - 49.0, 1.0]);
}
