//! What is in sight as a picture, and a layer as a drawing.

use crate::state::results::ShownLayer;
use crate::work::tasks::{Context, Outcome};
use egui::ColorImage;
use pipeline::{Inputs, OutputError};
use std::ops::Range;
use std::path::Path;

/// Writes a part of a picture of the window: these columns and rows of it.
pub(crate) fn save_picture(
    image: &ColorImage,
    [columns, rows]: [Range<usize>; 2],
    path: &Path,
    inputs: &Inputs,
    context: &Context,
) {
    let [width, height] = image.size;
    let columns = columns.start.min(width)..columns.end.min(width);
    let rows = rows.start.min(height)..rows.end.min(height);
    let size = [columns.len(), rows.len()].map(|side| u32::try_from(side).unwrap_or(0));
    let row = |y: usize| &image.pixels[y * width..][columns.clone()];
    let pixels: Vec<[u8; 3]> =
        rows.flat_map(row).map(|pixel| [pixel.r(), pixel.g(), pixel.b()]).collect();
    context.send(told(path, pipeline::write_picture(path, size, &pixels, inputs)));
}

/// Writes a layer as a drawing to scale, with its jumps or without.
pub(crate) fn save_drawing(
    shown: &ShownLayer,
    jumps: bool,
    path: &Path,
    inputs: &Inputs,
    context: &Context,
) {
    let written = pipeline::write_layer_drawing(shown.header(), &shown.layer, jumps, path, inputs);
    context.send(told(path, written));
}

fn told(path: &Path, written: Result<(), OutputError>) -> Outcome {
    match written {
        Ok(()) => Outcome::Said(format!("Saved: {}", path.display())),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    }
}
