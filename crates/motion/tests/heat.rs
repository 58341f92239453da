//! Closed forms of heat: numbers worked out with mpmath from the formulas of Carslaw and Jaeger, the moving point
//! also as the time integral of instantaneous ones.

use base::Point;
use motion::heat::{Conductor, rises_k};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

#[track_caller]
fn near(found: f64, wanted: f64, relative: f64) {
    assert!((found - wanted).abs() <= relative * wanted.abs(), "{found} is not {wanted}");
}

const ROUND: Conductor = Conductor { conductivity_w_m_k: 1.0, diffusivity_m2_s: 1e-6 };

#[test]
fn instantaneous_point_and_line() {
    near(ROUND.after_point_k(1.0, 1e-3, 1.0), 34.96565, 1e-6);
    near(ROUND.after_line_k(100.0, 1e-3, 1.0), 12.39500, 1e-6);
    let (rise_k, when_s) = ROUND.highest_after_line(100.0, 1e-3);
    near(rise_k, 23.41993, 1e-6);
    near(when_s, 0.25, 1e-12);
    near(ROUND.after_line_k(100.0, 1e-3, when_s), rise_k, 1e-12);
    // a beam without width is a point
    near(ROUND.after_beam_k(1.0, 0.0, 1e-3, 1.0), 34.96565, 1e-6);
}

#[test]
fn moving_point() {
    let steel = Conductor { conductivity_w_m_k: 25.0, diffusivity_m2_s: 6e-6 };
    let cases = [
        ([-1e-3, 0.0], 636.6198),
        ([1e-3, 0.0], 120.2419),
        ([0.0, 1e-3], 276.6738),
        ([-2e-3, 1e-3], 233.8618),
    ];
    for (at, wanted) in cases {
        near(steel.around_moving_point_k(100.0, 0.01, at), wanted, 1e-6);
    }
}

/// A long mark, looked at from its end and beside it: the moving point, since the beam is narrow against the
/// distance.
#[test]
fn stretches_of_a_mark_add_up_to_a_moving_point() {
    let bed = Conductor { conductivity_w_m_k: 25.0, diffusivity_m2_s: 6e-6 };
    let row = ExposureRow { power_w: 200.0, speed_mm_s: 10.0, ..ExposureRow::default() };
    let header = Header { jump_speed_mm_s: 8000.0, exposures: vec![row], ..Header::default() };
    let points = [Point::from_mm(-200.0, 0.0).unwrap(), Point::from_mm(0.0, 0.0).unwrap()];
    let block = Block {
        placement: 0,
        exposure: 0,
        kind: ExposureKind::Hatch,
        region: RegionKind::Core,
        paths: Paths::Segments(vec![points]),
    };
    let layer = Layer { index: 0, blocks: vec![block] };
    let places = [[1.0, 0.0], [0.0, 1.0], [-2.0, 1.0]];
    let rises = rises_k((&layer, &header, None), (bed, 0.5, 0.05), &places, 20.0);
    for (rise, wanted) in rises.iter().zip([120.2419, 276.6738, 233.8618]) {
        near(*rise, wanted, 5e-3);
    }
}
