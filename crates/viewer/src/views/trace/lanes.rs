//! The lanes of the trace: power and speed, each against time.

use super::axis::Axis;
use super::columns::{Column, Columns, Span, Step};
use crate::widgets::theme::{CAPTION, Ink};
use egui::{Align2, Color32, FontId, Mesh, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// What a lane shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Signal {
    Power,
    Speed,
}

impl Signal {
    /// From the top.
    pub(super) const ALL: [Self; 2] = [Self::Power, Self::Speed];

    fn name(self) -> &'static str {
        match self {
            Self::Power => "power, W",
            Self::Speed => "speed, mm/s",
        }
    }

    /// Where its values stand in a pair of power and speed.
    fn index(self) -> usize {
        match self {
            Self::Power => 0,
            Self::Speed => 1,
        }
    }
}

/// One lane, and how it is drawn.
pub(super) struct Lane<'a> {
    pub(super) signal: Signal,
    pub(super) painter: &'a Painter,
    pub(super) area: Rect,
    pub(super) axis: &'a Axis,
    pub(super) ink: &'a Ink,
    /// 1, or less where what is drawn is out of date.
    pub(super) strength: f32,
}

impl Lane<'_> {
    /// Draws it: the very curve where there is room for them, else what each pixel column spans, with its
    /// mean. Words go into `rest`.
    pub(super) fn draw(&self, columns: &Columns, rest: Rect) {
        let most = columns.most[self.signal.index()].max(1e-9);
        self.write(most, rest);
        let painter = self.painter.with_clip_rect(self.axis.area.expand2(vec2(1.0, 2.0)));
        match &columns.span {
            Span::Steps(steps) => self.steps(&painter, steps, most),
            Span::Columns(columns) => self.columns(&painter, columns, most),
        }
    }

    fn y(&self, value: f32, most: f32) -> f32 {
        self.area.bottom() - value / most * (self.area.height() - 3.0)
    }

    /// The line of the values.
    fn stroke(&self, width: f32) -> Stroke {
        let colour: Color32 = self.ink.ink.gamma_multiply(self.strength);
        Stroke::new(width, colour)
    }

    /// Its name, its least and its greatest value.
    fn write(&self, most: f32, rest: Rect) {
        let (area, ink) = (self.area, self.ink);
        let font = FontId::proportional(CAPTION);
        let right = self.axis.area.left() - 7.0;
        let painter = self.painter.with_clip_rect(rest);
        let name_at = pos2(rest.left() + 8.0, area.top() - 1.0);
        painter.text(name_at, Align2::LEFT_TOP, self.signal.name(), font.clone(), ink.soft);
        if area.height() > 26.0 {
            let top = pos2(right, area.top() + 12.0);
            painter.text(top, Align2::RIGHT_TOP, number(most), font.clone(), ink.soft);
            let bottom = pos2(right, area.bottom() + 2.0);
            painter.text(bottom, Align2::RIGHT_BOTTOM, "0", font, ink.soft);
        }
        let x = self.axis.area.x_range();
        painter.hline(x, area.bottom(), Stroke::new(1.0, ink.faint));
        painter.hline(x, self.y(most, most), Stroke::new(1.0, ink.grid));
    }

    fn steps(&self, painter: &Painter, steps: &[Step], most: f32) {
        let mut points: Vec<Pos2> = Vec::with_capacity(2 * steps.len());
        for step in steps {
            let ends = [(step.from_s, step.values), (step.to_s, step.end_values)];
            points.extend(ends.map(|(time_s, values)| {
                pos2(self.axis.x(time_s), self.y(values[self.signal.index()], most))
            }));
        }
        painter.add(Shape::line(points, self.stroke(1.4)));
    }

    fn columns(&self, painter: &Painter, columns: &[Column], most: f32) {
        let tint = self.ink.soft.gamma_multiply(0.3 * self.strength);
        let width = self.axis.area.width() / columns.len() as f32;
        let mut band = Mesh::default();
        let mut mean = Vec::with_capacity(columns.len());
        for (index, column) in columns.iter().enumerate() {
            let left = self.axis.area.left() + index as f32 * width;
            let [low, high] = column.range[self.signal.index()];
            let top = pos2(left, self.y(high, most));
            let rect = Rect::from_min_max(top, pos2(left + width, self.y(low, most) + 1.0));
            band.add_colored_rect(rect, tint);
            let value = column.mean[self.signal.index()];
            mean.push(pos2(left + width / 2.0, self.y(value, most)));
        }
        painter.add(Shape::mesh(band));
        painter.add(Shape::line(mean, self.stroke(1.25)));
    }
}

fn number(value: f32) -> String {
    if value >= 100.0 {
        format!("{value:.0}")
    } else {
        format!("{}", (value * 10.0).round() / 10.0)
    }
}
