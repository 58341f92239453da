//! A layer as moves in time, at commanded speeds.
//!
//! Each path is a jump to it, its run-in, its marks and its run-out, one after the other. **Mirror
//! dynamics are not in it**: every move is taken to run at its commanded speed from its first to
//! its last point, without acceleration, settling or delay. A real scan head needs longer.
//!
//! The way to the first path of a layer is not counted, as in [`stats`](crate::stats()). A speed
//! that is not above zero, or an exposure that the table lacks, takes no time: such a header is a
//! stop finding ([`Header::problems`]), not a reason to show nothing.

use crate::header::{ExposureRow, Header};
use crate::layer::Layer;
use base::{NM_PER_MM, Point};
use std::ops::Range;

/// What the beam does in one move. In the order in which they follow each other on a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MoveKind {
    /// Laser off, at jump speed, to the start of the path's run-in.
    Jump,
    /// Laser off, at the speed of the mark, straight up to the path's first point.
    RunIn,
    /// Laser on.
    Mark,
    /// Laser off, at the speed of the mark, straight on from the path's last point.
    RunOut,
}

/// One straight move, 32 bytes. It ends where and when the next one starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// When it starts, s from the start of the layer.
    pub start_s: f64,
    /// Where it starts, nm.
    pub from: Point,
    /// Index of its block in the layer.
    pub block: u32,
    /// Index of its path in the block; a jump belongs to the path that it leads to.
    pub path: u32,
    /// Index of the mark in the path; 0 for other kinds.
    pub mark: u32,
    /// What it is.
    pub kind: MoveKind,
}

/// Where the beam is and what it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeamState {
    /// Position, mm, build-space frame.
    pub position_mm: [f64; 2],
    /// Laser power at the bed, W; 0 unless the move is a mark.
    pub power_w: f64,
    /// Commanded speed, mm/s at the bed.
    pub speed_mm_s: f64,
    /// What the move is.
    pub kind: MoveKind,
    /// Index of the block in the layer.
    pub block: u32,
    /// Index of the path in the block.
    pub path: u32,
    /// Index of the mark in the path; 0 unless the move is a mark.
    pub mark: u32,
}

/// All moves of a layer in order of time, at commanded speeds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    moves: Vec<Move>,
    /// Where the last move ends.
    end: Point,
    total_s: f64,
    /// Power and speed of the marks of each block.
    blocks: Vec<(f64, f64)>,
    jump_speed_mm_s: f64,
}

impl Timeline {
    /// Lays out a layer in time. O(points), about 32 bytes for each move; a hatch line has up to
    /// four moves.
    pub fn new(layer: &Layer, header: &Header) -> Self {
        let mut moves = Vec::new();
        let mut end = Point::default();
        let total_s = walk(layer, header, |step, to| {
            moves.push(step);
            end = to;
        });
        let blocks = layer.blocks.iter().map(|block| {
            let exposure = header.exposures.get(usize::from(block.exposure));
            exposure.map_or((0.0, 0.0), |row| (row.power_w, row.speed_mm_s))
        });
        let blocks = blocks.collect();
        Self { moves, end, total_s, blocks, jump_speed_mm_s: header.jump_speed_mm_s }
    }

    /// How long the layer takes, s, without recoating.
    pub fn total_s(&self) -> f64 {
        self.total_s
    }

    /// The moves, in order of time.
    pub fn moves(&self) -> &[Move] {
        &self.moves
    }

    /// When a move ends, s; the end of the layer for the last one and beyond.
    pub fn end_s(&self, index: usize) -> f64 {
        self.moves.get(index.saturating_add(1)).map_or(self.total_s, |next| next.start_s)
    }

    /// Where a move ends, nm; the end of the layer for the last one and beyond.
    pub fn to(&self, index: usize) -> Point {
        self.moves.get(index.saturating_add(1)).map_or(self.end, |next| next.from)
    }

    /// Laser power during a move, W; 0 unless it is a mark.
    pub fn power_w(&self, step: &Move) -> f64 {
        match step.kind {
            MoveKind::Mark => self.blocks.get(step.block as usize).map_or(0.0, |block| block.0),
            MoveKind::Jump | MoveKind::RunIn | MoveKind::RunOut => 0.0,
        }
    }

    /// Commanded speed of a move, mm/s.
    pub fn speed_mm_s(&self, step: &Move) -> f64 {
        match step.kind {
            MoveKind::Jump => self.jump_speed_mm_s,
            MoveKind::RunIn | MoveKind::Mark | MoveKind::RunOut => {
                self.blocks.get(step.block as usize).map_or(0.0, |block| block.1)
            }
        }
    }

    /// Index of the move that runs at a time: the last one that has started. Times outside the
    /// layer give its first or last move; `None` if there is no move. O(log moves).
    pub fn index_at(&self, time_s: f64) -> Option<usize> {
        let last = self.moves.len().checked_sub(1)?;
        let started = self.moves.partition_point(|step| step.start_s <= time_s);
        Some(started.saturating_sub(1).min(last))
    }

