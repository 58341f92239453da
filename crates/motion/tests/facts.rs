//! Times that follow from constant acceleration (any textbook of mechanics), worked out by hand or with numpy
//! from the formulas beside them, mostly for 5000 mm/s and 10⁷ mm/s² (a round number).

use base::Point;
use motion::{Corners, Head, Ramp, Turn, layer_time, rest_to_rest_s, run_in_mm};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

const V: f64 = 5000.0;
const A: f64 = 1e7;
const HEAD: Head = Head {
    acceleration_mm_s2: [A, A],
    jerk_mm_s3: None,
    settle_s: 0.0,
    corners: Corners::SlowDown,
    corner_tolerance_mm: 0.01,
};

#[track_caller]
fn near(found: f64, wanted: f64, relative: f64) {
    assert!((found - wanted).abs() <= relative * wanted.abs(), "{found} is not {wanted}");
}

#[test]
fn moves_from_standstill_to_standstill() {
    // D ≥ v²/a: D/v + v/a, else 2·√(D/a); D = v²/a by both
    let times_ms = [(0.2, 0.282_842_7), (1.0, 0.632_455_5), (2.5, 1.0), (10.0, 2.5), (100.0, 20.5)];
    for (distance_mm, ms) in times_ms {
        near(rest_to_rest_s(distance_mm, V, A, None), ms * 1e-3, 1e-7);
    }
    for (distance_mm, peak) in [(0.2, 1414.214), (1.0, 3162.278)] {
        let ramp = Ramp::fastest(distance_mm, [0.0; 2], V, [A; 2]);
        near(ramp.speeds_mm_s[1], peak, 1e-6);
    }
    // S-shaped ramps with full phases, as v ≥ a²/j: D/v + v/a + a/j
    near(rest_to_rest_s(100.0, V, A, Some(1e11)), 20.6e-3, 1e-12);
    // too short for full phases: four phases of even jerk, D = j·t³/32
    near(rest_to_rest_s(0.02, V, A, Some(1e11)), (32.0 * 0.02 / 1e11_f64).cbrt(), 1e-12);
}

#[test]
fn the_jerk_of_layers_is_right_to_a_tenth() {
    let head = Head { jerk_mm_s3: Some(1e11), ..HEAD };
    for distance_mm in [0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.5, 10.0, 100.0] {
        let wanted = rest_to_rest_s(distance_mm, V, A, head.jerk_mm_s3);
        let way = [distance_mm, 0.0];
        let found = Turn::fastest(&head, way, [0.0; 2], [0.0; 2], V, head.jerk_s());
        near(found.duration_s, wanted, 0.1);
    }
}

#[test]
fn unequal_ramps() {
    // v = √(2abD/(a + b)), worked example of tech-champion.com, "Velocity time profiles in motion"
    let ramp = Ramp::fastest(100.0, [0.0; 2], 1e3, [2.0, 4.0]);
    near(ramp.speeds_mm_s[1], 16.329_93, 1e-6);
    near(ramp.duration_s, 12.247_45, 1e-6);
}

#[test]
fn run_ins() {
    near(run_in_mm(V, A, 0.0), 1.25, 1e-12);
    let ramp = Ramp::fastest(1.25, [0.0, V], V, [A; 2]);
    near(ramp.duration_s, 0.5e-3, 1e-12);
    near(run_in_mm(V, A, 2e-4), 2.25, 1e-12); // and 1 mm while the mirrors settle
}

#[test]
fn turns_between_lines() {
    // there and back at full speed 2v/a, which the way to the side, 2·√(h/a), runs inside of
    let turn = |from, to| Turn::fastest(&HEAD, [0.0, 0.2], from, to, V, 0.0);
    near(turn([V, 0.0], [-V, 0.0]).duration_s, 1e-3, 1e-9);
    near(turn([0.0; 2], [0.0; 2]).duration_s, 0.282_842_7e-3, 1e-7);
    // 1 mm on in the same direction: by itself that takes 0.18 to 0.23 ms by running through, or at least
    // (2v + 2·√(v² − a·D))/a = 1.7746 ms by turning twice, and nothing between
    let on = |side: f64| {
        let way = [1.0, side];
        Turn::fastest(&HEAD, way, [V, 0.0], [V, 0.0], 1e5, 0.0).duration_s
    };
    near(on(0.1), 0.2e-3, 1e-9);
    near(on(0.2), (2.0 * V + 2.0 * (V * V - A).sqrt()) / A, 1e-9);
}

