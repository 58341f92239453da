//! How placements follow each other in a layer, as the job asks.
//!
//! Which of them is nearest to the beam is decided by the bounding boxes of their sections. Between the box
//! of the bare section and that of the marks lies the box of what is fused: a placement is at fault if even
//! the larger of its boxes is farther away than the smaller one of another that waits.

use super::around::Stack;
use super::order::RoundsOf;
use super::outcome::{Check, Outcome};
use super::walls::xy;
use crate::build::Build;
use base::Point;
use base::finding::VectorsProblem;
use job::NextPart;
use scan_path::{Block, Layer};

/// Lines along walls may reach farther than what is fused by rounding, nm.
const BEYOND_NM: f64 = 1000.0;

/// The lower left and the upper right corner of a box.
type Bounds = (Point, Point);

/// Blocks of one placement in a row, in one round.
struct Turn {
    round: u8,
    row: u32,
    /// Number of the first block.
    first: usize,
}

/// Compares the order of placements with what the job asks for; `rounds` are those that each block may be of.
pub(super) fn check(
    build: &Build,
    layer: &Layer,
    stacks: &[Stack],
    rounds: &[RoundsOf],
    outcome: &mut Outcome,
) {
    let (turns, mut fault) = turns(&layer.blocks, rounds);
    let marked = marked(layer, build.placed.len());
    for of_round in turns.chunk_by(|a, b| a.round == b.round) {
        let later = |number: usize| &of_round[number + 1..];
        let wrong = (0..of_round.len()).find(|&number| {
            let turn = &of_round[number];
            let is_again = later(number).iter().any(|other| other.row == turn.row);
            is_again || is_early(build, layer, (stacks, &marked), turn, later(number))
        });
        fault = fault.or(wrong.map(|number| of_round[number].first));
    }
    let Some(block) = fault.map(|number| &layer.blocks[number]) else { return };
    let at = block.paths.points().first().map_or([0.0; 2], |p| xy(*p));
    let mut check = Check { build, layer: layer.index, row: block.placement as usize, outcome };
    let what = "parts, or contours and hatch of all of them".to_owned();
    check.fault(at, VectorsProblem::OrderDiffers { what });
}

/// The turns of placements, and the first block that belongs to an earlier round than one before it. What may
/// be of several rounds is of the last one: lines along walls come before contours.
fn turns(blocks: &[Block], rounds: &[RoundsOf]) -> (Vec<Turn>, Option<usize>) {
    let mut last_of_rest = vec![u8::MAX; blocks.len()];
    let mut last = u8::MAX;
    for (number, of_block) in rounds.iter().enumerate().rev() {
        last = of_block.iter().max().map_or(last, |most| last.min(*most));
        last_of_rest[number] = last;
    }
    let (mut turns, mut fault): (Vec<Turn>, Option<usize>) = (Vec::new(), None);
    for (first, (block, of_block)) in blocks.iter().zip(rounds).enumerate() {
        if of_block.is_empty() {
            continue; // not asked for, which is said elsewhere
        }
        let reached = turns.last().map_or(0, |turn| turn.round);
        let possible = reached..=last_of_rest[first];
        let Some(&round) = of_block.iter().filter(|round| possible.contains(round)).max() else {
            fault = fault.or(Some(first));
            continue;
        };
        let row = block.placement;
        if turns.last().is_none_or(|turn| (turn.round, turn.row) != (round, row)) {
            turns.push(Turn { round, row, first });
        }
    }
    (turns, fault)
}

/// Whether a placement has its turn before one of those after it that should have come first.
fn is_early(
    build: &Build,
    layer: &Layer,
    (stacks, marked): (&[Stack], &[Option<Bounds>]),
    turn: &Turn,
    later: &[Turn],
) -> bool {
    let from = match build.loaded.job.part_order.next {
        NextPart::AsListed => 0,
        NextPart::Rotating => first_row(build, layer.index),
        NextPart::Nearest => {
            let before = turn.first.checked_sub(1).and_then(|number| layer.blocks.get(number));
            if let Some(beam) = before.and_then(|block| block.paths.points().last()) {
                let away = stacks[turn.row as usize].bounds(layer.index);
                let away = away.map_or(0.0, |bounds| distance(bounds, *beam));
                return later.iter().any(|other| {
                    marked[other.row as usize]
                        .is_some_and(|bounds| away > distance(bounds, *beam) + BEYOND_NM)
                });
            }
            0
        }
    };
    let place = |row: u32| (row < from, row);
    later.iter().any(|other| place(other.row) < place(turn.row))
}

/// The placement that starts a layer where they take turns.
fn first_row(build: &Build, layer: u32) -> u32 {
    let z = build.height_mm(layer);
    let reaches = |row: &u32| {
        let (low, high) = build.placed[*row as usize].posed.bounds_mm;
        low[2] <= z && z <= high[2]
    };
    let all = 0..u32::try_from(build.placed.len()).unwrap_or(u32::MAX);
    let count = all.clone().filter(reaches).count().max(1);
    all.clone().filter(reaches).nth(layer as usize % count).unwrap_or(0)
}

/// The bounding boxes of all marks of each placement.
fn marked(layer: &Layer, placements: usize) -> Vec<Option<Bounds>> {
    let mut boxes: Vec<Option<Bounds>> = vec![None; placements];
    for block in &layer.blocks {
        let Some(bounds) = boxes.get_mut(block.placement as usize) else { continue };
        for p in block.paths.points() {
            let (low, high) = bounds.unwrap_or((*p, *p));
            let low = Point::new(low.x.min(p.x), low.y.min(p.y));
            *bounds = Some((low, Point::new(high.x.max(p.x), high.y.max(p.y))));
        }
    }
    boxes
}

/// How far a point lies from a box, nm.
fn distance((low, high): Bounds, p: Point) -> f64 {
    Point::new(p.x.clamp(low.x, high.x), p.y.clamp(low.y, high.y)).distance(p)
}
