//! How little time the jumps of a layer could take, whatever the order of the paths within a block.
//!
//! **Why it is a bound.** The jumps of a block are a way through all its paths, and `tree` says what no such way
//! stays below, each jump at its shortest, from whichever ends. Of blocks too large for that: every path but the one
//! that is run first is entered by a jump that takes no less than the shortest one from either end of any other; the sum of
//! these, without the largest, is no more than what any order takes. Jumps between blocks count nothing.

mod tree;

use crate::grid::Grid;
use crate::head::Head;
use crate::jumps::{Jumps, PathEnd};
use crate::ramp::rest_to_rest_s;
use base::{NM_PER_MM, Point};
use scan_path::{Block, Header, Layer};

/// Time that the jumps within the blocks of a layer take at least, s, in whatever order and direction its paths are
/// run. Where all marks of a block run the same way, they keep it. Paths of several marks are entered anywhere. O(n²) for
/// blocks of up to 2,000 marks, O(n) for larger ordinary hatches, each end looking as far as a jump gets in the best
/// time found.
pub fn least_jumps_s(layer: &Layer, header: &Header, head: Option<&Head>) -> f64 {
    let jumps = Jumps::new(header, head);
    let of_block = |block: &Block| {
        let Some(row) = header.exposures.get(usize::from(block.exposure)) else { return 0.0 };
        if !block.paths.iter().all(|points| points.len() == 2) {
            let standing = head.filter(|_| row.path_run_in_mm <= 0.0);
            return all_but_one(of_boxes(block, header.jump_speed_mm_s, standing));
        }
        // speeds at both ends are as long marks have them
        let is_even = row.path_run_in_mm.to_bits() == row.path_run_out_mm.to_bits();
        if !is_even {
            return 0.0;
        }
        let marks = Marks::of(block, &jumps);
        let least = all_but_one(marks.shortest(row.speed_mm_s));
        if marks.each.len() > MOST_IN_A_TREE {
            return least;
        }
        tree::least_path(marks.each.len(), &marks.costs()).max(least)
    };
    layer.blocks.iter().map(of_block).sum()
}

/// Size of a cell of the grid in which ends are looked for, mm.
const CELL_MM: f64 = 1.0;

/// Marks of a block that still are looked at all together: the costs of all pairs are kept.
const MOST_IN_A_TREE: usize = 2000;

/// Jumps of up to so many times the shortest one from a mark are worked out exactly; a bound suffices for longer ones.
const EXACT: f64 = 1.5;

/// The sum of times without the largest.
fn all_but_one(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times.pop();
    times.iter().sum()
}

/// The single marks of a block, each with the ways in which it may be run: where a jump to it ends, and where the
/// next one begins.
struct Marks<'a> {
    jumps: &'a Jumps,
    each: Vec<Vec<[PathEnd; 2]>>,
}

impl<'a> Marks<'a> {
    fn of(block: &Block, jumps: &'a Jumps) -> Self {
        let marks: Vec<[Point; 2]> =
            block.paths.iter().filter_map(|p| Some([*p.first()?, *p.last()?])).collect();
        let direction = |[a, b]: [Point; 2]| {
            let length = (a.distance(b) / NM_PER_MM).max(f64::MIN_POSITIVE);
            [0, 1].map(|i| (b.to_mm()[i] - a.to_mm()[i]) / length)
        };
        let first = marks.first().map_or([0.0; 2], |mark| direction(*mark));
        let is_with_first = |mark: &[Point; 2]| {
            let other = direction(*mark);
            first[0] * other[0] + first[1] * other[1] > 0.0
        };
        let is_one_way = marks.iter().all(is_with_first);
        let run = |mark: [Point; 2]| {
            let along = direction(mark);
            let enter = jumps.entering(block.exposure, mark[0], along);
            [enter, jumps.leaving(block.exposure, mark[1], along)]
        };
        let ways = |mark: &[Point; 2]| {
            let [a, b] = *mark;
            if is_one_way { vec![run([a, b])] } else { vec![run([a, b]), run([b, a])] }
        };
        Self { jumps, each: marks.iter().map(ways).collect() }
    }

    /// What it costs at least to go from each mark to each other, or back: exact for those that lie near.
    fn costs(&self) -> Vec<f64> {
        let n = self.each.len();
        let least_of = |a: usize, b: usize, time: fn(&Jumps, &PathEnd, &PathEnd) -> f64| {
            let ways = self.each[a].iter().flat_map(|x| self.each[b].iter().map(move |y| (x, y)));
            let both = ways.flat_map(|(x, y)| [(&x[1], &y[0]), (&y[1], &x[0])]);
            both.map(|(from, to)| time(self.jumps, from, to)).fold(f64::INFINITY, f64::min)
        };
        let mut bounds = vec![0.0; n * n];
        for a in 0..n {
            for b in 0..a {
                let bound = least_of(a, b, Jumps::at_least_s);
                bounds[a * n + b] = bound;
                bounds[b * n + a] = bound;
            }
        }
        let mut costs = bounds.clone();
        // a bound that is above the shortest exact time needs no closer look
        let mut shortest = vec![f64::INFINITY; n];
        let mut near: Vec<usize> = Vec::with_capacity(n);
        for a in 0..n {
            near.clear();
            near.extend((0..n).filter(|b| *b != a));
            near.sort_by(|b, c| bounds[a * n + *b].total_cmp(&bounds[a * n + *c]).then(b.cmp(c)));
            for &b in &near {
                if bounds[a * n + b] > EXACT * shortest[a] {
                    break;
                }
                let exact = least_of(a, b, Jumps::time_s);
                shortest[a] = shortest[a].min(exact);
                costs[a * n + b] = exact;
                costs[b * n + a] = exact;
            }
        }
        costs
    }

    /// The shortest jump to each mark from any other.
    fn shortest(&self, speed_mm_s: f64) -> Vec<f64> {
        let leaving =
            self.each.iter().enumerate().flat_map(|(path, ways)| {
                ways.iter().map(move |way| (way[1].at_mm, (path, way[1])))
            });
        let grid = Grid::new(CELL_MM, leaving.collect());
        let to = |(path, ways): (usize, &Vec<[PathEnd; 2]>)| {
            let times =
                ways.iter().map(|way| shortest_to(&way[0], path, &grid, self.jumps, speed_mm_s));
            times.fold(f64::INFINITY, f64::min)
        };
        self.each.iter().enumerate().map(to).collect()
    }
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
