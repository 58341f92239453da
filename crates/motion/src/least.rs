//! How little time the jumps of a layer could take, whatever the order of the paths within a block.
//!
//! **Why it is a bound.** Every path of a block but the one that is run first is entered by a jump from another path
//! of that block. That jump takes no less than the shortest one from either end of any of them. The sum of these
//! shortest times, without the largest of them for the path that is first, is therefore no more than what any
//! order takes: a relaxation of the assignment of successors in which one path may precede several others. Jumps between
//! blocks count nothing.

use crate::grid::Grid;
use crate::head::Head;
use crate::jumps::{Jumps, PathEnd};
use crate::ramp::rest_to_rest_s;
use base::{NM_PER_MM, Point};
use scan_path::{Block, Header, Layer};

/// Time that the jumps within the blocks of a layer take at least, s, in whatever order and direction its paths are
/// run. Where all marks of a block run the same way, they keep it. Paths of several marks are entered anywhere. O(n) for
/// ordinary hatches, each end looking as far as a jump gets in the best time found.
pub fn least_jumps_s(layer: &Layer, header: &Header, head: Option<&Head>) -> f64 {
    let jumps = Jumps::new(header, head);
    let of_block = |block: &Block| {
        let Some(row) = header.exposures.get(usize::from(block.exposure)) else { return 0.0 };
        let mut times = if block.paths.iter().all(|points| points.len() == 2) {
            // speeds at both ends are as long marks have them
            let is_even = row.path_run_in_mm.to_bits() == row.path_run_out_mm.to_bits();
            if is_even { of_marks(block, &jumps, row.speed_mm_s) } else { Vec::new() }
        } else {
            of_boxes(block, header.jump_speed_mm_s, head.filter(|_| row.path_run_in_mm <= 0.0))
        };
        times.sort_by(f64::total_cmp);
        times.pop();
        times.iter().sum::<f64>()
    };
    layer.blocks.iter().map(of_block).sum()
}

/// Size of a cell of the grid in which ends are looked for, mm.
const CELL_MM: f64 = 1.0;

/// The shortest jump to each of a block's single marks.
fn of_marks(block: &Block, jumps: &Jumps, speed_mm_s: f64) -> Vec<f64> {
    let marks: Vec<[Point; 2]> =
        block.paths.iter().filter_map(|p| Some([*p.first()?, *p.last()?])).collect();
    let direction = |[a, b]: [Point; 2]| {
        let length = (a.distance(b) / NM_PER_MM).max(f64::MIN_POSITIVE);
        [0, 1].map(|i| (b.to_mm()[i] - a.to_mm()[i]) / length)
    };
    let Some(first) = marks.first().map(|mark| direction(*mark)) else { return Vec::new() };
    let is_with_first = |mark: &[Point; 2]| {
        let other = direction(*mark);
        first[0] * other[0] + first[1] * other[1] > 0.0
    };
    let ways = if marks.iter().all(is_with_first) { 1 } else { 2 };
    let turned = |mark: [Point; 2], way: usize| if way == 0 { mark } else { [mark[1], mark[0]] };
    let each = |mark: [Point; 2]| (0..ways).map(move |way| turned(mark, way));
    let ends = marks.iter().enumerate().flat_map(|(path, mark)| {
        each(*mark).map(move |m| {
            let end = jumps.leaving(block.exposure, m[1], direction(m));
            (end.at_mm, (path, end))
        })
    });
    let grid = Grid::new(CELL_MM, ends.collect());
    let shortest = |(path, mark): (usize, &[Point; 2])| {
        let entering = |m: [Point; 2]| jumps.entering(block.exposure, m[0], direction(m));
        let ways = each(*mark).map(|m| shortest_to(&entering(m), path, &grid, jumps, speed_mm_s));
        ways.fold(f64::INFINITY, f64::min)
    };
    marks.iter().enumerate().map(shortest).collect()
}

/// The shortest jump to an end from any other path; infinite if there is none.
fn shortest_to(
    to: &PathEnd,
    path: usize,
    grid: &Grid<(usize, PathEnd)>,
    jumps: &Jumps,
    speed_mm_s: f64,
) -> f64 {
    let centre = grid.cell_of(to.at_mm);
    let mut best = f64::INFINITY;
    let mut nearest_mm = -CELL_MM;
    for away in 0..grid.longest() {
        // what lies so many cells away is no more than one cell nearer; `to` may lie beyond the cells, farther off
        if nearest_mm / jumps.fastest_mm_s(speed_mm_s) >= best {
            break;
        }
        for (_, (other, from)) in grid.ring(centre, away) {
            if *other != path && jumps.at_least_s(from, to) < best {
                best = best.min(jumps.time_s(from, to));
            }
        }
        nearest_mm += CELL_MM;
    }
    best
}

/// Times that jumps to each of a block's paths take at least, by the boxes around them.
fn of_boxes(block: &Block, jump_mm_s: f64, standing: Option<&Head>) -> Vec<f64> {
    let bounds = |points: &[Point]| {
        let start = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        points.iter().map(|p| p.to_mm()).fold(start, |(low, high), p| {
            ([0, 1].map(|i| low[i].min(p[i])), [0, 1].map(|i| high[i].max(p[i])))
        })
    };
    let boxes: Vec<_> = block.paths.iter().map(bounds).collect();
    let time = |a: &([f64; 2], [f64; 2]), b: &([f64; 2], [f64; 2])| {
        let gaps = [0, 1].map(|i| (b.0[i] - a.1[i]).max(a.0[i] - b.1[i]).max(0.0));
        match standing {
            Some(head) => {
                let of_axis =
                    |i: usize| rest_to_rest_s(gaps[i], jump_mm_s, head.acceleration_mm_s2[i], None);
                of_axis(0).max(of_axis(1))
            }
            // run-ins and run-outs may bring the beam nearer
            None => 0.0,
        }
    };
    let to = |(i, a): (usize, &([f64; 2], [f64; 2]))| {
        let others = boxes.iter().enumerate().filter(|(j, _)| *j != i);
        others.map(|(_, b)| time(a, b)).fold(f64::INFINITY, f64::min)
    };
    boxes.iter().enumerate().map(to).collect()
}