/// Farthest way of an axis in a time, by small steps: forth with all there is, then back; the moment of change
/// is where the speed comes out right.
fn farthest_by_steps(from: f64, to: f64, rate: f64, time_s: f64) -> f64 {
    let change = f64::midpoint(time_s, (to - from) / rate);
    let steps = 2_000;
    let (mut way, mut speed) = (0.0, from);
    for (a, lasts) in [(rate, change), (-rate, time_s - change)] {
        let dt = lasts / f64::from(steps);
        for _ in 0..steps {
            way += (speed + a * dt / 2.0) * dt;
            speed += a * dt;
        }
    }
    way
}

#[test]
fn turns_are_possible_and_no_shorter_ones_are() {
    // numbers without a pattern, by a linear congruence
    let mut seed = 1_u64;
    let mut random = |most: f64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((seed >> 11) as f64 / (1_u64 << 53) as f64 * 2.0 - 1.0) * most
    };
    let head = Head { acceleration_mm_s2: [1e7, 6e6], ..HEAD };
    for _ in 0..60 {
        let way = [random(6.0), random(6.0)];
        let (from, to) = ([random(V), random(V)], [random(V), random(V)]);
        let turn = Turn::fastest(&head, way, from, to, 1e6, 0.0); // no jump gets so fast
        for i in 0..2 {
            let rate = head.acceleration_mm_s2[i];
            let end = turn.axes[i].at(turn.duration_s);
            assert!((end.way_mm - way[i]).abs() < 1e-6, "{end:?} {way:?}");
            assert!((end.speed_mm_s - to[i]).abs() < 1e-3 * V, "{end:?} {to:?}");
            assert!(turn.axes[i].rates_mm_s2[0] <= rate);
        }
        let can = |t: f64| {
            (0..2).all(|i| {
                let rate = head.acceleration_mm_s2[i];
                (to[i] - from[i]).abs() <= rate * t
                    && way[i] <= farthest_by_steps(from[i], to[i], rate, t) + 1e-3
                    && -way[i] <= farthest_by_steps(-from[i], -to[i], rate, t) + 1e-3
            })
        };
        assert!(can(turn.duration_s), "{turn:?}");
        for share in [0.3, 0.6, 0.8, 0.9, 0.97] {
            assert!(!can(share * turn.duration_s), "{share} of {turn:?}");
        }
    }
}

fn row(run_mm: f64) -> ExposureRow {
    ExposureRow {
        power_w: 20.0,
        speed_mm_s: V,
        path_run_in_mm: run_mm,
        path_run_out_mm: run_mm,
        ..ExposureRow::default()
    }
}

fn block(paths: Paths) -> Block {
    let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
    Block { placement: 0, exposure: 0, kind, region, paths }
}

fn mm(x: f64, y: f64) -> Point {
    Point::from_mm(x, y).expect("on the grid")
}

/// Lines 0.2 mm apart, there and back, over a square of 50 mm that is rotated against them.
fn square(angle_deg: f64) -> Layer {
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    let mut lines: Vec<[Point; 2]> = Vec::new();
    for k in -250..250 {
        let y = 0.2 * (f64::from(k) + 0.5);
        // the line x·(cos, −sin) + y·(sin, cos) of the square's frame, cut by |u| ≤ 25 and |w| ≤ 25
        let (mut low, mut high) = (-1e3_f64, 1e3_f64);
        for (slope, offset) in [(cos, y * sin), (-sin, y * cos)] {
            if slope.abs() < 1e-12 {
                if offset.abs() > 25.0 {
                    high = low;
                }
                continue;
            }
            let [a, b] = [(-25.0 - offset) / slope, (25.0 - offset) / slope];
            (low, high) = (low.max(a.min(b)), high.min(a.max(b)));
        }
        if low < high {
            let ends = [mm(low, y), mm(high, y)];
            lines.push(if k % 2 == 0 { ends } else { [ends[1], ends[0]] });
        }
    }
    Layer { index: 0, blocks: vec![block(Paths::Segments(lines))] }
}

