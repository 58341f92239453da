//! The example of a post-processor (`drive_mirrors.py`): what it would feed to the mirrors draws the layer.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Point;
use scan_path::{
    Block, ExposureKind, ExposureRow, HeadRow, Header, Layer, PartRow, Paths, PlacementRow,
    RegionKind, TimesRow,
};
use std::process::Command;
use whole_tool_tests::{root, write_layers};

const RATE_HZ: f64 = 100_000.0;
const SPEED_MM_S: f64 = 2000.0;
const BITS: u32 = 20;
const FIELD_MM: f64 = 200.0;
const DISTANCE_MM: f64 = 400.0;
const SEPARATION_MM: f64 = 20.0;

/// A square and three marks.
fn layer() -> Layer {
    let at = |x: f64, y: f64| Point::from_mm(x, y).unwrap();
    let square = [(10.0, 10.0), (60.0, 10.0), (60.0, 60.0), (10.0, 60.0), (10.0, 10.0)];
    let points = square.map(|(x, y)| at(x, y)).to_vec();
    let contour = Paths::Polylines { points, ends: vec![5] };
    let marks = [-1.0, 0.0, 1.0].map(|y| [at(-80.0, 50.0 + y), at(-20.0, 50.0 + y)]).to_vec();
    let block =
        |kind, paths| Block { placement: 0, exposure: 0, kind, region: RegionKind::Core, paths };
    let blocks = vec![
        block(ExposureKind::Contour, contour),
        block(ExposureKind::Hatch, Paths::Segments(marks)),
    ];
    Layer { index: 0, blocks }
}

fn header(has_flat_field_lens: bool) -> Header {
    let exposure = ExposureRow {
        name: "line".to_owned(),
        recipe: "powder".to_owned(),
        power_w: 20.0,
        speed_mm_s: SPEED_MM_S,
        path_run_in_mm: 0.2,
        path_run_out_mm: 0.2,
        power_factor: None,
    };
    let placement = PlacementRow {
        part: 0,
        copy: Some(1),
        location_mm: [0.0, 0.0, 0.05],
        rotation_deg: [0.0; 3],
        bounds_mm: None,
    };
    let head = HeadRow {
        acceleration_mm_s2: [1e7, 1e7],
        jerk_mm_s3: None,
        settle_us: 100.0,
        lag_us: 0.0,
        laser_on_delay_us: 0.0,
        laser_off_delay_us: 0.0,
        command_rate_hz: RATE_HZ,
        command_bits: BITS,
        distance_mm: DISTANCE_MM,
        mirror_separation_mm: SEPARATION_MM,
        has_flat_field_lens,
        field_size_mm: [FIELD_MM; 2],
    };
    Header {
        build_space_mm: [200.0; 3],
        layer_thickness_mm: 0.1,
        layer_count: 1,
        jump_speed_mm_s: 5000.0,
        times: Some(TimesRow { recoat_s: 12.0, ..TimesRow::default() }),
        head: Some(head),
        parts: vec![PartRow { name: "part".to_owned() }],
        placements: vec![placement],
        exposures: vec![exposure],
        ..Header::default()
    }
}

/// Where the spot is for positions of both mirrors: x = (√(d² + y²) + e)·tan θx, y = d·tan θy (geometry; the
/// same as SPEC.md says).
fn spot(counts: [f64; 2], has_flat_field_lens: bool) -> [f64; 2] {
    let most = f64::from(2_u32.pow(BITS) - 1);
    let [x, y] = counts.map(|c| c / most * 2.0 - 1.0);
    let reach = FIELD_MM / 2.0;
    if has_flat_field_lens {
        return [x * reach, y * reach];
    }
    let angle_x = x * (reach / (DISTANCE_MM + SEPARATION_MM)).atan();
    let y = DISTANCE_MM * (y * (reach / DISTANCE_MM).atan()).tan();
    [(DISTANCE_MM.hypot(y) + SEPARATION_MM) * angle_x.tan(), y]
}

/// Distance of a place from what is drawn, mm.
fn off(at: [f64; 2], layer: &Layer) -> f64 {
    let lines = layer.blocks.iter().flat_map(|block| block.paths.iter());
    let marks = lines.flat_map(|path| path.windows(2));
    let distance = |mark: &[Point]| {
        let [a, b] = [0, 1].map(|i: usize| [mark[i].x, mark[i].y].map(|c| f64::from(c) / 1e6));
        let d = [b[0] - a[0], b[1] - a[1]];
        let t = ((at[0] - a[0]) * d[0] + (at[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1]);
        let t = t.clamp(0.0, 1.0);
        (at[0] - a[0] - t * d[0]).hypot(at[1] - a[1] - t * d[1])
    };
    marks.map(distance).fold(f64::INFINITY, f64::min)
}

#[test]
fn the_example_lights_the_marks_and_nothing_else() {
    for has_flat_field_lens in [true, false] {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("layer.hwv");
        let layer = layer();
        write_layers(&file, &header(has_flat_field_lens), std::slice::from_ref(&layer));
        let script = root().join("tests/drive_mirrors.py");
        let output = Command::new("python3").arg(script).arg(&file).arg("0").output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let text = String::from_utf8(output.stdout).unwrap();
        let rows: Vec<[f64; 3]> = text
            .lines()
            .map(|line| {
                let numbers: Vec<f64> = line.split(',').map(|n| n.parse().unwrap()).collect();
                numbers.try_into().unwrap()
            })
            .collect();
        let spots = rows.iter().map(|row| spot([row[0], row[1]], has_flat_field_lens));
        let spots: Vec<[f64; 2]> = spots.collect();
        let lit: Vec<_> = rows.iter().zip(&spots).filter(|(row, _)| row[2] > 0.0).collect();
        assert!(lit.iter().all(|(row, _)| row[2].to_bits() == 20.0_f64.to_bits()));
        // a count is 0.2 µm in the middle of the field
        let worst = lit.iter().map(|(_, at)| off(**at, &layer)).fold(0.0, f64::max);
        assert!(worst < 0.001, "{worst} mm beside the marks");
        // 200 mm around, three times 60 mm
        let wanted = (200.0 + 180.0) / SPEED_MM_S * RATE_HZ;
        #[expect(clippy::cast_precision_loss, reason = "thousands")]
        let found = lit.len() as f64;
        assert!((found - wanted).abs() <= 4.0, "{found} ticks lit, {wanted} wanted");
        // from tick to tick no faster than a jump may be, and not by leaps
        let steps = spots.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]));
        assert!(steps.fold(0.0, f64::max) < 1.01 * 5000.0 / RATE_HZ);
    }
}
