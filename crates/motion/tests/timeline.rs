//! Moves of small layers, by hand.

use base::Point;
use motion::{Corners, Head, Move, MoveKind, Timeline, layer_time};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

fn mm(x: f64, y: f64) -> Point {
    Point::from_mm(x, y).expect("on the grid")
}

fn exposure(
    power_w: f64,
    speed_mm_s: f64,
    path_run_in_mm: f64,
    path_run_out_mm: f64,
) -> ExposureRow {
    ExposureRow { power_w, speed_mm_s, path_run_in_mm, path_run_out_mm, ..ExposureRow::default() }
}

fn header(exposures: Vec<ExposureRow>) -> Header {
    Header { jump_speed_mm_s: 10_000.0, exposures, ..Header::default() }
}

fn block(exposure: u16, paths: Paths) -> Block {
    let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
    Block { placement: 0, exposure, kind, region, paths }
}

/// Two hatch lines, there and back, with run-in and run-out; then an open contour without.
fn sample() -> (Layer, Header) {
    let hatch = Paths::Segments(vec![[mm(0.0, 0.0), mm(10.0, 0.0)], [mm(10.0, 0.1), mm(0.0, 0.1)]]);
    let points = vec![mm(0.0, 4.1), mm(3.0, 0.1), mm(3.0, 5.1)];
    let contour = Paths::Polylines { points, ends: vec![3] };
    let layer = Layer { index: 0, blocks: vec![block(0, hatch), block(1, contour)] };
    (layer, header(vec![exposure(20.0, 2_000.0, 1.0, 0.5), exposure(12.0, 1_000.0, 0.0, 0.0)]))
}

#[track_caller]
fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-9, "{found} is not {wanted}");
}

#[test]
fn moves_follow_each_other_in_space_and_add_up_in_time() {
    use MoveKind::{Jump, Mark, RunIn, RunOut};
    let (layer, header) = sample();
    let timeline = Timeline::new(&layer, &header, None);
    let kinds: Vec<_> = timeline.moves().iter().map(|step| step.kind).collect();
    let path = [RunIn, Mark, RunOut];
    let wanted = [&path[..], &[Jump], &path, &[Jump, Mark, Mark]].concat();
    assert_eq!(kinds, wanted);

    // by hand: first line 1 + 10 + 0.5 mm at 2 m/s; jump from (10.5, 0) to the run-in of the
    // second at (11, 0.1) at 10 m/s; second line; jump from (-0.5, 0.1) to (0, 4.1); 5 + 5 mm
    let line = 11.5 / 2_000.0;
    let first_jump = 0.5_f64.hypot(0.1) / 10_000.0;
    let second_jump = 0.5_f64.hypot(4.0) / 10_000.0;
    near(timeline.total_s(), 2.0 * line + first_jump + second_jump + 10.0 / 1_000.0);
    assert_eq!(timeline.moves()[0].from, mm(-1.0, 0.0));
    assert_eq!(timeline.to(2), mm(10.5, 0.0));
    assert_eq!(timeline.to(3), mm(11.0, 0.1));
    assert_eq!(timeline.to(timeline.moves().len()), mm(3.0, 5.1));
    near(layer_time(&layer, &header, None).total_s(), timeline.total_s());
}

#[test]
fn the_beam_is_found_at_any_time() {
    let (layer, header) = sample();
    let timeline = Timeline::new(&layer, &header, None);
    let beam = timeline.at(0.5 / 2_000.0).expect("moves"); // half way through the run-in
    assert_eq!((beam.kind, beam.block, beam.path, beam.power_w), (MoveKind::RunIn, 0, 0, 0.0));
    near(beam.position_mm[0], -0.5);
    let beam = timeline.at(4.0 / 2_000.0).expect("moves"); // 3 mm into the first mark
    assert_eq!((beam.kind, beam.power_w), (MoveKind::Mark, 20.0));
    near(beam.speed_mm_s, 2_000.0);
    near(beam.position_mm[0], 3.0);
    let end = timeline.total_s();
    let beam = timeline.at(end - 1.0 / 1_000.0).expect("moves"); // 1 mm before the end
    assert_eq!((beam.block, beam.path, beam.mark, beam.power_w), (1, 0, 1, 12.0));
    near(beam.position_mm[1], 4.1);
    for (time_s, wanted) in [(-1.0, [-1.0, 0.0]), (end + 1.0, [3.0, 5.1])] {
        let found = timeline.at(time_s).expect("moves").position_mm;
        near(found[0], wanted[0]);
        near(found[1], wanted[1]);
    }
    assert!(timeline.at(f64::NAN).is_some());
    assert_eq!(Timeline::default().at(0.0), None);
}

