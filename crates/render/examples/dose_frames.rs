//! Times of drawing the dose of a layer, without a window.
//!
//! ```text
//! cargo run --release -p render --example dose_frames -- [FRAMES]
//! ```
//!
//! Draws made-up layers (square cells of parallel lines, each cell with its own angle): one of
//! 100 mm at 1280×800, as a window would, and one of 150 mm at 50 pixels to the millimetre, in
//! pieces if the device has no textures that large. Prints the adapter and p50 and p95 of
//!
//! - sorting strokes into tiles, on one thread of the processor,
//! - uploading and summing up, until the device is done,
//! - colouring the picture.

#[path = "../tests/headless/mod.rs"]
mod headless;

use headless::{FORMAT, Headless};
use render::dose::{
    DoseColours, DoseFrame, DoseRenderer, DoseShow, DoseStroke, DoseTiles, Outside,
};
use render::plan::{ColourScale, Ground, PlanView};
use std::error::Error;
use std::sync::Arc;
use std::time::Instant;

const NM: f64 = 1e6;
/// Energy per length, J/mm, beam radius and distance of lines, mm.
const ENERGY: f32 = 0.006;
const RADIUS_MM: f64 = 0.25;
const SPACING_MM: f64 = 0.2;

fn main() -> Result<(), Box<dyn Error>> {
    let frames: usize = std::env::args().nth(1).map_or(Ok(20), |text| text.parse())?.max(1);
    let headless = Headless::computing()?;
    let mut renderer = DoseRenderer::new(&headless.device, FORMAT)?;
    say(&headless.adapter);

    let strokes = made_up_layer(100.0, 3_000);
    let half = [50.0 * NM; 2];
    let view = PlanView::fit(half.map(|c| -c), half, [1280.0, 800.0], 20.0);
    let window = DoseFrame { view, size_px: [1280, 800], beam_radius_mm: RADIUS_MM };
    measure(&headless, &mut renderer, &strokes, &[window], frames)?;

    let strokes = made_up_layer(150.0, 50_000);
    let most = headless.device.limits().max_texture_dimension_2d;
    measure(&headless, &mut renderer, &strokes, &pieces(7500, most, 50.0), frames)?;
    Ok(())
}

#[expect(clippy::print_stdout, reason = "an example prints what it measured")]
fn say(line: &str) {
    println!("{line}");
}

/// A square of `edge` px about the origin, cut into as few equal squares as fit `most` px.
fn pieces(edge: u32, most: u32, px_per_mm: f64) -> Vec<DoseFrame> {
    let count = edge.div_ceil(most);
    let size = edge.div_ceil(count);
    let middle =
        |i: u32| (f64::from(i) + 0.5 - f64::from(count) / 2.0) * f64::from(size) / px_per_mm * NM;
    let piece = |i: u32| DoseFrame {
        view: PlanView { centre_nm: [middle(i % count), middle(i / count)], px_per_mm },
        size_px: [size; 2],
        beam_radius_mm: RADIUS_MM,
    };
    (0..count * count).map(piece).collect()
}

/// Draws all pieces once to begin with, then `frames` times.
fn measure(
    headless: &Headless,
    renderer: &mut DoseRenderer,
    strokes: &[DoseStroke],
    pieces: &[DoseFrame],
    frames: usize,
) -> Result<(), Box<dyn Error>> {
    let scale = ColourScale::sequential(Ground::Light);
    let colours = scale.colours.iter().map(|colour| colour.map(|c| f32::from(c) / 255.0));
    let colours = DoseColours::new([0.0, 0.04], colours.collect(), Outside::Transparent)?;
    let colours = Arc::new(colours);
    let (mut times_ms, mut evaluations) = ([(); 3].map(|()| Vec::new()), 0);
    for _ in 0..=frames {
        let mut frame_ms = [0.0; 3];
        evaluations = 0;
        for piece in pieces {
            let mut at = Instant::now();
            let mut lap = |slot: &mut f64| {
                *slot += at.elapsed().as_secs_f64() * 1e3;
                at = Instant::now();
            };
            let tiles = Arc::new(DoseTiles::new(strokes, *piece)?);
            lap(&mut frame_ms[0]);
            headless.sum_up(renderer, &tiles)?;
            lap(&mut frame_ms[1]);
            let (view, size_px) = (piece.view, piece.size_px);
            let show = DoseShow { view, size_px, colours: Arc::clone(&colours), opacity: 1.0 };
            headless.show(renderer, &show);
            lap(&mut frame_ms[2]);
            evaluations += tiles.evaluations();
        }
        times_ms.iter_mut().zip(frame_ms).for_each(|(times, ms)| times.push(ms));
    }
    let [width, height] = pieces[0].size_px;
    say(&format!(
        "{} strokes, {} × {width}×{height} px, {:.0} million evaluations",
        strokes.len(),
        pieces.len(),
        evaluations as f64 / 1e6
    ));
    for (what, times) in ["sorting", "summing up", "colouring"].into_iter().zip(&mut times_ms) {
        times.remove(0); // the first frame makes the textures
        times.sort_by(f64::total_cmp);
        let at = |percent: usize| times[(times.len() - 1) * percent / 100];
        say(&format!("  {what}: p50 {:.2} ms, p95 {:.2} ms", at(50), at(95)));
    }
    Ok(())
}

/// Square cells of hatch that fill a square about the origin; lines are as long as a cell, which
/// is made so large that there are about `count`.
fn made_up_layer(edge_mm: f64, count: usize) -> Vec<DoseStroke> {
    // count · length · spacing is the area
    let length = edge_mm * edge_mm / (count as f64 * SPACING_MM);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few cells")]
    let [cells, lines] = [edge_mm / length, length / SPACING_MM].map(|n| n.round().max(1.0) as u32);
    let (cell, half) = (edge_mm / f64::from(cells), length / 2.0);
    let stroke = |cell_index: u32, line: u32| {
        let centre = [cell_index % cells, cell_index / cells]
            .map(|i| (f64::from(i) + 0.5) * cell - edge_mm / 2.0);
        let (sin, cos) = f64::to_radians(67.0 * f64::from(cell_index)).sin_cos();
        let v = (f64::from(line) + 0.5) * SPACING_MM - half;
        #[expect(clippy::cast_possible_truncation, reason = "within a build space")]
        let at = |u: f64| {
            [centre[0] + u * cos - v * sin, centre[1] + u * sin + v * cos]
                .map(|c| (c * NM).round() as i32)
        };
        DoseStroke { from_nm: at(-half), to_nm: at(half), energy_j_mm: ENERGY }
    };
    let all = (0..cells * cells).flat_map(|cell| (0..lines).map(move |line| (cell, line)));
    all.map(|(cell, line)| stroke(cell, line)).collect()
}
