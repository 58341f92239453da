//! A layer as the strokes of the beam that leave energy: what estimates are made from.

use base::Point;
use estimate::Stroke;
use scan_path::{Block, ExposureRow, Paths};

/// The marks of blocks as strokes at the power that arrives and the commanded speed, mm, in the order they
/// are run.
/// Marks of exposures that the table lacks leave nothing.
pub fn strokes<'a>(
    blocks: impl IntoIterator<Item = &'a Block>,
    exposures: &[ExposureRow],
) -> Vec<Stroke> {
    let mut strokes = Vec::new();
    for block in blocks {
        let Some(row) = exposures.get(usize::from(block.exposure)) else { continue };
        let power_w = row.arriving_w();
        let mut mark = |from: Point, to: Point| {
            strokes.push(Stroke::new(from.to_mm(), to.to_mm(), power_w, row.speed_mm_s));
        };
        match &block.paths {
            Paths::Segments(marks) => marks.iter().for_each(|&[from, to]| mark(from, to)),
            Paths::Polylines { .. } => {
                let paths = block.paths.iter();
                paths.flat_map(|path| path.windows(2)).for_each(|ends| mark(ends[0], ends[1]));
            }
        }
    }
    strokes
}