#[test]
fn a_hatched_square() {
    let header = Header { jump_speed_mm_s: V, exposures: vec![row(1.25)], ..Header::default() };
    let layer = square(0.0);
    let time = layer_time(&layer, &header, Some(&HEAD));
    // 250 lines of 50 mm, 249 turns of 1 ms; half a turn before the first and after the last
    near(time.lit_s, 2.5, 1e-9);
    near(time.jump_s, 0.249, 1e-6);
    near(time.run_s, 1e-3, 1e-6);
    near(time.lit_s + time.jump_s, 2.749, 1e-7);
    // without run-ins every line begins and ends at a standstill: 50/v + v/a each, and 2·√(h/a) to the next
    let slow = Header { exposures: vec![row(0.0)], ..header };
    let time = layer_time(&layer, &slow, Some(&HEAD));
    near(time.lit_s, 250.0 * 10.5e-3, 1e-9);
    near(time.jump_s, 249.0 * 0.282_842_7e-3, 1e-6);
}

#[test]
fn the_mean_over_all_angles_is_that_of_integral_geometry() {
    // Lines a distance h apart at a random angle cut a convex region of perimeter P into P/(π·h) pieces on
    // average (Cauchy–Crofton): t ≈ A/(h·v) + P/(π·h)·t_turn. Here every turn takes 1 ms: run-in and run-out of
    // 2.5 mm at 5 m/s, jumps next to nothing.
    let header = Header { jump_speed_mm_s: 1e9, exposures: vec![row(2.5)], ..Header::default() };
    let angles = 90;
    let all = (0..angles).map(|k| layer_time(&square(f64::from(k)), &header, None).total_s());
    let mean = all.sum::<f64>() / f64::from(angles);
    near(mean, 2.818_310, 1e-3);
}

#[test]
fn an_arc_is_run_as_fast_as_its_radius_allows() {
    // v = √(a·r): 1000 mm/s for 0.1 mm; chords of 5°, so that the arc through them is a little narrower
    let at = |k: u32| {
        let (sin, cos) = (f64::from(k) * 5.0).to_radians().sin_cos();
        mm(0.1 * cos, 0.1 * sin)
    };
    let points: Vec<Point> = (0..=720).map(at).collect();
    let length_mm = 720.0 * 2.0 * 0.1 * 2.5_f64.to_radians().sin();
    let ends = vec![721];
    let layer = Layer { index: 0, blocks: vec![block(Paths::Polylines { points, ends })] };
    let header = Header { jump_speed_mm_s: V, exposures: vec![row(0.0)], ..Header::default() };
    let time = layer_time(&layer, &header, Some(&HEAD));
    // a tenth of a millisecond more, for the start and the end at a standstill
    near(time.lit_s, length_mm / 1000.0 + 1e-4, 5e-3);
}

#[test]
fn copies_take_as_many_times_as_long() {
    let header = Header { jump_speed_mm_s: V, exposures: vec![row(0.4)], ..Header::default() };
    let one = square(30.0);
    let three = Layer {
        index: 0,
        blocks: [one.blocks.clone(), one.blocks.clone(), one.blocks.clone()].concat(),
    };
    let [one, three] = [one, three].map(|layer| layer_time(&layer, &header, Some(&HEAD)));
    near(three.lit_s, 3.0 * one.lit_s, 1e-12);
    assert!(three.jump_s > 3.0 * one.jump_s && three.jump_s < 3.0 * one.jump_s + 0.1);
}
