//! Centrelines of shapes whose medial axis is known.

#![expect(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    reason = "shapes of a test fit the grid"
)]

use base::Point;
use region::{Centreline, CentrelineError, CentrelineOptions, Centrelines, Region, centrelines};

/// mm, in rings.
type Rings<'a> = &'a [&'a [[f64; 2]]];

const OPTIONS: CentrelineOptions = CentrelineOptions {
    max_half_width_nm: 200_000,
    min_half_width_nm: 50_000,
    min_length_nm: 200_000,
    chord_tolerance_nm: 2_000,
};

fn region(rings: Rings) -> Region {
    let point = |[x, y]: &[f64; 2]| Point::from_mm(*x, *y).unwrap();
    Region::from_proper_rings(rings.iter().map(|ring| ring.iter().map(point).collect::<Vec<_>>()))
}

#[track_caller]
fn found(rings: Rings) -> Centrelines {
    let found = centrelines(&region(rings), &OPTIONS);
    assert_eq!(found.failures, []);
    for line in found.lines.iter().chain(&found.too_thin) {
        assert_eq!(line.points.len(), line.half_widths_nm.len());
        assert!(line.points.windows(2).all(|pair| pair[0] != pair[1]), "{line:?}");
        assert_eq!(line.closed, line.points.first() == line.points.last());
    }
    found
}

/// Points in µm with half widths in µm, rounded.
fn in_um(line: &Centreline) -> Vec<[i32; 3]> {
    let um = |nm: i32| (f64::from(nm) / 1e3).round() as i32;
    line.points.iter().zip(&line.half_widths_nm).map(|(p, w)| [um(p.x), um(p.y), um(*w)]).collect()
}

fn circle(radius: f64, [x, y]: [f64; 2], points: usize, turn: f64) -> Vec<[f64; 2]> {
    let angle = |i: usize| turn * std::f64::consts::TAU * i as f64 / points as f64;
    (0..points).map(|i| [x + radius * angle(i).cos(), y + radius * angle(i).sin()]).collect()
}

fn rectangle(x: f64, y: f64, width: f64, height: f64) -> [[f64; 2]; 4] {
    [[x, y], [x + width, y], [x + width, y + height], [x, y + height]]
}

#[test]
fn a_rectangular_wall_has_one_straight_line_that_stops_half_a_width_before_its_ends() {
    let found = found(&[&rectangle(0.0, 0.0, 10.0, 0.3)]);
    assert_eq!(found.lines.len(), 1, "{:?}", found.lines);
    assert_eq!(in_um(&found.lines[0]), [[150, 150, 150], [9850, 150, 150]]);
    assert_eq!(found.lines[0].half_widths_nm, [150_000; 2]);
    assert_eq!((found.too_thin.len(), found.too_short_count), (0, 0));
}

#[test]
fn a_slanting_wall_with_points_on_its_sides_still_has_one_straight_line() {
    // 3-4-5 direction: width 0.3 exactly, and points every 1/7 of the side.
    let (u, v) = ([0.8, 0.6], [-0.6, 0.8]);
    let at = |a: f64, b: f64| [u[0] * a + v[0] * b, u[1] * a + v[1] * b];
    let mut ring: Vec<_> = (0..=7).map(|i| at(f64::from(i), 0.0)).collect();
    ring.extend((0..=7).rev().map(|i| at(f64::from(i), 0.3)));
    let found = found(&[&ring]);
    assert_eq!(found.lines.len(), 1);
    let line = &found.lines[0];
    assert_eq!(line.points.len(), 2);
    assert!((line.length_nm() - 6.7e6).abs() < 2.0, "{}", line.length_nm());
}

#[test]
fn a_wall_of_twice_the_maximum_is_none_and_one_nanometre_less_is_one() {
    assert_eq!(found(&[&rectangle(0.0, 0.0, 10.0, 0.4)]).lines, []);
    assert_eq!(found(&[&rectangle(0.0, 0.0, 10.0, 0.399_999)]).lines.len(), 1);
}

#[test]
fn a_wall_below_the_least_width_is_reported_and_one_of_the_least_width_exposed() {
    let thin = found(&[&rectangle(0.0, 0.0, 10.0, 0.098)]);
    assert_eq!((thin.lines.len(), thin.too_thin.len()), (0, 1));
    let enough = found(&[&rectangle(0.0, 0.0, 10.0, 0.1)]);
    assert_eq!((enough.lines.len(), enough.too_thin.len()), (1, 0));
}

#[test]
fn squares_and_their_corners_have_no_lines() {
    let body = found(&[&rectangle(0.0, 0.0, 10.0, 10.0)]);
    assert_eq!((body.lines.len(), body.too_short_count), (0, 0));
    // A pillar thinner than the beam is a dot.
    let pillar = found(&[&rectangle(0.0, 0.0, 0.3, 0.3)]);
    assert_eq!((pillar.lines.len(), pillar.too_short_count), (0, 1));
    assert!(pillar.too_short_length_nm < 1.0);
}

#[test]
fn an_l_shaped_wall_has_one_line_around_the_corner() {
    let found = found(&[&[[0.0, 0.0], [5.0, 0.0], [5.0, 0.3], [0.3, 0.3], [0.3, 4.0], [0.0, 4.0]]]);
    assert_eq!(found.lines.len(), 1);
    let line = in_um(&found.lines[0]);
    assert_eq!(line.first(), Some(&[150, 3850, 150]));
    assert_eq!(line.last(), Some(&[4850, 150, 150]));
    // On the diagonal, as far from both outer sides as from the inner corner:
    // c = √2 (0.3 − c), so c = 0.3 (2 − √2).
    assert!(line.contains(&[176, 176, 176]), "{line:?}");
}

#[test]
fn a_ring_has_one_closed_line() {
    let (outer, inner) = (circle(5.0, [0.0; 2], 720, 1.0), circle(4.7, [0.0; 2], 720, -1.0));
    let found = found(&[&outer, &inner]);
    assert_eq!((found.lines.len(), found.too_short_count), (1, 0));
    let line = &found.lines[0];
    assert!(line.closed);
    for (p, w) in line.points.iter().zip(&line.half_widths_nm) {
        assert!((p.distance(Point::default()) - 4.85e6).abs() < 2e3, "{p:?}");
        assert!((w - 150_000).abs() < 2_000, "{w}");
    }
    let perimeter = std::f64::consts::TAU * 4.85e6;
    assert!((line.length_nm() / perimeter - 1.0).abs() < 1e-3);
    assert_eq!(line.points.iter().min(), line.points.first());
    let area: i64 = line.points.windows(2).map(|p| Point::default().cross(p[0], p[1])).sum();
    assert!(area > 0, "counter-clockwise");
}

/// Equidistant from a circle inside another: an ellipse with the two centres as foci, and the
/// mean of the radii as its longer half axis (elementary geometry).
#[test]
fn an_eccentric_ring_has_an_ellipse() {
    let (outer, inner) = (circle(5.0, [0.0; 2], 2000, 1.0), circle(4.7, [0.15, 0.0], 2000, -1.0));
    let found = found(&[&outer, &inner]);
    assert_eq!(found.lines.len(), 1);
    let line = &found.lines[0];
    assert!(!line.closed, "the wall is too thick on the left");
    for (p, w) in line.points.iter().zip(&line.half_widths_nm) {
        let to_centres = (p.distance(Point::default()), p.distance(Point::new(150_000, 0)));
        assert!((to_centres.0 + to_centres.1 - 9.7e6).abs() < 4e3, "{p:?}");
        assert!((to_centres.0 + f64::from(*w) - 5e6).abs() < 4e3, "{p:?} {w}");
    }
    let range = (line.half_widths_nm.iter().min(), line.half_widths_nm.iter().max());
    assert!((range.0.unwrap() - 75_000).abs() < 2_000 && *range.1.unwrap() == 200_000, "{range:?}");
}

#[test]
fn a_wall_that_gets_too_thin_is_exposed_beside_that() {
    // Half width from 0.1 down to 0.025 in the middle and up again: below 0.05 for 2/3 of 2 · 1.
    let ring = [
        [0.0, -0.1],
        [2.0, -0.1],
        [3.0, -0.025],
        [4.0, -0.1],
        [6.0, -0.1],
        [6.0, 0.1],
        [4.0, 0.1],
        [3.0, 0.025],
        [2.0, 0.1],
        [0.0, 0.1],
    ];
    let found = found(&[&ring]);
    assert_eq!((found.lines.len(), found.too_thin.len()), (2, 1));
    let [first, second] = [0, 1].map(|i| in_um(&found.lines[i]));
    assert_eq!((first[0], second[second.len() - 1]), ([100, 0, 100], [5900, 0, 100]));
    // Where the half width is 0.05: the distance to a side of slope 0.075.
    let half = 50.0 * (1.0_f64 + 0.075 * 0.075).sqrt();
    let x = (3000.0 - (half - 25.0) / 0.075).round() as i32;
    let end = first[first.len() - 1];
    assert!((end[0] - x).abs() <= 30 && end[2] == 50, "{end:?} {x}");
}

#[test]
fn a_fin_runs_from_where_the_body_is_thick_enough_to_its_tip() {
    // Body 6 × 4, fin 0.3 × 3 on top.
    let ring = [
        [-3.0, -4.0],
        [3.0, -4.0],
        [3.0, 0.0],
        [0.15, 0.0],
        [0.15, 3.0],
        [-0.15, 3.0],
        [-0.15, 0.0],
        [-3.0, 0.0],
    ];
    let found = found(&[&ring]);
    assert_eq!(found.lines.len(), 1, "{:?}", found.lines);
    let line = in_um(&found.lines[0]);
    // In the body the reflex corners are nearest: 0.15² + y² = 0.2².
    let depth = (200.0_f64.powi(2) - 150.0_f64.powi(2)).sqrt().round() as i32;
    assert_eq!(line[0], [0, -depth, 200]);
    assert_eq!(line[line.len() - 1], [0, 2850, 150]);
    assert_eq!(found.too_short_count, 0);
}

#[test]
fn a_low_step_on_a_body_is_no_fin() {
    let ring = [
        [-3.0, -4.0],
        [3.0, -4.0],
        [3.0, 0.0],
        [0.15, 0.0],
        [0.15, 0.1],
        [-0.15, 0.1],
        [-0.15, 0.0],
        [-3.0, 0.0],
    ];
    let found = found(&[&ring]);
    assert_eq!(found.lines, []);
}

/// 1.25 of the half width, at (0, 1.25 d): distance to the bar's lower side = to both reflex corners
/// ((d, 2d): d² + (2d − r)² = r²). scikit-image 0.26, `medial_axis` with 2 µm pixels on this shape,
/// gave 0.188 mm at (0, 0.187).
#[test]
fn a_t_has_two_lines_one_of_them_straight_on() {
    let ring = [
        [-3.0, 0.0],
        [3.0, 0.0],
        [3.0, 0.3],
        [0.15, 0.3],
        [0.15, 3.3],
        [-0.15, 3.3],
        [-0.15, 0.3],
        [-3.0, 0.3],
    ];
    let found = found(&[&ring]);
    let lines: Vec<_> = found.lines.iter().map(in_um).collect();
    assert_eq!(lines.len(), 2, "{lines:?}");
    assert_eq!((lines[0][0], lines[0][lines[0].len() - 1]), ([-2850, 150, 150], [2850, 150, 150]));
    assert!(lines[0].contains(&[0, 188, 188]), "{lines:?}");
    let (low, high) = (lines[1][0], lines[1][lines[1].len() - 1]);
    assert_eq!((low, high), ([0, 188, 188], [0, 3150, 150]));
}

#[test]
fn a_cross_has_two_lines_even_if_its_arms_are_a_little_off() {
    for shift in [0.0, 0.03, -0.05] {
        let ring = [
            [-3.0, -0.12],
            [-0.12, -0.12],
            [-0.12, -3.0],
            [0.12, -3.0],
            [0.12, -0.12 + shift],
            [3.0, -0.12 + shift],
            [3.0, 0.12 + shift],
            [0.12, 0.12 + shift],
            [0.12, 3.0],
            [-0.12, 3.0],
            [-0.12, 0.12],
            [-3.0, 0.12],
        ];
        let found = found(&[&ring]);
        let mut lengths: Vec<_> = found.lines.iter().map(Centreline::length_nm).collect();
        lengths.sort_by(f64::total_cmp);
        assert_eq!(lengths.len(), 2, "{shift}: {:?}", found.lines);
        assert!(lengths.iter().all(|l| (l - 5.76e6).abs() < 1e5), "{shift}: {lengths:?}");
    }
}

/// On the bisector of a wedge of angle θ the half width is x · sin(θ/2).
#[test]
fn a_wedge_ends_where_it_gets_too_thin() {
    for degrees in [4.0_f64, 20.0, 36.0] {
        let half = (degrees / 2.0).to_radians();
        let y = 10.0 * half.tan();
        let found = found(&[&[[0.0, 0.0], [10.0, -y], [10.0, y]]]);
        assert_eq!(found.lines.len(), 1, "{degrees}");
        let line = &found.lines[0];
        assert!(line.points.iter().all(|p| p.y.abs() <= 1), "{line:?}");
        assert_eq!(line.half_widths_nm.first(), Some(&50_000));
        for (p, w) in line.points.iter().zip(&line.half_widths_nm) {
            assert!((f64::from(p.x) * half.sin() - f64::from(*w)).abs() < 2.0, "{p:?} {w}");
        }
        let widest = line.half_widths_nm.last().copied().unwrap();
        assert!((199_999..=200_000).contains(&widest), "{widest}");
        assert_eq!(found.too_thin.len() + found.too_short_count, 1, "the tip itself");
    }
}

#[test]
fn corners_of_seventy_degrees_are_the_border() {
    let corner = |degrees: f64| {
        let (half, far) = ((degrees / 2.0).to_radians(), 5.0);
        let options = CentrelineOptions { min_length_nm: 0, ..OPTIONS };
        let ring = [[0.0, 0.0], [far, -far * half.tan()], [far, far * half.tan()]];
        centrelines(&region(&[&ring]), &options).lines.iter().any(|line| line.points[0].y.abs() < 9)
    };
    assert!(corner(69.0));
    assert!(!corner(71.0));
}

#[test]
fn a_grille_has_a_line_per_bar_and_one_per_rail() {
    // 40 bars of 0.25 between two rails of 0.3: the windows are holes.
    let outer = rectangle(0.0, 0.0, 40.25, 10.6);
    let windows: Vec<Vec<[f64; 2]>> = (0..40)
        .map(|i| {
            let mut window = rectangle(f64::from(i) + 0.25, 0.3, 0.75, 10.0).to_vec();
            window.reverse();
            window
        })
        .collect();
    let mut rings: Vec<&[[f64; 2]]> = vec![&outer];
    rings.extend(windows.iter().map(Vec::as_slice));
    let found = found(&rings);
    let (mut bars, mut others) = (0, Vec::new());
    for line in &found.lines {
        let straight = line.points.iter().all(|p| (p.x - line.points[0].x).abs() <= 1);
        if straight && line.length_nm() > 9.8e6 { bars += 1 } else { others.push(line) }
    }
    // The frame turns its corners with two rails and the outermost bars, which is one ring.
    assert_eq!((bars, others.len()), (39, 1));
    assert!(others[0].closed);
    assert!((others[0].length_nm() - 2.0 * (40.0 + 10.3) * 1e6).abs() < 1e6);
}

#[test]
fn many_separate_walls_have_one_line_each_in_order() {
    let walls: Vec<_> =
        (0..50).map(|i| rectangle(f64::from((i * 7) % 50), 0.0, 0.3, 8.0)).collect();
    let rings: Vec<&[[f64; 2]]> = walls.iter().map(<[_; 4]>::as_slice).collect();
    let found = found(&rings);
    assert_eq!(found.lines.len(), 50);
    for (i, line) in (0..).zip(&found.lines) {
        let x = 1000 * i + 150;
        assert_eq!(in_um(line), [[x, 150, 150], [x, 7850, 150]]);
    }
}

/// Wavy strip of growing width: middle (t, 0.8 sin t) mm for t = 0, 0.01 … 6, sides 0.08 + 0.015 t
/// to its left and right. Length of the axis with a clearance of 0.09 to 0.16 mm from
/// scipy.spatial.Voronoi 1.17 on boundary points 1 µm apart, ridges between contacts farther
/// apart than 1.6 clearances: 5.2079 mm (5.2102 with points 2 µm apart). Widest place by
/// scikit-image 0.26 `medial_axis`, 4 µm pixels: 0.1680 mm.
#[test]
fn a_wavy_strip_agrees_with_two_other_medial_axes() {
    let (mut right, mut left) = (Vec::new(), Vec::new());
    for i in 0..=600 {
        let t = f64::from(i) / 100.0;
        let length = 1.0_f64.hypot(0.8 * t.cos());
        let (nx, ny) = (-0.8 * t.cos() / length, 1.0 / length);
        let half = 0.08 + 0.015 * t;
        right.push([t - half * nx, 0.8 * t.sin() - half * ny]);
        left.push([t + half * nx, 0.8 * t.sin() + half * ny]);
    }
    left.reverse();
    right.extend(left);
    let strip = region(&[&right]);
    let options = CentrelineOptions {
        max_half_width_nm: 160_000,
        min_half_width_nm: 90_000,
        chord_tolerance_nm: 200, // the strip widens so slowly that its ends move 80 times as far
        ..OPTIONS
    };
    let found = centrelines(&strip, &options);
    assert_eq!(found.lines.len(), 1);
    let length = found.lines[0].length_nm() / 1e6;
    assert!((length - 5.2079).abs() < 0.01, "{length}");
    let whole = centrelines(&strip, &OPTIONS);
    let widest = whole.lines.iter().flat_map(|line| &line.half_widths_nm).max();
    assert!((f64::from(*widest.unwrap()) / 1e6 - 0.168).abs() < 0.004, "{widest:?}");
}

#[test]
fn islands_that_touch_at_a_point_keep_their_own_lines() {
    // The second wall's corner lies inside an edge of the first, the third shares its corner.
    let found = found(&[
        &rectangle(0.0, 0.0, 5.0, 0.3),
        &[[2.5, 0.3], [5.5, 3.3], [5.3, 3.5], [2.3, 0.5]],
        &rectangle(5.0, 0.3, 0.3, 2.0),
    ]);
    assert_eq!(found.lines.len(), 3, "{:?}", found.lines);
    let mut lengths: Vec<_> = found.lines.iter().map(Centreline::length_nm).collect();
    lengths.sort_by(f64::total_cmp);
    let slanting = 1e6 * (3.0 * 2.0_f64.sqrt() - 0.2 * 2.0_f64.sqrt());
    for (length, wanted) in lengths.iter().zip([1.7e6, slanting, 4.7e6]) {
        assert!((length - wanted).abs() < 1e3, "{length} {wanted}");
    }
}

#[test]
fn improper_regions_and_empty_ones_give_a_reason_or_nothing() {
    let crossed = region(&[&[[0.0, 0.0], [4.0, 0.0], [4.0, 0.3], [2.0, -0.1]]]);
    let found = centrelines(&crossed, &OPTIONS);
    assert!(matches!(found.failures[..], [CentrelineError::EdgesCross { .. }]), "{found:?}");
    assert_eq!(centrelines(&Region::empty(), &OPTIONS), Centrelines::default());
    let wall = region(&[&rectangle(0.0, 0.0, 10.0, 0.3)]);
    let nothing = CentrelineOptions { max_half_width_nm: -5, ..OPTIONS };
    assert_eq!(centrelines(&wall, &nothing), Centrelines::default());
    let odd = CentrelineOptions {
        max_half_width_nm: i32::MAX,
        min_half_width_nm: i32::MIN,
        min_length_nm: i32::MIN,
        chord_tolerance_nm: u32::MAX,
    };
    assert_eq!(centrelines(&wall, &odd).failures, []);
    let flat = region(&[&[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]]]);
    assert_eq!(centrelines(&flat, &OPTIONS).lines, []);
}

#[test]
fn the_whole_grid_can_be_used() {
    let m = 1073.7_f64;
    let frame = [[-m, -m], [m, -m], [m, m], [-m, m]];
    let hole: Vec<_> = frame.iter().rev().map(|p| p.map(|c| c - 0.3 * c.signum())).collect();
    let found = found(&[&frame, &hole]);
    assert_eq!(found.lines.len(), 1);
    assert!(found.lines[0].closed);
}