#[test]
fn the_time_of_a_mark_is_found_and_of_a_missing_one_is_not() {
    let (layer, header) = sample();
    let timeline = Timeline::new(&layer, &header, None);
    let time = timeline.time_of(1, 0, 1).expect("second mark of the contour");
    near(time.start, timeline.total_s() - 5.0 / 1_000.0);
    near(time.end, timeline.total_s());
    let time = timeline.time_of(0, 0, 0).expect("first hatch line");
    near(time.start, 1.0 / 2_000.0);
    for missing in [(0, 0, 1), (0, 2, 0), (1, 0, 2), (2, 0, 0)] {
        assert_eq!(timeline.time_of(missing.0, missing.1, missing.2), None, "{missing:?}");
    }
}

#[test]
fn numbers_no_machine_can_run_give_finite_times() {
    let (layer, good) = sample();
    for bad in [0.0, -5.0, f64::NAN, f64::INFINITY] {
        let mut header = good.clone();
        header.jump_speed_mm_s = bad;
        header.exposures[0] = exposure(bad, bad, bad, bad);
        header.exposures.truncate(1); // the contour's exposure is missing
        let timeline = Timeline::new(&layer, &header, None);
        assert!(timeline.total_s().is_finite() && timeline.at(0.0).is_some(), "{bad}");
    }
    let twice = mm(1.0, 1.0); // a mark without length has no direction for a run-in
    let layer = Layer { index: 0, blocks: vec![block(0, Paths::Segments(vec![[twice; 2]]))] };
    let timeline = Timeline::new(&layer, &good, None);
    assert_eq!((timeline.moves().len(), timeline.total_s()), (1, 0.0));
    assert_eq!(timeline.time_of(0, 0, 0), Some(0.0..0.0));
}

#[test]
fn a_move_stays_small() {
    assert!(size_of::<Move>() <= 40);
}

const HEAD: Head = Head {
    acceleration_mm_s2: [1e7, 1e7],
    jerk_mm_s3: None,
    settle_s: 0.0,
    corners: Corners::SlowDown,
    corner_tolerance_mm: 0.01,
};

/// Follows a timeline piece by piece: it must be in one piece in space, and steady in speed wherever the beam
/// is told to be; returns the greatest acceleration along an axis.
#[track_caller]
fn greatest_acceleration(timeline: &Timeline) -> f64 {
    let pieces: Vec<_> = (0..timeline.moves().len()).flat_map(|i| timeline.pieces(i)).collect();
    for ends in pieces.windows(2) {
        let (a, b) = (ends[0], ends[1]);
        assert!((a.start_s + a.duration_s - b.start_s).abs() < 1e-12, "{a:?} {b:?}");
        for i in 0..2 {
            let way =
                (a.velocity_mm_s[i] + a.acceleration_mm_s2[i] * a.duration_s / 2.0) * a.duration_s;
            let off_mm = a.position_mm[i] + way - b.position_mm[i];
            assert!(off_mm.abs() < 1e-5, "{off_mm} mm: {a:?} {b:?}"); // moves end on whole nanometres
        }
    }
    let all = pieces.iter().flat_map(|piece| piece.acceleration_mm_s2);
    all.fold(0.0, |most, a| most.max(a.abs()))
}

