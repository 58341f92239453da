//! Runs through the moves of a layer.

use crate::head::{Corners, Head};
use crate::moves::{Move, MoveKind};
use crate::ramp::Ramp;
use crate::speeds::{self, Asked, Straight};
use crate::turn::Turn;
use base::{NM_PER_MM, Point};
use scan_path::{Header, Layer};

/// A move with its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The move.
    pub step: Move,
    /// Where it ends, nm.
    pub to: Point,
    /// Speed at its end, mm/s.
    pub end_speed_mm_s: f64,
    /// How long it takes, s.
    pub duration_s: f64,
    /// Speed that the exposure asks for, or the jump, mm/s.
    pub asked_mm_s: f64,
    /// Whether it begins in a corner that cannot be run at full speed.
    pub is_after_corner: bool,
}

/// Runs through the moves of a layer in order of time and gives each to `visit`. Returns how long all take, s.
/// O(points).
///
/// Each path is a jump to it, its run-in, its marks and its run-out. The way to the first path of a layer is not
/// counted, as in [`scan_path::stats()`]. Moves without length or time are left out, but for marks. A speed that
/// is not above zero, or an exposure that the table lacks, takes no time: such a header is a stop finding
/// ([`Header::problems`]), not a reason to show nothing.
pub fn walk(layer: &Layer, header: &Header, head: Option<&Head>, visit: impl FnMut(Step)) -> f64 {
    let jump_mm_s = header.jump_speed_mm_s;
    let jump_mm_s = if jump_mm_s.is_finite() && jump_mm_s > 0.0 { jump_mm_s } else { 0.0 };
    let place = Move {
        start_s: 0.0,
        speed_mm_s: 0.0,
        from: Point::default(),
        block: 0,
        path: 0,
        mark: 0,
        kind: MoveKind::Mark,
    };
    let mut walker = Walker {
        visit,
        jump_mm_s,
        time_s: 0.0,
        place,
        straights: Vec::new(),
        left: None,
        is_after_corner: false,
    };
    for (block_index, block) in layer.blocks.iter().enumerate() {
        let exposure = header.exposures.get(usize::from(block.exposure));
        let speed = exposure.map_or(0.0, |row| row.speed_mm_s);
        let asked = Asked {
            speed_mm_s: if speed.is_finite() && speed > 0.0 { speed } else { 0.0 },
            run_in_mm: exposure.map_or(0.0, |row| row.path_run_in_mm),
            run_out_mm: exposure.map_or(0.0, |row| row.path_run_out_mm),
        };
        for (path_index, points) in block.paths.iter().enumerate() {
            walker.place =
                Move { block: saturated(block_index), path: saturated(path_index), ..place };
            match head {
                Some(head) if asked.speed_mm_s > 0.0 && jump_mm_s > 0.0 => {
                    walker.moving(head, points, asked);
                }
                _ => walker.ideal(points, asked),
            }
        }
    }
    walker.stop();
    walker.time_s
}

struct Walker<V> {
    visit: V,
    jump_mm_s: f64,
    time_s: f64,
    /// Block and path that is being walked along.
    place: Move,
    straights: Vec<Straight>,
    /// How the path before was left.
    left: Option<Left>,
    /// Whether the next move begins in a corner that cannot be run at full speed.
    is_after_corner: bool,
}

/// The end of a path.
#[derive(Clone, Copy)]
struct Left {
    place: Move,
    at: Point,
    direction: [f64; 2],
    speed_mm_s: f64,
    asked_mm_s: f64,
    /// Stretch at steady speed before it brakes, mm.
    steady_mm: f64,
    /// Stretch in which it brakes, mm.
    braking_mm: f64,
    acceleration: f64,
}

impl<V: FnMut(Step)> Walker<V> {
    #[expect(clippy::too_many_arguments, reason = "what a move is made of")]
    fn go(
        &mut self,
        place: Move,
        kind: MoveKind,
        mark: usize,
        [from, to]: [Point; 2],
        [start, end]: [f64; 2],
        duration_s: f64,
        asked_mm_s: f64,
    ) {
        let mark = saturated(mark);
        let step = Move { start_s: self.time_s, speed_mm_s: start, from, mark, kind, ..place };
        let is_after_corner = std::mem::take(&mut self.is_after_corner);
        (self.visit)(Step {
            step,
            to,
            end_speed_mm_s: end,
            duration_s,
            asked_mm_s,
            is_after_corner,
        });
        self.time_s += duration_s;
    }

