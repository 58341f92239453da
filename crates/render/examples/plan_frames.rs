//! Frame times of a plan with many vectors, without a window.
//!
//! ```text
//! cargo run --release -p render --example plan_frames -- [VECTORS] [PICTURE.png] [FRAMES]
//! ```
//!
//! Draws a made-up layer (square cells of parallel lines, each cell with its own angle, and their
//! outlines) at 1920×1080 while it pans, zoomed so that all of it, a tenth and a hundredth is
//! seen, and prints the adapter and the times per frame, from the start of our own work until the
//! device is done. The picture shows the first of these.

#[path = "../tests/headless/mod.rs"]
mod headless;

use headless::{FORMAT, Headless};
use render::plan::{
    BUDGET, ColourScale, Dash, FillLayer, FillSet, Ground, Ink, LineLayer, LineSet, PlanFrame,
    PlanRenderer, PlanView, Segment, Shade, Width,
};
use std::error::Error;
use std::f64::consts::PI;
use std::sync::Arc;
use std::time::Instant;

const SIZE: [u32; 2] = [1920, 1080];
const NM: f64 = 1e6;
const SPACING_MM: f64 = 0.1;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let vectors: usize = arguments.next().map_or(Ok(2_000_000), |text| text.parse())?;
    let picture = arguments.next().unwrap_or_else(|| "plan_frames.png".to_owned());
    let frames: usize = arguments.next().map_or(Ok(200), |text| text.parse())?.max(1);

    let headless = Headless::new()?;
    let mut renderer = PlanRenderer::new(&headless.device, FORMAT);
    let layer = made_up_layer(vectors);
    say(&format!("{}, {}×{} px", headless.adapter, SIZE[0], SIZE[1]));
    say(&format!(
        "{} vectors",
        layer.lines.iter().map(|l| l.lines.segments().len()).sum::<usize>()
    ));

    let started = Instant::now();
    headless.prepare(&mut renderer, &layer);
    say(&format!("first frame, with its upload: {:.1} ms", started.elapsed().as_secs_f64() * 1e3));
    for (what, zoom) in [("all", 1.0), ("a tenth", 10_f64.sqrt()), ("a hundredth", 10.0)] {
        let mut frame = layer.clone();
        frame.view.px_per_mm *= zoom;
        headless.prepare(&mut renderer, &frame);
        let mut times_ms = Vec::new();
        for index in 0..frames {
            let turn = 2.0 * PI * index as f64 / frames as f64;
            frame.view = frame.view.panned([9.0 * turn.cos(), 9.0 * turn.sin()]);
            let started = Instant::now();
            headless.prepare(&mut renderer, &frame);
            times_ms.push(started.elapsed().as_secs_f64() * 1e3);
        }
        times_ms.sort_by(f64::total_cmp);
        let at = |percent: usize| times_ms[(times_ms.len() - 1) * percent / 100];
        say(&format!("panning, {what} in view: p50 {:.2} ms, p95 {:.2} ms", at(50), at(95)));
    }

    let pixels = headless.pixels(&mut renderer, &layer, [0.96, 0.945, 0.91]);
    write_png(&picture, &pixels)?;
    say(&format!("picture: {picture}"));
    Ok(())
}

#[expect(clippy::print_stdout, reason = "an example prints what it measured")]
fn say(line: &str) {
    println!("{line}");
}

/// Cells of hatch with outlines, in the middle of a build space of 300 × 170 mm.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "nm in the build space"
)]
fn made_up_layer(vectors: usize) -> PlanFrame {
    let [columns, rows] = [24_usize, 13];
    let (cell_mm, half) = (12.0, 4.2);
    let (mut hatch, mut shades, mut rings, mut outline) = (vec![], vec![], vec![], vec![]);
    let [width, height] = [columns as f64 * cell_mm, rows as f64 * cell_mm];
    for cell in 0..columns * rows {
        let (column, row) = ((cell % columns) as f64, (cell / columns) as f64);
        let centre = [(column + 0.5) * cell_mm - width / 2.0, (row + 0.5) * cell_mm - height / 2.0];
        let turn = 67.0_f64.to_radians() * cell as f64;
        let at = |u: f64, v: f64| {
            let (sin, cos) = turn.sin_cos();
            [centre[0] + u * cos - v * sin, centre[1] + u * sin + v * cos].map(|c| (c * NM) as i32)
        };
        let ring = [at(-half, -half), at(half, -half), at(half, half), at(-half, half)];
        outline.extend((0..4).map(|i| Segment { from: ring[i], to: ring[(i + 1) % 4] }));
        rings.push(ring);
        // lines in `pieces`, as a lattice of holes would divide them
        let lines = (2.0 * half / SPACING_MM) as usize;
        let wanted = vectors * (cell + 1) / (columns * rows) - hatch.len();
        let pieces = wanted.div_ceil(lines);
        for index in 0..wanted {
            let (line, piece) = (index / pieces, index % pieces);
            let v = -half + (line as f64 + 0.5) * SPACING_MM;
            let u = |k: f64| -half + 2.0 * half * k / pieces as f64;
            let piece = if line % 2 == 0 { piece } else { pieces - 1 - piece } as f64;
            let [from, to] = [at(u(piece + 0.15), v), at(u(piece + 0.85), v)];
            let ends = if line % 2 == 0 { [from, to] } else { [to, from] };
            hatch.push(Segment { from: ends[0], to: ends[1] });
            shades.push(Shade { value: (cell * 65_535 / (columns * rows)) as u16, phase: 0 });
        }
    }
    let shades = Some(Arc::new(shades));
    let hatch = LineSet::new(hatch, Some(SPACING_MM * NM));
    let hatch = LineLayer {
        width: Width::Px(0.8),
        shades,
        tone: 0.85,
        ..LineLayer::new(Arc::new(hatch), Ink::Scale(1.0))
    };
    let outline = LineLayer {
        width: Width::Px(1.6),
        dash: Dash::SOLID,
        closes_corners: true,
        ..LineLayer::new(Arc::new(LineSet::new(outline, None)), Ink::Flat([0.12, 0.12, 0.14, 1.0]))
    };
    let half = [width / 2.0 * NM, height / 2.0 * NM];
    PlanFrame {
        view: PlanView::fit(half.map(|c| -c), half, SIZE.map(f64::from), 20.0),
        size_px: SIZE,
        fills: vec![FillLayer {
            fill: Arc::new(FillSet::new(rings)),
            colour: [0.3, 0.3, 0.35, 0.10],
        }],
        lines: vec![hatch, outline],
        scale: Arc::new(ColourScale::sequential(Ground::Light)),
        budget: BUDGET,
    }
}

fn write_png(path: &str, pixels: &[[u8; 4]]) -> Result<(), Box<dyn Error>> {
    let file = std::io::BufWriter::new(std::fs::File::create(path)?);
    let mut encoder = png::Encoder::new(file, SIZE[0], SIZE[1]);
    encoder.set_color(png::ColorType::Rgba);
    encoder.write_header()?.write_image_data(pixels.as_flattened())?;
    Ok(())
}
