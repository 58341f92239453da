//! When the beam comes back, on marks whose times are worked out by hand.

use base::Point;
use motion::returns::returns;
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

/// 1000 mm/s, jumps of 2000 mm/s, no head.
fn header() -> Header {
    let row = ExposureRow { speed_mm_s: 1000.0, ..ExposureRow::default() };
    Header { jump_speed_mm_s: 2000.0, exposures: vec![row], ..Header::default() }
}

fn block(kind: ExposureKind, paths: Paths) -> Block {
    Block { placement: 0, exposure: 0, kind, region: RegionKind::Core, paths }
}

fn point(x: f64, y: f64) -> Point {
    Point::from_mm(x, y).expect("on the grid")
}

#[test]
fn a_neighbouring_line_comes_after_what_the_beam_needs_for_the_way() {
    // 10 mm there, 0.2 mm up in 0.1 ms, back: at x the beam is again after 2·(10 − x) mm and 0.1 ms
    let lines = vec![[point(0.0, 0.0), point(10.0, 0.0)], [point(10.0, 0.2), point(0.0, 0.2)]];
    let far = vec![[point(0.0, 50.0), point(10.0, 50.0)]];
    let blocks = [lines, far].map(|marks| block(ExposureKind::Hatch, Paths::Segments(marks)));
    let layer = Layer { index: 0, blocks: blocks.into() };
    let reach_mm = 0.25;
    let spots = returns(&layer, &header(), None, reach_mm);
    assert_eq!(spots.len(), 240);
    let (mut back, mut never) = (0, 0);
    for spot in &spots {
        let [x, y] = spot.at_mm;
        if y < 0.1 {
            // the beam comes within reach √(0.25² − 0.2²) = 0.15 mm before it is beside
            let wanted = (2.0 * (10.0 - x) - 0.15 + 0.1) / 1000.0;
            let found = spot.again_after_s.unwrap();
            assert!((found - wanted).abs() <= 0.15 / 1000.0, "{found} is not {wanted} at {x}");
            back += 1;
        } else {
            assert_eq!(spot.again_after_s, None);
            never += 1;
        }
    }
    assert_eq!((back, never), (80, 160));
}

#[test]
fn a_contour_comes_back_to_its_start_and_not_to_its_corners() {
    let corners = [(0.0, 0.0), (5.0, 0.0), (5.0, 5.0), (0.0, 5.0), (0.0, 0.0)];
    let points: Vec<Point> = corners.iter().map(|(x, y)| point(*x, *y)).collect();
    let contour = Paths::Polylines { points, ends: vec![5] };
    let layer = Layer { index: 0, blocks: vec![block(ExposureKind::Contour, contour)] };
    let spots = returns(&layer, &header(), None, 0.25);
    let again: Vec<_> = spots.iter().filter(|spot| spot.again_after_s.is_some()).collect();
    assert!(!again.is_empty());
    for spot in again {
        assert!(spot.at_mm[0].hypot(spot.at_mm[1]) < 0.3, "{:?}", spot.at_mm);
        assert!((spot.again_after_s.unwrap() - 0.020).abs() < 0.6e-3);
    }
}
