//! What the head cannot do as it is asked to: slow starts and corners, light that is too short or too long.

use super::layer_report::LayerReport;
use super::span::Span;
use base::Finding;
use base::finding::MotionProblem;
use job::Machine;
use motion::{MoveKind, Step, run_in_mm};
use scan_path::Layer;

/// What of the marks of a placement the head cannot do as it is asked to, over any number of layers.
#[derive(Clone, Debug, Default)]
pub(super) struct Motion {
    starts: Worst,
    corners: Worst,
    short: Worst,
    long: Worst,
    /// Run-in that the slowest start would need, mm.
    run_in_mm: f64,
    /// Shortest and longest time of the light, µs.
    limits_us: [f64; 2],
}

/// The worst of many, and where it is.
#[derive(Clone, Copy, Debug, Default)]
struct Worst {
    count: u64,
    layers: Span,
    /// How bad it is, what there is and what there should be, and where, mm.
    case: Option<(f64, [f64; 2], [f64; 3])>,
}

impl Worst {
    fn take(&mut self, layer: u32, is: f64, wanted: f64, at: [f64; 3]) {
        let mut one =
            Self { count: 1, case: Some(((is - wanted).abs(), [is, wanted], at)), ..*self };
        one.layers = Span::default();
        one.layers.add_layer(layer);
        self.add(&one);
    }

    /// Of equals the first stays.
    fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.layers.add(other.layers);
        let badness = |worst: &Self| worst.case.map_or(-1.0, |(badness, ..)| badness);
        if badness(other) > badness(self) {
            self.case = other.case;
        }
    }

    fn finding(&self, problem: impl Fn(u64, [f64; 2]) -> MotionProblem) -> Option<Finding> {
        let ((first, last), (_, numbers, at)) = self.layers.layers().zip(self.case)?;
        Some(Finding::new(problem(self.count, numbers)).at_layers(first, last).at_point(at))
    }
}

impl Motion {
    pub(super) fn is_nothing(&self) -> bool {
        [&self.starts, &self.corners, &self.short, &self.long].iter().all(|worst| worst.count == 0)
    }

    /// Adds what layers above had.
    pub(super) fn add(&mut self, other: &Self) {
        self.starts.add(&other.starts);
        self.corners.add(&other.corners);
        self.short.add(&other.short);
        self.long.add(&other.long);
        self.run_in_mm = self.run_in_mm.max(other.run_in_mm);
        self.limits_us = other.limits_us;
    }

    pub(super) fn findings(&self) -> impl Iterator<Item = Finding> {
        let starts = self.starts.finding(|paths, [speed_mm_s, wanted_mm_s]| {
            let run_in_mm = self.run_in_mm;
            MotionProblem::PathsStartSlowly { paths, speed_mm_s, wanted_mm_s, run_in_mm }
        });
        let corners = self.corners.finding(|corners, [speed_mm_s, wanted_mm_s]| {
            MotionProblem::CornersSlow { corners, speed_mm_s, wanted_mm_s }
        });
        let [least_us, most_us] = self.limits_us;
        let short = self.short.finding(|times, [shortest_us, _]| MotionProblem::LightTooShort {
            times,
            shortest_us,
            least_us,
        });
        let long = self.long.finding(|times, [longest_us, _]| MotionProblem::LightTooLong {
            times,
            longest_us,
            most_us,
        });
        [starts, corners, short, long].into_iter().flatten()
    }
}

/// Looks at the moves of a layer one after the other.
pub(crate) struct Watch<'a> {
    layer: &'a Layer,
    z_mm: f64,
    report: &'a mut LayerReport,
    acceleration: f64,
    settle_s: f64,
    /// Shortest and longest time of the light, µs; `None` if the machine does not say how its head moves.
    limits_us: Option<[f64; 2]>,
    /// Row of the placement table that the moves are of.
    row: Option<u32>,
    found: Motion,
    /// Since when the light has been on, µs of being on, and where it came on.
    light: Option<(f64, [f64; 3])>,
}

/// Share by which speeds and times may fall short, for rounding.
const ROUNDING: f64 = 1e-6;

impl<'a> Watch<'a> {
    pub(crate) fn new(
        machine: &Machine,
        layer: &'a Layer,
        z_mm: f64,
        report: &'a mut LayerReport,
    ) -> Self {
        let head = machine.head.as_ref();
        let [x, y] = head.map_or([f64::INFINITY; 2], |head| head.acceleration_mm_s2);
        let limits = |head: &job::machine::Head| {
            [head.shortest_mark_us, head.longest_mark_us.unwrap_or(f64::INFINITY)]
        };
        Self {
            layer,
            z_mm,
            report,
            acceleration: x.min(y),
            settle_s: head.map_or(0.0, |head| head.settle_us / 1e6),
            limits_us: head.map(limits),
            row: None,
            found: Motion::default(),
            light: None,
        }
    }

    /// Looks at the next move.
    pub(crate) fn look_at(&mut self, of: &Step) {
        if self.limits_us.is_none() {
            return;
        }
        let step = &of.step;
        let begins = step.mark == 0 && step.kind == MoveKind::Mark;
        if begins || !step.kind.is_lit() {
            self.light_off();
        }
        let row = self.layer.blocks.get(step.block as usize).map(|block| block.placement);
        if row != self.row {
            self.flush();
            self.row = row;
        }
        if !step.kind.is_lit() {
            return;
        }
        let [x, y] = step.from.to_mm();
        let at = [x, y, self.z_mm];
        let (lit_us, since) = self.light.unwrap_or((0.0, at));
        self.light = Some((lit_us + of.duration_s * 1e6, since));
        let is_slow = step.speed_mm_s < of.asked_mm_s * (1.0 - ROUNDING);
        let counts = step.kind == MoveKind::Mark && of.duration_s > 0.0;
        if counts && is_slow && (begins || of.is_after_corner) {
            let worst = if begins { &mut self.found.starts } else { &mut self.found.corners };
            worst.take(self.layer.index, step.speed_mm_s, of.asked_mm_s, at);
            if begins {
                let wanted = run_in_mm(of.asked_mm_s, self.acceleration, self.settle_s);
                self.found.run_in_mm = self.found.run_in_mm.max(wanted);
            }
        }
    }

    /// Takes up for how long the light was on.
    fn light_off(&mut self) {
        let (Some((lit_us, at)), Some([least, most])) = (self.light.take(), self.limits_us) else {
            return;
        };
        if lit_us < least * (1.0 - ROUNDING) {
            self.found.short.take(self.layer.index, lit_us, least, at);
        } else if lit_us > most * (1.0 + ROUNDING) {
            self.found.long.take(self.layer.index, lit_us, most, at);
        }
    }

    fn flush(&mut self) {
        let mut found = std::mem::take(&mut self.found);
        found.limits_us = self.limits_us.unwrap_or_default();
        if let Some(row) = self.row {
            self.report.add_motion(row, &found);
        }
    }

    /// After the last move.
    pub(crate) fn finish(mut self) {
        self.light_off();
        self.flush();
    }
}
