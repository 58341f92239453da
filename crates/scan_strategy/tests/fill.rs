//! Filled regions: coverage, division, direction, order.

use base::Point;
use job::recipe::{CellOrder, Hatch, Pattern, Travel};
use proptest::prelude::*;
use region::Region;
use scan_path::{Block, ExposureKind, Layer, Paths, RegionKind};
use scan_path::{PathStats, stats};
use scan_strategy::{FillScratch, HatchScratch, fill, hatch_lines};

fn hatch(travel: Travel, pattern: Pattern) -> Hatch {
    Hatch {
        spacing_mm: 0.1,
        gap_mm: 0.0,
        angle_deg: 0.0,
        rotation_per_layer_deg: 67.0,
        forbidden: None,
        travel,
        pattern,
        min_length_mm: 0.0,
        every_nth_layer: 1,
        exposures: vec!["hatch".to_owned()],
        further_passes: Vec::new(),
    }
}

fn ring(corners: &[(f64, f64)]) -> Vec<Point> {
    corners.iter().map(|&(x, y)| Point::from_mm(x, y).expect("on the grid")).collect()
}

fn square(size: f64) -> Region {
    let h = size / 2.0;
    Region::from_proper_rings([ring(&[(-h, -h), (h, -h), (h, h), (-h, h)])])
}

/// A square of 40 mm with nine holes of 8 mm.
fn plate_with_holes() -> Region {
    let mut region = square(40.0);
    for i in -1..=1 {
        for j in -1..=1 {
            let (x, y) = (f64::from(i) * 12.0, f64::from(j) * 12.0);
            region.push_ring(&ring(&[(x - 4.0, y), (x, y + 4.0), (x + 4.0, y), (x, y - 4.0)]));
        }
    }
    region
}

fn run(region: &Region, hatch: &Hatch, angle: f64) -> Vec<[Point; 2]> {
    fill(region, hatch, (angle, hatch.spacing_mm), &mut None, &mut FillScratch::default())
        .expect("a recipe that works")
}

fn measure(marks: &[[Point; 2]]) -> PathStats {
    let block = Block {
        placement: 0,
        exposure: 0,
        kind: ExposureKind::Hatch,
        region: RegionKind::Core,
        paths: Paths::Segments(marks.to_vec()),
    };
    stats(&Layer { index: 0, blocks: vec![block] })
}

fn undirected(marks: &[[Point; 2]]) -> Vec<[Point; 2]> {
    let mut marks: Vec<_> =
        marks.iter().map(|[a, b]| if a <= b { [*a, *b] } else { [*b, *a] }).collect();
    marks.sort_unstable();
    marks
}

#[test]
fn ordering_keeps_every_mark_and_loses_none() {
    for region in [square(30.0), plate_with_holes()] {
        for travel in [Travel::OneWay, Travel::Serpentine] {
            for angle in [0.0, 67.0, 90.0, 201.0] {
                let mut plain = Vec::new();
                let mut scratch = HatchScratch::default();
                hatch_lines(&region, angle, 100_000.0, &mut scratch, &mut plain);
                let marks = run(&region, &hatch(travel, Pattern::Lines), angle);
                assert_eq!(undirected(&marks), undirected(&plain));
            }
        }
    }
}

#[test]
fn serpentine_jumps_are_one_spacing_on_a_plain_square() {
    let marks = run(&square(20.0), &hatch(Travel::Serpentine, Pattern::Lines), 0.0);
    let found = measure(&marks);
    assert_eq!((found.marks, found.paths), (200, 200));
    assert!((found.mark_length_mm() - 4000.0).abs() < 1e-6);
    assert!((found.jump_length_mm() - 199.0 * 0.1).abs() < 1e-6);
    // one-way goes back over every line
    let found = measure(&run(&square(20.0), &hatch(Travel::OneWay, Pattern::Lines), 0.0));
    assert!((found.jump_length_mm() - 199.0 * 20.0_f64.hypot(0.1)).abs() < 1e-6);
}

#[test]
fn jumps_around_holes_stay_short() {
    for angle in [0.0, 23.0, 67.0, 90.0] {
        let region = plate_with_holes();
        let found = measure(&run(&region, &hatch(Travel::Serpentine, Pattern::Lines), angle));
        // Sweeping whole lines jumps over every hole on every line that meets it, which alone is
        // the holes' area over the spacing: 9 · 32 mm² / 0.1 mm = 2,880 mm.
        assert!(found.jump_length_mm() < 600.0, "{angle}: {found:?}");
        assert!(found.jump_length_mm() < 0.05 * found.mark_length_mm());
    }
}

#[test]
fn one_way_marks_all_run_in_the_scan_direction() {
    for pattern in [Pattern::Lines, Pattern::Stripes { width_mm: 5.0, overlap_mm: 0.1 }] {
        for angle in [0.0_f64, 67.0, 200.0] {
            let (sin, cos) = angle.to_radians().sin_cos();
            for [a, b] in run(&plate_with_holes(), &hatch(Travel::OneWay, pattern), angle) {
                let along = f64::from(b.x - a.x) * cos + f64::from(b.y - a.y) * sin;
                assert!(along >= -1.5, "{angle} {a:?} {b:?}");
            }
        }
    }
}

