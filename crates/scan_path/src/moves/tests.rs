//! Moves of small layers, by hand.

use super::*;
use crate::layer::{Block, ExposureKind, Paths, RegionKind};

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
    let timeline = Timeline::new(&layer, &header);
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
    near(layer_time_s(&layer, &header), timeline.total_s());
}

#[test]
fn the_beam_is_found_at_any_time() {
    let (layer, header) = sample();
    let timeline = Timeline::new(&layer, &header);
    let beam = timeline.at(0.5 / 2_000.0).expect("moves"); // half way through the run-in
    assert_eq!((beam.kind, beam.block, beam.path, beam.power_w), (MoveKind::RunIn, 0, 0, 0.0));
    near(beam.position_mm[0], -0.5);
    let beam = timeline.at(4.0 / 2_000.0).expect("moves"); // 3 mm into the first mark
    assert_eq!((beam.kind, beam.power_w, beam.speed_mm_s), (MoveKind::Mark, 20.0, 2_000.0));
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
    let timeline = Timeline::new(&layer, &header);
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
        let timeline = Timeline::new(&layer, &header);
        assert!(timeline.total_s().is_finite() && timeline.at(0.0).is_some(), "{bad}");
    }
    let twice = mm(1.0, 1.0); // a mark without length has no direction for a run-in
    let layer = Layer { index: 0, blocks: vec![block(0, Paths::Segments(vec![[twice; 2]]))] };
    let timeline = Timeline::new(&layer, &good);
    assert_eq!((timeline.moves().len(), timeline.total_s()), (1, 0.0));
    assert_eq!(timeline.time_of(0, 0, 0), Some(0.0..0.0));
}

#[test]
fn a_move_stays_small() {
    assert!(size_of::<Move>() <= 32);
}