    /// A move at one speed all along.
    fn steady(&mut self, kind: MoveKind, mark: usize, ends: [Point; 2], speed_mm_s: f64) {
        let duration_s = ends[0].distance(ends[1]) / NM_PER_MM / speed_mm_s;
        let duration_s = if speed_mm_s > 0.0 { duration_s } else { 0.0 };
        self.go(self.place, kind, mark, ends, [speed_mm_s; 2], duration_s, speed_mm_s);
    }

    /// A path at commanded speeds.
    fn ideal(&mut self, points: &[Point], asked: Asked) {
        let (Some(&first), Some(&last)) = (points.first(), points.last()) else { return };
        let start = beyond(points.iter().copied(), asked.run_in_mm);
        let end = beyond(points.iter().rev().copied(), asked.run_out_mm);
        let (speed, jump_mm_s) = (asked.speed_mm_s, self.jump_mm_s);
        if let Some(left) = self.left.filter(|left| left.at != start) {
            self.steady(MoveKind::Jump, 0, [left.at, start], jump_mm_s);
        }
        if start != first {
            self.steady(MoveKind::RunIn, 0, [start, first], speed);
        }
        for (mark, ends) in points.windows(2).enumerate() {
            self.steady(MoveKind::Mark, mark, [ends[0], ends[1]], speed);
        }
        if last != end {
            self.steady(MoveKind::RunOut, 0, [last, end], speed);
        }
        self.left = Some(Left {
            place: self.place,
            at: end,
            direction: [0.0; 2],
            speed_mm_s: 0.0,
            asked_mm_s: speed,
            steady_mm: 0.0,
            braking_mm: 0.0,
            acceleration: 1.0,
        });
    }

    /// A path with a head that has to speed up and slow down.
    fn moving(&mut self, head: &Head, points: &[Point], asked: Asked) {
        let mut straights = std::mem::take(&mut self.straights);
        speeds::along(head, points, asked, &mut straights);
        if let (Some(first), Some(last)) = (straights.first(), straights.last()) {
            self.reach(head, points[first.mark], first, asked);
            self.marks(head, points, &straights, asked);
            let braking_mm = last.speeds[1] * last.speeds[1] / (2.0 * last.acceleration);
            let is_full = last.speeds[1] >= asked.speed_mm_s;
            self.left = Some(Left {
                place: self.place,
                at: points[last.mark + 1],
                direction: last.direction,
                speed_mm_s: last.speeds[1],
                asked_mm_s: asked.speed_mm_s,
                steady_mm: if is_full { (asked.run_out_mm - braking_mm).max(0.0) } else { 0.0 },
                braking_mm,
                acceleration: last.acceleration,
            });
        } else {
            self.ideal(points, Asked { run_in_mm: 0.0, run_out_mm: 0.0, ..asked });
        }
        self.straights = straights;
    }

    /// From the path before, or from a standstill, to the first mark of a path.
    fn reach(&mut self, head: &Head, start: Point, first: &Straight, asked: Asked) {
        let speed = first.speeds[0];
        let starting_mm = speed * speed / (2.0 * first.acceleration);
        let is_full = speed >= asked.speed_mm_s;
        let steady_mm = if is_full { (asked.run_in_mm - starting_mm).max(0.0) } else { 0.0 };
        let back = first.direction.map(|x| -x);
        let straight_from = moved(start, back, steady_mm);
        let Some(left) = self.left else {
            // the first path of a layer: from a standstill
            self.settle(head, straight_from, speed);
            let from = moved(start, back, steady_mm + starting_mm);
            if from != start {
                let length_mm = from.distance(start) / NM_PER_MM;
                let rates = [first.acceleration; 2];
                let ramp = Ramp::fastest(length_mm, [0.0, speed], speed, rates);
                let ends = [0.0, speed];
                let kind = MoveKind::RunIn;
                self.go(
                    self.place,
                    kind,
                    0,
                    [from, start],
                    ends,
                    ramp.duration_s,
                    asked.speed_mm_s,
                );
            }
            return;
        };
        let turns_at = self.run_on(&left);
        let way = [0, 1].map(|i| straight_from.to_mm()[i] - turns_at.to_mm()[i]);
        let from_mm_s = left.direction.map(|x| x * left.speed_mm_s);
        let to_mm_s = first.direction.map(|x| x * speed);
        let turn = Turn::fastest(head, way, from_mm_s, to_mm_s, self.jump_mm_s, head.jerk_s());
        if turn.duration_s > 0.0 {
            let (ends, speeds) = ([turns_at, straight_from], [left.speed_mm_s, speed]);
            self.go(self.place, MoveKind::Jump, 0, ends, speeds, turn.duration_s, self.jump_mm_s);
        }
        self.settle(head, straight_from, speed);
        if straight_from != start {
            self.steady(MoveKind::RunIn, 0, [straight_from, start], speed);
        }
    }