#[test]
fn stripes_are_never_longer_than_their_width_and_overlap_as_told() {
    let pattern = Pattern::Stripes { width_mm: 5.0, overlap_mm: 0.3 };
    let marks = run(&square(40.0), &hatch(Travel::Serpentine, pattern), 0.0);
    let longest = marks.iter().map(|[a, b]| a.distance(*b)).fold(0.0, f64::max);
    assert!((longest - 5e6).abs() < 1.5, "{longest}");
    // bands every 4.7 mm; nine whole borders at (i + ½ ± …): each adds one overlap to a line
    let total = measure(&marks).mark_length_mm();
    let borders = (-20..=20).filter(|i| (f64::from(*i) * 4.7).abs() < 20.0).count() as f64;
    let expected = 400.0 * (40.0 + borders * 0.3);
    assert!((total - expected).abs() < 0.01, "{total} {expected}");
    // a band is finished before the next is begun
    let band =
        |m: &[Point; 2]| (f64::midpoint(f64::from(m[0].x), f64::from(m[1].x)) / 4.7e6).floor();
    let switches = marks.windows(2).filter(|w| (band(&w[0]) - band(&w[1])).abs() > 0.5).count();
    assert_eq!(switches, 9); // ten bands, from −20 / 4.7 rounded down to 20 / 4.7
}

#[test]
fn cells_cover_the_square_with_neighbours_at_right_angles() {
    for order in [CellOrder::RowByRow, CellOrder::Scattered] {
        for angle in [0.0, 67.0] {
            let pattern = Pattern::Cells { size_mm: 4.0, overlap_mm: 0.0, order };
            let marks = run(&square(40.0), &hatch(Travel::Serpentine, pattern), angle);
            let total = measure(&marks).mark_length_mm();
            assert!((total * 0.1 - 1600.0).abs() < 8.0, "{angle} {order:?}: {total}");
            assert!(marks.iter().all(|[a, b]| a.distance(*b) <= 4e6 + 1.5));
            let along = marks.iter().filter(|[a, b]| {
                let (dx, dy) = (f64::from(b.x - a.x), f64::from(b.y - a.y));
                let turned = (dy.atan2(dx).to_degrees() - angle).rem_euclid(180.0);
                a.distance(*b) > 1e4 && !(1.0..=179.0).contains(&turned)
            });
            let share = along.map(|[a, b]| a.distance(*b)).sum::<f64>() / 1e6 / total;
            assert!((share - 0.5).abs() < 0.02, "{share}");
        }
    }
}

#[test]
fn short_lines_are_left_out() {
    let triangle = Region::from_proper_rings([ring(&[(0., 0.), (10., 0.), (0., 10.)])]);
    let mut h = hatch(Travel::Serpentine, Pattern::Lines);
    h.min_length_mm = 2.0;
    let marks = run(&triangle, &h, 0.0);
    assert_eq!(marks.len(), 80); // lengths 9.95, 9.85 … 2.05
    assert!(marks.iter().all(|[a, b]| a.distance(*b) >= 2e6));
}

#[test]
fn numbers_that_cannot_be_used_are_errors() {
    let mut bad = hatch(Travel::OneWay, Pattern::Lines);
    bad.spacing_mm = 0.0;
    let region = square(1.0);
    let mut scratch = FillScratch::default();
    let sentence = fill(&region, &bad, (0.0, bad.spacing_mm), &mut None, &mut scratch)
        .unwrap_err()
        .to_string();
    assert!(sentence.contains("hatch spacing of 0 mm"), "{sentence}");
    bad.spacing_mm = 0.1;
    assert!(fill(&region, &bad, (f64::NAN, bad.spacing_mm), &mut None, &mut scratch).is_err());
    bad.pattern = Pattern::Stripes { width_mm: 1.0, overlap_mm: 1.0 };
    assert!(fill(&region, &bad, (0.0, bad.spacing_mm), &mut None, &mut scratch).is_err());
    bad.pattern =
        Pattern::Cells { size_mm: f64::NAN, overlap_mm: 0.0, order: CellOrder::Scattered };
    assert!(fill(&region, &bad, (0.0, bad.spacing_mm), &mut None, &mut scratch).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// However a region is divided, what is marked is the same: with no overlap, stripes and
    /// whole lines have the same total, and moving the region by whole spacings (here along the
    /// axes) moves the marks with it.
    #[test]
    fn division_neither_adds_nor_loses(width in 1.0..9.0f64, size in 5.0..30.0f64, angle in 0.0..360.0f64) {
        let region = square(size);
        let lines = measure(&run(&region, &hatch(Travel::Serpentine, Pattern::Lines), angle));
        let pattern = Pattern::Stripes { width_mm: width, overlap_mm: 0.0 };
        let stripes = measure(&run(&region, &hatch(Travel::Serpentine, pattern), angle));
        let rounding = 2e-6 * stripes.marks as f64;
        prop_assert!((lines.mark_length_mm() - stripes.mark_length_mm()).abs() < rounding + 1e-6);
        prop_assert!(stripes.jump_length_mm() < 0.2 * stripes.mark_length_mm() + 3.0 * size);
    }

    /// The beam starts at the end nearest to where it comes from.
    #[test]
    fn the_first_mark_is_at_a_corner_near_the_beam(x in -30.0..30.0f64, y in -30.0..30.0f64) {
        let from = Point::from_mm(x, y).unwrap();
        let mut beam_at = Some(from);
        let h = hatch(Travel::Serpentine, Pattern::Lines);
        let marks = fill(&square(20.0), &h, (0.0, h.spacing_mm), &mut beam_at, &mut FillScratch::default()).unwrap();
        let corners = [(-10., -9.95), (10., -9.95), (-10., 9.95), (10., 9.95)];
        let least = ring(&corners).into_iter().map(|c| c.distance(from)).fold(f64::MAX, f64::min);
        prop_assert!((marks[0][0].distance(from) - least).abs() < 2.0);
        prop_assert_eq!(beam_at, marks.last().map(|m| m[1]));
    }
}
