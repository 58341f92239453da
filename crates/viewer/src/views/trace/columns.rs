//! Millions of moves as one column for each pixel: the range and the mean over time.
//!
//! Sums over groups of moves are made once for a layer; a picture then looks at a few hundred
//! moves for each of its columns, however long the layer.

use motion::{Piece, Timeline};
use std::sync::Arc;

/// Moves that are summed up as one.
const GROUP: usize = 256;

/// Power (W) and speed (mm/s).
type Pair = [f32; 2];

/// Lowest and highest values, and integrals over time, of some moves.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Sum {
    range: [Pair; 2],
    integral: [f64; 2],
    time_s: f64,
}

impl Sum {
    const NOTHING: Self =
        Self { range: [[f32::INFINITY, f32::NEG_INFINITY]; 2], integral: [0.0; 2], time_s: 0.0 };

    fn add(&mut self, other: &Self) {
        for i in 0..2 {
            self.range[i][0] = self.range[i][0].min(other.range[i][0]);
            self.range[i][1] = self.range[i][1].max(other.range[i][1]);
            self.integral[i] += other.integral[i];
        }
        self.time_s += other.time_s;
    }
}

/// The sums of a layer.
pub(super) struct Sums {
    groups: Vec<Sum>,
    /// Highest power and speed of the layer.
    most: Pair,
}

impl Sums {
    /// O(moves).
    pub(super) fn new(timeline: &Timeline) -> Self {
        let count = timeline.moves().len();
        let group = |start: usize| {
            let mut sum = Sum::NOTHING;
            for index in start..(start + GROUP).min(count) {
                let from_s = timeline.moves()[index].start_s;
                sum.add(&of_move(timeline, index, from_s, timeline.end_s(index)));
            }
            sum
        };
        let groups: Vec<Sum> = (0..count).step_by(GROUP).map(group).collect();
        let most = groups
            .iter()
            .fold([0.0_f32; 2], |most, sum| [0, 1].map(|i| most[i].max(sum.range[i][1])));
        Self { groups, most }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "drawn in single precision")]
fn values(timeline: &Timeline, index: usize) -> Pair {
    let step = &timeline.moves()[index];
    [timeline.power_w(step) as f32, step.speed_mm_s as f32]
}

/// The sum over a part of one move.
fn of_move(timeline: &Timeline, index: usize, from_s: f64, to_s: f64) -> Sum {
    if timeline.is_ideal() {
        return even(values(timeline, index), to_s - from_s);
    }
    let [power, _] = values(timeline, index);
    let mut sum = Sum::NOTHING;
    for piece in timeline.pieces(index) {
        let start = (from_s - piece.start_s).clamp(0.0, piece.duration_s);
        let end = (to_s - piece.start_s).clamp(start, piece.duration_s);
        for part in 0..PARTS {
            let at = |part: u32| start + (end - start) * f64::from(part) / f64::from(PARTS);
            let (speed, next) = (speed(&piece, at(part)), speed(&piece, at(part + 1)));
            let mut one = even([power, f32::midpoint(speed, next)], at(part + 1) - at(part));
            one.range[1] = [speed.min(next), speed.max(next)];
            sum.add(&one);
        }
    }
    sum
}

fn even(values: Pair, time_s: f64) -> Sum {
    let time_s = time_s.max(0.0);
    Sum { range: values.map(|v| [v, v]), integral: values.map(|v| f64::from(v) * time_s), time_s }
}

/// Straight parts of which a curve of the speed is drawn, from one change of acceleration to the next: along a
/// mark it is straight anyway.
const PARTS: u32 = 4;

#[expect(clippy::cast_possible_truncation, reason = "drawn in single precision")]
fn speed(piece: &Piece, after_s: f64) -> f32 {
    let velocity = [0, 1].map(|i| piece.velocity_mm_s[i] + piece.acceleration_mm_s2[i] * after_s);
    velocity[0].hypot(velocity[1]) as f32
}

/// A move as it is drawn where there is room for it.
fn steps_of(timeline: &Timeline, index: usize) -> Vec<Step> {
    let values = values(timeline, index);
    if timeline.is_ideal() {
        let (from_s, to_s) = (timeline.moves()[index].start_s, timeline.end_s(index));
        return vec![Step { from_s, to_s, values, end_values: values }];
    }
    let parts = timeline.pieces(index).into_iter().flat_map(|piece| {
        (0..PARTS).map(move |part| {
            let at = |part: u32| piece.duration_s * f64::from(part) / f64::from(PARTS);
            let (from, to) = (at(part), at(part + 1));
            Step {
                from_s: piece.start_s + from,
                to_s: piece.start_s + to,
                values: [values[0], speed(&piece, from)],
                end_values: [values[0], speed(&piece, to)],
            }
        })
    });
    parts.collect()
}

/// What one pixel spans.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Column {
    /// Lowest and highest power and speed.
    pub(super) range: [Pair; 2],
    /// Their means over time.
    pub(super) mean: Pair,
}

/// A move, or a part of one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    /// Power and speed at its start and end.
    pub(super) values: Pair,
    pub(super) end_values: Pair,
}

/// What there is to draw.
pub(super) enum Span {
    /// Every move: there are fewer than pixels.
    Steps(Vec<Step>),
    /// One entry for each pixel.
    Columns(Vec<Column>),
}

/// A picture of a stretch of time.
pub(super) struct Columns {
    of: Arc<Sums>,
    window: [f64; 2],
    count: usize,
    /// Highest power and speed of the whole layer.
    pub(super) most: Pair,
    pub(super) span: Span,
}

