//! A layer as moves in time.

use crate::head::Head;
use crate::moves::{BeamState, Move, MoveKind};
use crate::ramp::Ramp;
use crate::turn::Turn;
use crate::walk::walk;
use base::{NM_PER_MM, Point};
use scan_path::{Header, Layer};
use std::ops::Range;

/// All moves of a layer in order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    moves: Vec<Move>,
    /// Where the last move ends.
    end: Point,
    total_s: f64,
    /// Power and speed of the marks of each block.
    blocks: Vec<(f64, f64)>,
    head: Option<Head>,
}

/// A stretch of time with the same acceleration all along.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// When it starts, s from the start of the layer.
    pub start_s: f64,
    /// How long it takes, s.
    pub duration_s: f64,
    /// Where it starts, mm.
    pub position_mm: [f64; 2],
    /// Velocity at its start, mm/s.
    pub velocity_mm_s: [f64; 2],
    /// Acceleration, mm/s².
    pub acceleration_mm_s2: [f64; 2],
    /// Index of its move.
    pub index: usize,
}

/// How the beam runs in one move.
#[derive(Clone, Copy)]
enum Run {
    /// Straight on, in a direction of length 1.
    Straight([f64; 2], Ramp),
    Turn(Turn),
    Rest,
}

impl Timeline {
    /// Lays out a layer in time; at commanded speeds without a head. O(points), about 40 bytes for each move; a
    /// hatch line has up to four moves.
    pub fn new(layer: &Layer, header: &Header, head: Option<&Head>) -> Self {
        let mut moves = Vec::new();
        let mut end = Point::default();
        let total_s = walk(layer, header, head, |step| {
            moves.push(step.step);
            end = step.to;
        });
        let blocks = layer.blocks.iter().map(|block| {
            let exposure = header.exposures.get(usize::from(block.exposure));
            exposure.map_or((0.0, 0.0), |row| (row.power_w, row.speed_mm_s))
        });
        Self { moves, end, total_s, blocks: blocks.collect(), head: head.copied() }
    }

    /// How long the layer takes, s, without recoating.
    pub fn total_s(&self) -> f64 {
        self.total_s
    }