/// Hatch lines at an angle, there and back, then a square around them without run-in.
fn slanting(angle_deg: f64) -> (Layer, Header) {
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    let at = |x: f64, y: f64| mm(x * cos - y * sin, x * sin + y * cos);
    let line = |k: u32| {
        let (y, long) = (0.2 * f64::from(k), 3.0 + 0.3 * f64::from(k));
        let ends = [at(-long, y), at(long, y)];
        if k.is_multiple_of(2) { ends } else { [ends[1], ends[0]] }
    };
    let hatch = Paths::Segments((0..12).map(line).collect());
    let corners = [(-9.0, -9.0), (9.0, -9.0), (9.0, 9.0), (-9.0, 9.0), (-9.0, -9.0)];
    let points = corners.map(|(x, y)| at(x, y)).to_vec();
    let contour = Paths::Polylines { points, ends: vec![5] };
    let layer = Layer { index: 0, blocks: vec![block(0, hatch), block(1, contour)] };
    (layer, header(vec![exposure(20.0, 4_000.0, 0.8, 0.8), exposure(12.0, 2_000.0, 0.0, 0.0)]))
}

#[test]
fn a_layer_with_a_real_head_hangs_together_within_its_limits() {
    let limits = [[1e7, 1e7], [1e7, 4e6]];
    let corners = [Corners::SlowDown, Corners::Dwell { wait_s: 2e-4 }, Corners::RunPast];
    for (acceleration_mm_s2, corners) in
        limits.into_iter().zip(corners).chain([(limits[0], corners[2])])
    {
        for angle in [0.0, 17.0, 45.0, 90.0] {
            for (settle_s, jerk_mm_s3) in [(0.0, None), (1e-4, Some(1e11))] {
                let head = Head { acceleration_mm_s2, settle_s, jerk_mm_s3, corners, ..HEAD };
                let (layer, header) = slanting(angle);
                let timeline = Timeline::new(&layer, &header, Some(&head));
                let most = greatest_acceleration(&timeline);
                assert!(most < 1e7 * (1.0 + 1e-6) && most > 0.9e7, "{most} at {angle}");
                let time = layer_time(&layer, &header, Some(&head));
                near(time.total_s(), timeline.total_s());
                let ideal = layer_time(&layer, &header, None);
                assert!(time.lit_s > ideal.lit_s - 1e-12 && time.total_s() > ideal.total_s());
                for (block, path, mark) in [(0, 11, 0), (1, 0, 3)] {
                    assert!(timeline.time_of(block, path, mark).is_some());
                }
            }
        }
    }
}

#[test]
fn a_square_takes_what_its_corners_take() {
    let (layer, header) = slanting(0.0);
    let only = Layer { index: 0, blocks: vec![layer.blocks[1].clone()] };
    let time = |corners| layer_time(&only, &header, Some(&Head { corners, ..HEAD }));
    // by hand: each side of 18 mm at 2 m/s from standstill to standstill is 9 ms + 0.2 ms
    near(time(Corners::Dwell { wait_s: 1e-4 }).lit_s, 4.0 * 9.2e-3 + 3.0 * 1e-4);
    // a right angle within 0.01 mm: r = 0.01·cos 45°/(1 − cos 45°), v = √(1e7·r); each ramp from v to 2 m/s and
    // back costs (2000 − v)²/(2a·2000) on top of the way
    let corner = (1e7 * 0.01 * 0.5_f64.sqrt() / (1.0 - 0.5_f64.sqrt())).sqrt();
    let lost = |v: f64| (2000.0 - v).powi(2) / (2.0 * 1e7 * 2000.0);
    near(time(Corners::SlowDown).lit_s, 4.0 * 9e-3 + 2.0 * lost(0.0) + 6.0 * lost(corner));
    // past a right angle at 2 m/s, and back: along one axis to a standstill and back to the corner, 0.2 ms and
    // 2·√(0.2/1e7) with 0.2 mm of braking; at once along the other, in the other order
    let past = time(Corners::RunPast);
    near(past.jump_s, 3.0 * (0.2e-3 + 0.2e-3 * 2.0_f64.sqrt()));
    near(past.lit_s, 4.0 * 9e-3 + 2.0 * lost(0.0));
}
