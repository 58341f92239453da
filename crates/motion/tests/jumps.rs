//! Jumps between paths without walking along these, and the least time that they could take.

use base::Point;
use motion::{Corners, Head, Jumps, layer_time, least_jumps_s};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

const HEAD: Head = Head {
    acceleration_mm_s2: [1e7, 2e7],
    jerk_mm_s3: None,
    settle_s: 1e-4,
    corners: Corners::SlowDown,
    corner_tolerance_mm: 0.01,
};

fn header() -> Header {
    let row = |run: f64| ExposureRow {
        speed_mm_s: 4000.0,
        path_run_in_mm: run,
        path_run_out_mm: run,
        ..ExposureRow::default()
    };
    let exposures = vec![row(0.0), row(0.5), row(2.0)];
    Header { jump_speed_mm_s: 8000.0, exposures, ..Header::default() }
}

fn layer(exposure: u16, marks: &[[Point; 2]]) -> Layer {
    let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
    let paths = Paths::Segments(marks.to_vec());
    Layer { index: 0, blocks: vec![Block { placement: 0, exposure, kind, region, paths }] }
}

fn mark(numbers: [f64; 4]) -> [Point; 2] {
    let [a, b, c, d] = numbers;
    [(a, b), (c, d)].map(|(x, y)| Point::from_mm(x, y).expect("on the grid"))
}

fn direction(mark: [Point; 2]) -> [f64; 2] {
    let [a, b] = mark.map(Point::to_mm);
    let way = [b[0] - a[0], b[1] - a[1]];
    way.map(|x| x / way[0].hypot(way[1]))
}

#[test]
fn jumps_take_the_time_that_the_beam_takes() {
    let marks = [mark([0.0, 0.0, 12.0, 5.0]), mark([11.0, 6.0, -1.0, 1.0])];
    for head in [None, Some(&HEAD)] {
        for exposure in 0..3 {
            let header = header();
            let jumps = Jumps::new(&header, head);
            let from = jumps.leaving(exposure, marks[0][1], direction(marks[0]));
            let to = jumps.entering(exposure, marks[1][0], direction(marks[1]));
            let wanted = layer_time(&layer(exposure, &marks), &header, head).jump_s;
            let found = jumps.time_s(&from, &to);
            assert!((found - wanted).abs() < 1e-8, "{found} is not {wanted}");
            assert!(jumps.at_least_s(&from, &to) <= found * (1.0 + 1e-12));
        }
    }
}

#[test]
fn no_order_takes_less_than_the_least() {
    // two lines one behind the other, one beside, one apart
    let marks = [
        mark([0.0, 0.0, 5.0, 0.0]),
        mark([7.0, 0.0, 12.0, 0.0]),
        mark([0.5, 0.2, 5.5, 0.2]),
        mark([30.0, 9.0, 31.0, 9.0]),
    ];
    let header = header();
    for head in [None, Some(&HEAD)] {
        for exposure in 0..3 {
            // all marks run the same way in the first layer, and then keep it
            let mut shortest = [f64::INFINITY; 2];
            for order in permutations(4) {
                for turned in 0..16_u32 {
                    let run = order.iter().map(|&i| {
                        let [a, b] = marks[i];
                        if turned >> i & 1 == 1 { [b, a] } else { [a, b] }
                    });
                    let layer = layer(exposure, &run.collect::<Vec<_>>());
                    let time = layer_time(&layer, &header, head).jump_s;
                    shortest[1] = shortest[1].min(time);
                    if turned == 0 {
                        shortest[0] = shortest[0].min(time);
                    }
                }
            }
            let mut mixed = marks;
            mixed[3].reverse();
            let layers = [layer(exposure, &marks), layer(exposure, &mixed)];
            for (layer, shortest) in layers.iter().zip(shortest) {
                let least = least_jumps_s(layer, &header, head);
                assert!(least > 0.0 && least <= shortest + 1e-12, "{least}, {shortest}");
            }
        }
    }
    // without a head the jumps of a row at equal distances are just the least
    let row: Vec<_> = (0..6).map(|i| mark([0.0, f64::from(i), 1.0, f64::from(i)])).collect();
    let serpentine =
        |(i, [a, b]): (usize, &[Point; 2])| if i % 2 == 0 { [*a, *b] } else { [*b, *a] };
    let row: Vec<_> = row.iter().enumerate().map(serpentine).collect();
    let least = least_jumps_s(&layer(0, &row), &header, None);
    assert!((least - 5.0 / 8000.0).abs() < 1e-12, "{least}");
}

fn permutations(count: usize) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for next in 0..count {
        all = all
            .iter()
            .flat_map(|order: &Vec<usize>| {
                (0..=order.len()).map(move |at| {
                    let mut longer = order.clone();
                    longer.insert(at, next);
                    longer
                })
            })
            .collect();
    }
    all
}