    /// Whether it is at commanded speeds, as if mirrors had no mass.
    pub fn is_ideal(&self) -> bool {
        self.head.is_none()
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

    /// Laser power during a move, W; 0 while it is dark.
    pub fn power_w(&self, step: &Move) -> f64 {
        let of_block = self.blocks.get(step.block as usize).map_or(0.0, |block| block.0);
        if step.kind.is_lit() { of_block } else { 0.0 }
    }

    /// Speed that the exposure of a move's block asks for, mm/s.
    pub fn asked_mm_s(&self, step: &Move) -> f64 {
        self.blocks.get(step.block as usize).map_or(0.0, |block| block.1)
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
        let ([position_mm, velocity_mm_s], _) = self.state(index, time_s - step.start_s);
        Some(BeamState {
            position_mm,
            velocity_mm_s,
            power_w: self.power_w(step),
            speed_mm_s: velocity_mm_s[0].hypot(velocity_mm_s[1]),
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
        let key = |step: &Move| (step.block, step.path, step.kind.rank(step.mark));
        let wanted = (block, path, MoveKind::Mark.rank(mark));
        self.moves.binary_search_by(|step| key(step).cmp(&wanted)).ok()
    }

    /// A move as stretches of even acceleration, one to five.
    pub fn pieces(&self, index: usize) -> Vec<Piece> {
        let Some(step) = self.moves.get(index) else { return Vec::new() };
        let duration_s = (self.end_s(index) - step.start_s).max(0.0);
        let mut breaks = vec![0.0, duration_s];
        match self.run(index) {
            Run::Straight(_, ramp) => breaks.extend(ramp.steady_s()),
            Run::Turn(turn) => turn.axes.iter().for_each(|axis| breaks.extend(axis.steady_s())),
            Run::Rest => {}
        }
        breaks.retain(|t| (0.0..=duration_s).contains(t));
        breaks.sort_by(f64::total_cmp);
        let pieces = breaks.windows(2).filter(|ends| ends[1] > ends[0]).map(|ends| {
            // in the middle, where it is clear which stretch it is
            let half = (ends[1] - ends[0]) / 2.0;
            let ([position, velocity], acceleration) = self.state(index, ends[0] + half);
            let velocity_mm_s = [0, 1].map(|i| velocity[i] - acceleration[i] * half);
            let position_mm =
                [0, 1].map(|i| position[i] - (velocity[i] - acceleration[i] * half / 2.0) * half);
            Piece {
                start_s: step.start_s + ends[0],
                duration_s: ends[1] - ends[0],
                position_mm,
                velocity_mm_s,
                acceleration_mm_s2: acceleration,
                index,
            }
        });
        pieces.collect()
    }

    /// Position and velocity, then acceleration, in a move so many seconds after its start.
    fn state(&self, index: usize, after_s: f64) -> ([[f64; 2]; 2], [f64; 2]) {
        let [x, y] = self.moves[index].from.to_mm();
        let from = [x, y];
        let add = |along: [f64; 2]| [from[0] + along[0], from[1] + along[1]];
        match self.run(index) {
            Run::Straight(direction, ramp) => {
                let at = ramp.at(after_s);
                let times = |by: f64| direction.map(|x| x * by);
                ([add(times(at.way_mm)), times(at.speed_mm_s)], times(at.acceleration_mm_s2))
            }
            Run::Turn(turn) => {
                let at = turn.axes.map(|axis| axis.at(after_s));
                let velocity = at.map(|at| at.speed_mm_s);
                ([add(at.map(|at| at.way_mm)), velocity], at.map(|at| at.acceleration_mm_s2))
            }
            Run::Rest => ([from, [0.0; 2]], [0.0; 2]),
        }
    }

    fn run(&self, index: usize) -> Run {
        let step = &self.moves[index];
        let to = self.to(index);
        let length_mm = step.from.distance(to) / NM_PER_MM;
        let duration_s = self.end_s(index) - step.start_s;
        let direction = direction(step.from, to);
        let Some(head) = self.head.filter(|_| step.speed_mm_s >= 0.0) else {
            return steady(direction, length_mm, duration_s);
        };
        match step.kind {
            MoveKind::Wait | MoveKind::Dwell => Run::Rest,
            MoveKind::Jump | MoveKind::RunPast => {
                let way = [0, 1].map(|i| to.to_mm()[i] - step.from.to_mm()[i]);
                let (from, to) = (self.velocity_before(index), self.velocity_after(index));
                Run::Turn(Turn::lasting(&head, way, from, to, duration_s))
            }
            MoveKind::Mark | MoveKind::RunIn | MoveKind::RunOut => {
                let Some(direction) = direction else { return Run::Rest };
                let ends = [step.speed_mm_s, self.end_speed(index)];
                let rate = head.acceleration_along(direction);
                Run::Straight(direction, Ramp::lasting(length_mm, duration_s, ends, rate))
            }
        }
    }

    /// Speed at the end of a move: that at the start of the next.
    fn end_speed(&self, index: usize) -> f64 {
        self.moves.get(index + 1).map_or(0.0, |next| next.speed_mm_s)
    }

    /// Run-ins and run-outs may be too short to have a direction of their own.
    fn direction_of_mark(&self, index: usize) -> Option<[f64; 2]> {
        let step = self.moves.get(index).filter(|step| step.kind == MoveKind::Mark)?;
        direction(step.from, self.to(index))
    }

    /// Velocity with which the beam comes into a turn: along the last mark that has a length.
    fn velocity_before(&self, index: usize) -> [f64; 2] {
        let speed = self.moves[index].speed_mm_s;
        let before = (0..index).rev().find_map(|i| self.direction_of_mark(i));
        before.map_or([0.0; 2], |direction| direction.map(|x| x * speed))
    }

    /// Velocity with which the beam goes on after a turn.
    fn velocity_after(&self, index: usize) -> [f64; 2] {
        let speed = self.end_speed(index);
        let mut later = index + 1..self.moves.len();
        let after = later.find_map(|i| self.direction_of_mark(i));
        after.map_or([0.0; 2], |direction| direction.map(|x| x * speed))
    }
}

/// Direction of length 1; `None` between equal points.
fn direction(from: Point, to: Point) -> Option<[f64; 2]> {
    let length_mm = from.distance(to) / NM_PER_MM;
    let way = [0, 1].map(|i| to.to_mm()[i] - from.to_mm()[i]);
    (length_mm > 0.0).then(|| way.map(|x| x / length_mm))
}

/// A move at one speed all along.
fn steady(direction: Option<[f64; 2]>, length_mm: f64, duration_s: f64) -> Run {
    let Some(direction) = direction.filter(|_| duration_s > 0.0) else { return Run::Rest };
    let speed = length_mm / duration_s;
    let ramp = Ramp { speeds_mm_s: [speed; 3], rates_mm_s2: [1.0; 2], duration_s };
    Run::Straight(direction, ramp)
}
