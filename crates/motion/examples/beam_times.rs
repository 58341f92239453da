//! Times of turns and paths, for the comparison in `tests/oracles/motion.py`.
//!
//! Input, numbers in lines: first the head (acceleration along X and Y, corner tolerance, jump speed: mm, s). Then
//! either `0`, way, velocity before, velocity after (X and Y each) of a turn, or `1`, speed, points of a row of marks
//! without run-in. Output: a time for each, s.

#![expect(clippy::print_stdout, reason = "an example that talks to a script")]

use base::Point;
use motion::{Corners, Head, Turn, layer_time};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};
use std::error::Error;
use std::io::Read;

fn main() -> Result<(), Box<dyn Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let numbers =
        |line: &str| line.split_whitespace().map(str::parse).collect::<Result<Vec<f64>, _>>();
    let mut lines = text.lines();
    let Some(&[ax, ay, tolerance, jump]) =
        lines.next().map(numbers).transpose()?.as_deref().and_then(|row| row.first_chunk::<4>())
    else {
        return Err("the first line is the head".into());
    };
    let head = Head {
        acceleration_mm_s2: [ax, ay],
        jerk_mm_s3: None,
        settle_s: 0.0,
        corners: Corners::SlowDown,
        corner_tolerance_mm: tolerance,
    };
    for line in lines {
        let row = numbers(line)?;
        let time_s = match row[..] {
            [_, x, y, vx, vy, wx, wy] if row[0] < 0.5 => {
                Turn::fastest(&head, [x, y], [vx, vy], [wx, wy], jump, 0.0).duration_s
            }
            [_, speed, ref points @ ..] => path_s(&head, speed, jump, points)?,
            _ => return Err("a turn or a path".into()),
        };
        println!("{time_s:e}");
    }
    Ok(())
}

/// Time of a row of marks, s.
fn path_s(head: &Head, speed: f64, jump: f64, points: &[f64]) -> Result<f64, Box<dyn Error>> {
    let points = points.chunks_exact(2).map(|p| Point::from_mm(p[0], p[1]));
    let points: Vec<Point> = points.collect::<Result<_, _>>()?;
    let ends = vec![u32::try_from(points.len())?];
    let (kind, region) = (ExposureKind::Contour, RegionKind::Core);
    let paths = Paths::Polylines { points, ends };
    let block = Block { placement: 0, exposure: 0, kind, region, paths };
    let row = ExposureRow { speed_mm_s: speed, ..ExposureRow::default() };
    let header = Header { jump_speed_mm_s: jump, exposures: vec![row], ..Header::default() };
    let layer = Layer { index: 0, blocks: vec![block] };
    Ok(layer_time(&layer, &header, Some(head)).total_s())
}