impl Columns {
    /// `count` columns over a stretch of time, s.
    pub(super) fn new(
        timeline: &Timeline,
        sums: &Arc<Sums>,
        window: [f64; 2],
        count: usize,
    ) -> Self {
        let first = timeline.index_at(window[0]).unwrap_or(0);
        let last = timeline.index_at(window[1]).unwrap_or(0);
        let span = if last - first < count {
            let last = if timeline.moves().is_empty() { 0 } else { last + 1 };
            Span::Steps((first..last).flat_map(|index| steps_of(timeline, index)).collect())
        } else {
            let width_s = (window[1] - window[0]) / count as f64;
            let mut columns: Vec<Column> = Vec::with_capacity(count);
            for column in 0..count {
                let from_s = window[0] + column as f64 * width_s;
                let sum = between(timeline, sums, from_s, from_s + width_s);
                columns.push(Column {
                    range: sum.range,
                    mean: [0, 1].map(|i| {
                        #[expect(clippy::cast_possible_truncation, reason = "to be drawn")]
                        let mean = (sum.integral[i] / sum.time_s.max(1e-300)) as f32;
                        mean.clamp(sum.range[i][0], sum.range[i][1])
                    }),
                });
            }
            Span::Columns(columns)
        };
        Self { of: Arc::clone(sums), window, count, most: sums.most, span }
    }

    pub(super) fn is_of(&self, sums: &Arc<Sums>, window: [f64; 2], count: usize) -> bool {
        Arc::ptr_eq(&self.of, sums)
            && self.window.map(f64::to_bits) == window.map(f64::to_bits)
            && self.count == count
    }
}

/// The sum over a stretch of time: parts of the first and the last move, whole moves up to the
/// next group, whole groups between.
fn between(timeline: &Timeline, sums: &Sums, from_s: f64, to_s: f64) -> Sum {
    let mut sum = Sum::NOTHING;
    let (Some(first), Some(last)) = (timeline.index_at(from_s), timeline.index_at(to_s)) else {
        return sum;
    };
    let mut index = first;
    while index <= last {
        if index.is_multiple_of(GROUP) && index > first && index + GROUP <= last {
            sum.add(&sums.groups[index / GROUP]);
            index += GROUP;
            continue;
        }
        let start_s = timeline.moves()[index].start_s.max(from_s);
        sum.add(&of_move(timeline, index, start_s, timeline.end_s(index).min(to_s)));
        index += 1;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::Point;
    use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

    /// Hatch lines of 1 mm, each 0.01 mm longer than the one before, there and back.
    fn timeline(lines: i32) -> Timeline {
        let line = |k: i32| {
            let (y, long) = (k * 100_000, 1_000_000 + k * 10_000);
            let ends = [Point::new(0, y), Point::new(long, y)];
            if k % 2 == 0 { ends } else { [ends[1], ends[0]] }
        };
        let row = ExposureRow {
            power_w: 20.0,
            speed_mm_s: 2000.0,
            path_run_in_mm: 0.1,
            path_run_out_mm: 0.1,
            ..ExposureRow::default()
        };
        let header = Header { jump_speed_mm_s: 5000.0, exposures: vec![row], ..Header::default() };
        let paths = Paths::Segments((0..lines).map(line).collect());
        let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
        let block = Block { placement: 0, exposure: 0, kind, region, paths };
        Timeline::new(&Layer { index: 0, blocks: vec![block] }, &header, None)
    }

    #[test]
    fn columns_have_the_range_and_the_mean_that_all_moves_give() {
        let timeline = timeline(900);
        let sums = Arc::new(Sums::new(&timeline));
        let total = timeline.total_s();
        for window in [[0.0, total], [0.3 * total, 0.31 * total], [0.1 * total, 0.8 * total]] {
            let count = 7;
            let columns = Columns::new(&timeline, &sums, window, count);
            let Span::Columns(found) = &columns.span else { panic!("more moves than pixels") };
            for (column, found) in found.iter().enumerate() {
                let width = (window[1] - window[0]) / count as f64;
                let (from, to) =
                    (window[0] + column as f64 * width, window[0] + (column + 1) as f64 * width);
                let (mut energy, mut low, mut high) = (0.0, f32::INFINITY, 0.0_f32);
                for (index, step) in timeline.moves().iter().enumerate() {
                    let (start, end) = (step.start_s.max(from), timeline.end_s(index).min(to));
                    if start < end {
                        energy += (end - start) * timeline.power_w(step);
                        let [_, speed] = values(&timeline, index);
                        (low, high) = (low.min(speed), high.max(speed));
                    }
                }
                let mean = energy / width;
                assert!((f64::from(found.mean[0]) - mean).abs() < 1e-3, "{mean} {found:?}");
                assert!(found.range[1][0] <= low && found.range[1][1] >= high, "{found:?}");
                assert!(found.range[0][0] < 1e-6 && (found.range[0][1] - 20.0).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn few_moves_are_drawn_as_steps() {
        let timeline = timeline(3);
        let sums = Arc::new(Sums::new(&timeline));
        let columns = Columns::new(&timeline, &sums, [0.0, timeline.total_s()], 500);
        let Span::Steps(steps) = &columns.span else { panic!("fewer moves than pixels") };
        assert_eq!(steps.len(), timeline.moves().len());
        assert!((steps[1].to_s - steps[2].from_s).abs() < 1e-15);
        let nothing = Timeline::default();
        let sums = Arc::new(Sums::new(&nothing));
        let columns = Columns::new(&nothing, &sums, [0.0, 1.0], 5);
        assert!(matches!(&columns.span, Span::Steps(steps) if steps.is_empty()));
    }
}