    /// Waits where a mark begins at a standstill.
    fn settle(&mut self, head: &Head, at: Point, speed_mm_s: f64) {
        let wait_s = head.settle_s + head.jerk_s() / 2.0;
        if speed_mm_s <= 0.0 && wait_s > 0.0 {
            self.go(self.place, MoveKind::Wait, 0, [at, at], [0.0; 2], wait_s, 0.0);
        }
    }

    /// The steady part of the run-out; returns where braking begins.
    fn run_on(&mut self, left: &Left) -> Point {
        let to = moved(left.at, left.direction, left.steady_mm);
        if to != left.at {
            let duration_s = left.at.distance(to) / NM_PER_MM / left.speed_mm_s;
            let speeds = [left.speed_mm_s; 2];
            let kind = MoveKind::RunOut;
            self.go(left.place, kind, 0, [left.at, to], speeds, duration_s, left.asked_mm_s);
        }
        to
    }

    fn marks(&mut self, head: &Head, points: &[Point], straights: &[Straight], asked: Asked) {
        let full = asked.speed_mm_s;
        let mut straights = straights.iter().peekable();
        let mut speed = 0.0;
        for (mark, ends) in points.windows(2).enumerate() {
            let ends = [ends[0], ends[1]];
            let Some(s) = straights.next_if(|s| s.mark == mark) else {
                self.go(self.place, MoveKind::Mark, mark, ends, [speed; 2], 0.0, full);
                continue;
            };
            let ramp = Ramp::fastest(s.length_mm, s.speeds, s.most_mm_s, [s.acceleration; 2]);
            self.go(self.place, MoveKind::Mark, mark, ends, s.speeds, ramp.duration_s, full);
            speed = s.speeds[1];
            let Some(next) = straights.peek().filter(|_| s.is_sharp) else { continue };
            let here = [ends[1]; 2];
            match head.corners {
                Corners::SlowDown => {}
                Corners::Dwell { wait_s } => {
                    let wait_s = wait_s + head.jerk_s();
                    self.go(self.place, MoveKind::Dwell, mark, here, [0.0; 2], wait_s, full);
                }
                Corners::RunPast => {
                    let velocity = |s: &Straight, speed: f64| s.direction.map(|x| x * speed);
                    let (from, to) = (velocity(s, s.speeds[1]), velocity(next, next.speeds[0]));
                    let jump = self.jump_mm_s;
                    let turn = Turn::fastest(head, [0.0; 2], from, to, jump, head.jerk_s());
                    let (kind, speeds) = (MoveKind::RunPast, [s.speeds[1], next.speeds[0]]);
                    self.go(self.place, kind, mark, here, speeds, turn.duration_s, full);
                }
            }
            self.is_after_corner = true;
        }
    }

    /// Brakes after the last path.
    fn stop(&mut self) {
        let Some(left) = self.left.filter(|left| left.braking_mm > 0.0) else { return };
        let to = moved(left.at, left.direction, left.steady_mm + left.braking_mm);
        let length_mm = left.at.distance(to) / NM_PER_MM;
        let ends = [left.speed_mm_s, 0.0];
        let ramp = Ramp::fastest(length_mm, ends, left.speed_mm_s, [left.acceleration; 2]);
        let kind = MoveKind::RunOut;
        self.go(left.place, kind, 0, [left.at, to], ends, ramp.duration_s, left.asked_mm_s);
    }
}

/// The point `length_mm` before the first of `points`, straight back along the path's first stretch of some
/// length; the first point itself if there is none. Rounded to the grid.
fn beyond(mut points: impl Iterator<Item = Point>, length_mm: f64) -> Point {
    let Some(first) = points.next() else { return Point::default() };
    let Some(towards) = points.find(|&point| point != first) else { return first };
    let [dx, dy] = [0, 1].map(|i| first.to_mm()[i] - towards.to_mm()[i]);
    let distance_mm = first.distance(towards) / NM_PER_MM;
    moved(first, [dx / distance_mm, dy / distance_mm], length_mm)
}

/// A point moved along a direction of length 1, rounded to the grid.
fn moved(from: Point, direction: [f64; 2], length_mm: f64) -> Point {
    let by = length_mm * NM_PER_MM;
    if !(by.is_finite() && by > 0.0) {
        return from;
    }
    let coordinate = |at: i32, along: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "saturates at the ends of the range")]
        let rounded = (f64::from(at) + by * along).round() as i32;
        rounded
    };
    Point::new(coordinate(from.x, direction[0]), coordinate(from.y, direction[1]))
}

fn saturated(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}
