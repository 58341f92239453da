//! One layer against the job.

use super::around::{Around, Stack};
use super::expected::Required;
use super::facing::Facing;
use super::order::RoundsOf;
use super::outcome::{Check, Marks, Outcome};
use super::overlap::Placed;
use super::sweep::Sweep;
use super::tracks::Tracks;
use super::walls::{Walls, xy};
use super::{across, along, centrelines, contours, dose, hatch, order, part_order, passes, thin};
use crate::build::Build;
use base::finding::VectorsProblem;
use scan_path::{ExposureKind, Layer, LeftOut};

/// Checks every placement's marks in one layer. No block names a placement that the job does not
/// have: the reader refuses rows that the file's table lacks, and the table is as long as the job's.
pub(super) fn check(
    build: &Build,
    (layer, left_out): (&Layer, &[LeftOut]),
    stacks: &[Stack],
    sweep: &mut Sweep,
) -> Outcome {
    let mut outcome = Outcome::default();
    let mut by_row: Vec<Marks> = (0..build.placed.len()).map(|_| Marks::default()).collect();
    for (number, block) in layer.blocks.iter().enumerate() {
        let marks = &mut by_row[block.placement as usize];
        marks.blocks.push(block);
        marks.numbers.push(number);
    }
    let mut rounds = vec![RoundsOf::default(); layer.blocks.len()];
    let mut all_walls: Vec<(u32, Walls)> = Vec::new();
    for (row, (marks, stack)) in (0_u32..).zip(by_row.iter().zip(stacks)) {
        if left_out.iter().any(|out| out.is_about(row, layer.index)) {
            let mut check =
                Check { build, layer: layer.index, row: row as usize, outcome: &mut outcome };
            nothing(&mut check, marks);
            continue;
        }
        let around = stack.around(layer.index);
        if around.own.is_empty() && marks.blocks.is_empty() {
            continue;
        }
        let mut check =
            Check { build, layer: layer.index, row: row as usize, outcome: &mut outcome };
        let walls = placement(&mut check, &around, marks, (&mut rounds, sweep));
        all_walls.push((row, walls));
    }
    part_order::check(build, layer, stacks, &rounds, &mut outcome);
    let placed: Vec<Placed> =
        all_walls.iter().map(|(row, walls)| Placed::new(*row, walls)).collect();
    for (number, a) in placed.iter().enumerate() {
        for b in &placed[number + 1..] {
            if let Some([x, y]) = a.shared_with(b) {
                let at_mm = [x, y, build.height_mm(layer.index)];
                outcome.report.add_overlap(a.row, b.row, layer.index, at_mm);
            }
        }
    }
    outcome
}

/// Nothing is to be fused: whatever is marked lies outside.
fn nothing(check: &mut Check, marks: &Marks) {
    let first = marks.blocks.iter().flat_map(|block| block.paths.points()).next();
    if let Some(p) = first {
        let paths = marks.blocks.iter().map(|block| block.paths.len() as u64).sum();
        let at = xy(*p);
        check.fault(at, VectorsProblem::MarkOutside { marks: paths });
    }
}

fn placement<'a>(
    check: &mut Check,
    around: &Around<'a>,
    marks: &Marks,
    (rounds, sweep): (&mut [RoundsOf], &mut Sweep),
) -> Walls<'a> {
    let required = Required::new(check.build, check.row, check.layer);
    let deepest = required.contour_depths().last().copied().unwrap_or(required.offset);
    let cell = deepest.max(100_000.0);
    let walls = Walls::new(&around.own, cell);
    let passes = passes::passes(&required, marks);
    let of_blocks = order::check(check, &required, &walls, (marks, &passes));
    for (number, of_block) in marks.numbers.iter().zip(of_blocks) {
        rounds[*number] = of_block;
    }
    if around.own.is_empty() {
        nothing(check, marks);
        return walls;
    }
    let facing = Facing::new(around, cell);
    contours::check(check, &required, &walls, &facing, marks, cell);
    let narrow = hatch::check(check, &required, around, &walls, (marks, &passes), sweep);
    let lines = Tracks::new(marks, ExposureKind::Centreline, cell);
    let undecided = across::check(check, &required, (&walls, &facing), &lines, &narrow);
    along::check(check, &required, (&walls, &facing), &lines);
    dose::check(check, &required, marks, &undecided);
    centrelines::check(check, &required, &walls, &lines);
    thin::check(check, &required, around, &walls, (marks, &lines));
    walls
}
