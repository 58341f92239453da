//! The buttons of the chamber's row: what each is called, and its icon, drawn as lines.

use crate::widgets::theme::Ink;
use egui::{Color32, Painter, Rect, Shape, Stroke, pos2, vec2};
use render::Direction;

/// What a button of the row asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tool {
    From(Direction),
    Fit,
    Perspective,
    Section,
}

impl Tool {
    /// In the order of the row.
    pub(super) const ALL: [Self; 10] = [
        Self::From(Direction::Corner),
        Self::From(Direction::Front),
        Self::From(Direction::Right),
        Self::From(Direction::Back),
        Self::From(Direction::Left),
        Self::From(Direction::Top),
        Self::From(Direction::Bottom),
        Self::Fit,
        Self::Perspective,
        Self::Section,
    ];

    /// What it is called; tests and screen readers know it by this.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::From(Direction::Corner) => "Look from the corner",
            Self::From(Direction::Front) => "Look from the front",
            Self::From(Direction::Back) => "Look from the back",
            Self::From(Direction::Left) => "Look from the left",
            Self::From(Direction::Right) => "Look from the right",
            Self::From(Direction::Top) => "Look from above",
            Self::From(Direction::Bottom) => "Look from below",
            Self::Fit => "Fit the chamber",
            Self::Perspective => "Perspective",
            Self::Section => "Cut at the layer shown",
        }
    }
}

/// Draws lines and areas on a square of 14 × 14, Y down.
struct Pen<'a> {
    painter: &'a Painter,
    square: Rect,
    ink: &'a Ink,
}

impl Pen<'_> {
    fn at(&self, [x, y]: [f32; 2]) -> egui::Pos2 {
        self.square.min + vec2(x, y) * self.square.width() / 14.0
    }

    fn line(&self, points: &[[f32; 2]]) {
        let points = points.iter().map(|&p| self.at(p)).collect();
        self.painter.add(Shape::line(points, Stroke::new(1.1, self.ink.ink)));
    }

    fn fill(&self, points: &[[f32; 2]], colour: Color32) {
        let points = points.iter().map(|&p| self.at(p)).collect();
        self.painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
    }

    fn arrow(&self, from: [f32; 2], to: [f32; 2]) {
        arrow(self.painter, self.at(from), self.at(to), self.ink);
    }
}

/// Corners of a little box in isometric view: top, its left and right, middle, lower left and right,
/// bottom.
const BOX: [[f32; 2]; 7] =
    [[7., 0.5], [1., 3.8], [13., 3.8], [7., 7.1], [1., 10.2], [13., 10.2], [7., 13.5]];

/// Draws the icon of a button.
pub(super) fn paint(painter: &Painter, square: Rect, tool: Tool, ink: &Ink) {
    let pen = Pen { painter, square, ink };
    match tool {
        Tool::From(direction) => from_direction(&pen, direction),
        Tool::Fit => fit(&pen),
        Tool::Perspective => perspective(&pen),
        Tool::Section => section(&pen),
    }
}

/// The box with the side that will be seen filled; an arrow points to a side that is hidden.
fn from_direction(pen: &Pen<'_>, direction: Direction) {
    let [t, tl, tr, m, bl, br, b] = BOX;
    let seen: &[[f32; 2]] = match direction {
        Direction::Corner => &[t, tr, br, b, bl, tl],
        Direction::Front => &[tl, m, b, bl],
        Direction::Right => &[m, tr, br, b],
        Direction::Top => &[t, tr, m, tl],
        Direction::Back | Direction::Left | Direction::Bottom => &[],
    };
    if !seen.is_empty() {
        let all = direction == Direction::Corner;
        pen.fill(seen, if all { pen.ink.faint } else { pen.ink.accent });
    }
    pen.line(&[t, tr, br, b, bl, tl, t]);
    match direction {
        Direction::Back => pen.arrow([13.5, 0.5], [8.5, 5.0]),
        Direction::Left => pen.arrow([0.5, 0.5], [5.5, 5.0]),
        Direction::Bottom => pen.arrow([7.0, 13.8], [7.0, 7.6]),
        Direction::Corner | Direction::Front | Direction::Right | Direction::Top => {
            pen.line(&[tl, m, tr]);
            pen.line(&[m, b]);
        }
    }
}

fn fit(pen: &Pen<'_>) {
    for [x, y, dx, dy] in
        [[1., 1., 4., 4.], [13., 1., -4., 4.], [13., 13., -4., -4.], [1., 13., 4., -4.]]
    {
        pen.line(&[[x + dx, y], [x, y], [x, y + dy]]);
    }
    pen.fill(&[[5., 5.], [9., 5.], [9., 9.], [5., 9.]], pen.ink.accent);
}

/// A floor that runs to a point.
fn perspective(pen: &Pen<'_>) {
    pen.line(&[[1., 12.5], [5., 2.0], [9., 2.0], [13., 12.5], [1., 12.5]]);
    pen.line(&[[5., 12.5], [6.3, 2.0]]);
    pen.line(&[[9., 12.5], [7.7, 2.0]]);
    pen.line(&[[2.6, 8.3], [11.4, 8.3]]);
    pen.line(&[[3.9, 4.8], [10.1, 4.8]]);
}

/// The lower half of the box, its cut hatched.
fn section(pen: &Pen<'_>) {
    let [_, _, _, _, bl, br, b] = BOX;
    let [l, r, f, k] = [[1., 7.], [13., 7.], [7., 10.2], [7., 3.8]];
    pen.line(&[l, k, r, f, l, bl, b, br, r]);
    pen.line(&[f, b]);
    for s in [0.0, 1.0, 2.0] {
        let o = [3.4 + s * 1.9, 7.8 + s * 0.9];
        pen.line(&[o, [o[0] + 3.2, o[1] - 2.4]]);
    }
}

fn arrow(painter: &Painter, from: egui::Pos2, to: egui::Pos2, ink: &Ink) {
    let stroke = Stroke::new(1.4, ink.accent);
    painter.line_segment([from, to], stroke);
    let back = (from - to).normalized() * 3.6;
    for way in [-1.0, 1.0] {
        let side = vec2(-back.y, back.x) * 0.6 * way;
        painter.line_segment([to, pos2(to.x, to.y) + back + side], stroke);
    }
}