    /// What the beam does at a time; times outside the layer are drawn to its start or end.
    /// `None` if there is no move. O(log moves).
    pub fn at(&self, time_s: f64) -> Option<BeamState> {
        let time_s = time_s.max(0.0); // not a number is the start
        let index = self.index_at(time_s)?;
        let step = &self.moves[index];
        let (a, b) = (step.from.to_mm(), self.to(index).to_mm());
        let duration_s = self.end_s(index) - step.start_s;
        let done = if duration_s > 0.0 {
            ((time_s - step.start_s) / duration_s).clamp(0.0, 1.0)
        } else {
            1.0
        };
        let position_mm = [a[0] + done * (b[0] - a[0]), a[1] + done * (b[1] - a[1])];
        Some(BeamState {
            position_mm,
            power_w: self.power_w(step),
            speed_mm_s: self.speed_mm_s(step),
            kind: step.kind,
            block: step.block,
            path: step.path,
            mark: step.mark,
        })
    }

    /// When a mark starts and ends, s; `None` if the layer has no such mark. O(log moves).
    pub fn time_of(&self, block: u32, path: u32, mark: u32) -> Option<Range<f64>> {
        let index = self.index_of(block, path, mark)?;
        Some(self.moves[index].start_s..self.end_s(index))
    }

    /// Index of a mark among the moves; `None` if the layer has no such mark. O(log moves).
    pub fn index_of(&self, block: u32, path: u32, mark: u32) -> Option<usize> {
        let key = |step: &Move| (step.block, step.path, step.kind, step.mark);
        let wanted = (block, path, MoveKind::Mark, mark);
        self.moves.binary_search_by(|step| key(step).cmp(&wanted)).ok()
    }
}

/// How long a layer takes at commanded speeds, s, without recoating: the same sum as
/// [`Timeline::total_s`], without keeping the moves. O(points).
pub fn layer_time_s(layer: &Layer, header: &Header) -> f64 {
    walk(layer, header, |_, _| {})
}

/// Runs through the moves of a layer and gives each, with where it ends, to `visit`. Returns the
/// time of all, s. Jumps, run-ins and run-outs without length are left out; marks never are.
fn walk(layer: &Layer, header: &Header, mut visit: impl FnMut(Move, Point)) -> f64 {
    let mut time_s = 0.0;
    let mut beam_at: Option<Point> = None;
    for (block_index, block) in layer.blocks.iter().enumerate() {
        let exposure = header.exposures.get(usize::from(block.exposure));
        let speed_mm_s = exposure.map_or(0.0, |row| row.speed_mm_s);
        let length_mm = |of: fn(&ExposureRow) -> f64| exposure.map_or(0.0, of);
        let (path_run_in_mm, path_run_out_mm) =
            (length_mm(|row| row.path_run_in_mm), length_mm(|row| row.path_run_out_mm));
        for (path_index, points) in block.paths.iter().enumerate() {
            let (Some(&first), Some(&last)) = (points.first(), points.last()) else { continue };
            let (start, end) = (
                run_start(points.iter().copied(), path_run_in_mm),
                run_start(points.iter().rev().copied(), path_run_out_mm),
            );
            let mut go = |kind, mark: usize, from, to, speed_mm_s| {
                let [block, path, mark] = [block_index, path_index, mark].map(saturated);
                visit(Move { start_s: time_s, from, block, path, mark, kind }, to);
                time_s += duration_s(from, to, speed_mm_s);
            };
            if let Some(from) = beam_at.filter(|&from| from != start) {
                go(MoveKind::Jump, 0, from, start, header.jump_speed_mm_s);
            }
            if start != first {
                go(MoveKind::RunIn, 0, start, first, speed_mm_s);
            }
            for (mark, ends) in points.windows(2).enumerate() {
                go(MoveKind::Mark, mark, ends[0], ends[1], speed_mm_s);
            }
            if last != end {
                go(MoveKind::RunOut, 0, last, end, speed_mm_s);
            }
            beam_at = Some(end);
        }
    }
    time_s
}

/// The point `length_mm` before the first of `points`, straight back along the path's first
/// stretch of some length; the first point itself if there is none. Rounded to the grid.
fn run_start(mut points: impl Iterator<Item = Point>, length_mm: f64) -> Point {
    let Some(first) = points.next() else { return Point::default() };
    let Some(towards) = points.find(|&point| point != first) else { return first };
    let back = length_mm * NM_PER_MM / first.distance(towards);
    if !(back.is_finite() && back > 0.0) {
        return first;
    }
    let coordinate = |at: i32, next: i32| {
        let moved = f64::from(at) - back * (f64::from(next) - f64::from(at));
        #[expect(clippy::cast_possible_truncation, reason = "saturates at the ends of the range")]
        let rounded = moved.round() as i32;
        rounded
    };
    Point::new(coordinate(first.x, towards.x), coordinate(first.y, towards.y))
}

fn duration_s(from: Point, to: Point, speed_mm_s: f64) -> f64 {
    let duration_s = from.distance(to) / NM_PER_MM / speed_mm_s;
    if speed_mm_s > 0.0 && duration_s.is_finite() { duration_s } else { 0.0 }
}

fn saturated(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests;
