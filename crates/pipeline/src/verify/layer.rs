//! One layer against the job.

use super::boundary::Boundary;
use super::outcome::{Check, Marks, Outcome};
use super::{coverage, marks};
use crate::build::Build;
use scan_path::Layer;
use slicing::Scratch;

/// Checks every placement's marks in one layer. No block names a placement that the job does not
/// have: the reader refuses rows that the file's table lacks, and the table is as long as the job's.
pub(super) fn check(build: &Build, layer: &Layer, scratch: &mut Scratch) -> Outcome {
    let mut outcome = Outcome::default();
    let mut by_row: Vec<Marks> =
        (0..build.placed.len()).map(|_| Marks { blocks: Vec::new() }).collect();
    for block in &layer.blocks {
        by_row[block.placement as usize].blocks.push(block);
    }
    for (row, marks) in by_row.iter().enumerate() {
        let region = build.fused(row, layer.index, scratch);
        if region.is_empty() && marks.blocks.is_empty() {
            continue;
        }
        let mut check = Check { build, layer: layer.index, row, outcome: &mut outcome };
        let boundary = Boundary::new(&region);
        marks::stay_inside(&mut check, &boundary, marks);
        marks::follow_the_recipe(&mut check, &boundary, marks);
        coverage::check(&mut check, &region, marks, scratch);
    }
    outcome
}
