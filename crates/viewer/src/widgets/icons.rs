//! Icons, drawn as lines in the theme's ink, and the button that carries one.

use crate::widgets::theme::Ink;
use base::Severity;
use egui::{Painter, Pos2, Rect, Response, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

/// What an icon shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Icon {
    Undo,
    Redo,
    Search,
    Theme,
    Grow,
    Shrink,
    Fit,
    Play,
    Halt,
    Next,
    Previous,
    Measure,
    Close,
    Check,
    Folded,
    Unfolded,
}

/// A stroke of an icon, on a square of 16 × 16, Y down.
enum Mark {
    /// An open line through these points.
    Line(&'static [(f32, f32)]),
    /// A filled convex polygon.
    Filled(&'static [(f32, f32)]),
    /// Part of a circle: centre, radius, first and last angle, degrees, clockwise from the right.
    Arc((f32, f32), f32, [f32; 2]),
    /// The same part of a circle, filled.
    FilledArc((f32, f32), f32, [f32; 2]),
}

use Mark::{Arc, Filled, FilledArc, Line};

const UNDO: &[Mark] =
    &[Arc((8.0, 9.0), 5.0, [-150.0, 90.0]), Filled(&[(1.0, 7.0), (6.5, 8.5), (3.5, 3.0)])];
const REDO: &[Mark] =
    &[Arc((8.0, 9.0), 5.0, [-30.0, -270.0]), Filled(&[(15.0, 7.0), (9.5, 8.5), (12.5, 3.0)])];
const SEARCH: &[Mark] = &[Arc((7.0, 7.0), 4.5, [0.0, 360.0]), Line(&[(10.3, 10.3), (14.5, 14.5)])];
const THEME: &[Mark] =
    &[Arc((8.0, 8.0), 6.0, [0.0, 360.0]), FilledArc((8.0, 8.0), 6.0, [90.0, 270.0])];
const GROW: &[Mark] = &[
    Line(&[(9.0, 2.0), (14.0, 2.0), (14.0, 7.0)]),
    Line(&[(7.0, 14.0), (2.0, 14.0), (2.0, 9.0)]),
    Line(&[(14.0, 2.0), (9.5, 6.5)]),
    Line(&[(2.0, 14.0), (6.5, 9.5)]),
];
const SHRINK: &[Mark] = &[
    Line(&[(9.0, 2.5), (9.0, 7.0), (13.5, 7.0)]),
    Line(&[(7.0, 13.5), (7.0, 9.0), (2.5, 9.0)]),
    Line(&[(9.0, 7.0), (14.0, 2.0)]),
    Line(&[(7.0, 9.0), (2.0, 14.0)]),
];
const FIT: &[Mark] = &[
    Line(&[(6.0, 2.0), (2.0, 2.0), (2.0, 6.0)]),
    Line(&[(10.0, 2.0), (14.0, 2.0), (14.0, 6.0)]),
    Line(&[(10.0, 14.0), (14.0, 14.0), (14.0, 10.0)]),
    Line(&[(6.0, 14.0), (2.0, 14.0), (2.0, 10.0)]),
    Line(&[(6.0, 6.0), (10.0, 6.0), (10.0, 10.0), (6.0, 10.0), (6.0, 6.0)]),
];
const PLAY: &[Mark] = &[Filled(&[(4.0, 2.5), (13.5, 8.0), (4.0, 13.5)])];
const HALT: &[Mark] = &[
    Filled(&[(4.0, 3.0), (7.0, 3.0), (7.0, 13.0), (4.0, 13.0)]),
    Filled(&[(9.0, 3.0), (12.0, 3.0), (12.0, 13.0), (9.0, 13.0)]),
];
const NEXT: &[Mark] =
    &[Filled(&[(3.0, 3.0), (10.0, 8.0), (3.0, 13.0)]), Line(&[(12.5, 3.0), (12.5, 13.0)])];
const PREVIOUS: &[Mark] =
    &[Filled(&[(13.0, 3.0), (6.0, 8.0), (13.0, 13.0)]), Line(&[(3.5, 3.0), (3.5, 13.0)])];
const MEASURE: &[Mark] = &[
    Line(&[(2.0, 4.0), (2.0, 12.0)]),
    Line(&[(14.0, 4.0), (14.0, 12.0)]),
    Line(&[(2.0, 8.0), (14.0, 8.0)]),
    Line(&[(5.0, 6.0), (2.0, 8.0), (5.0, 10.0)]),
    Line(&[(11.0, 6.0), (14.0, 8.0), (11.0, 10.0)]),
];
const CLOSE: &[Mark] = &[Line(&[(4.0, 4.0), (12.0, 12.0)]), Line(&[(12.0, 4.0), (4.0, 12.0)])];

const FOLDED: &[Mark] = &[Filled(&[(5.5, 3.5), (11.0, 8.0), (5.5, 12.5)])];
const UNFOLDED: &[Mark] = &[Filled(&[(3.5, 5.5), (12.5, 5.5), (8.0, 11.0)])];
const CHECK: &[Mark] = &[Line(&[(2.5, 8.5), (6.5, 12.5), (13.5, 3.5)])];

impl Icon {
    fn marks(self) -> &'static [Mark] {
        match self {
            Self::Undo => UNDO,
            Self::Redo => REDO,
            Self::Search => SEARCH,
            Self::Theme => THEME,
            Self::Grow => GROW,
            Self::Shrink => SHRINK,
            Self::Fit => FIT,
            Self::Play => PLAY,
            Self::Halt => HALT,
            Self::Next => NEXT,
            Self::Previous => PREVIOUS,
            Self::Measure => MEASURE,
            Self::Close => CLOSE,
            Self::Check => CHECK,
            Self::Folded => FOLDED,
            Self::Unfolded => UNFOLDED,
        }
    }
}

/// Draws an icon into a square.
pub(crate) fn paint(painter: &Painter, square: Rect, icon: Icon, stroke: Stroke) {
    let at = |(x, y): (f32, f32)| -> Pos2 { square.min + vec2(x, y) * square.width() / 16.0 };
    let points = |points: &[(f32, f32)]| points.iter().copied().map(at).collect::<Vec<_>>();
    let arc = |(x, y): (f32, f32), radius: f32, [from, to]: [f32; 2]| {
        let on_arc = |k: u8| {
            let (sin, cos) = (from + (to - from) * f32::from(k) / 16.0).to_radians().sin_cos();
            at((x + radius * cos, y + radius * sin))
        };
        (0..=16).map(on_arc).collect::<Vec<_>>()
    };
    let filled = |points| Shape::convex_polygon(points, stroke.color, Stroke::NONE);
    for mark in icon.marks() {
        painter.add(match *mark {
            Line(line) => Shape::line(points(line), stroke),
            Filled(polygon) => filled(points(polygon)),
            Arc(centre, radius, angles) => Shape::line(arc(centre, radius, angles), stroke),
            FilledArc(centre, radius, angles) => filled(arc(centre, radius, angles)),
        });
    }
}

/// The mark of a severity: a shape of its own for each, beside the word that names it.
pub(crate) fn severity_mark(ui: &mut Ui, severity: Severity, ink: &Ink) {
    let (rect, _) = ui.allocate_exact_size(vec2(10.0, 12.0), Sense::hover());
    let (c, r) = (rect.center(), 4.5);
    let colour = severity_colour(severity, ink);
    let around = |sides: [(f32, f32); 4]| sides.map(|(x, y)| c + vec2(x, y) * r).to_vec();
    let corners = match severity {
        Severity::Stop => around([(0.0, -1.0), (1.0, 0.9), (-1.0, 0.9), (0.0, -1.0)]),
        Severity::Caution => around([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]),
        Severity::Note => {
            ui.painter().circle_filled(c, 2.5, colour);
            return;
        }
    };
    ui.painter().add(Shape::convex_polygon(corners, colour, Stroke::NONE));
}

/// The colour of a severity, which is never said by colour alone.
pub(crate) fn severity_colour(severity: Severity, ink: &Ink) -> egui::Color32 {
    match severity {
        Severity::Stop => ink.stop,
        Severity::Caution => ink.caution,
        Severity::Note => ink.soft,
    }
}

/// A button with an icon alone; `name` is what it is called and what hovering tells.
pub(crate) fn button(ui: &mut Ui, icon: Icon, name: &str, enabled: bool, ink: &Ink) -> Response {
    let (rect, response) = ui.allocate_exact_size(vec2(22.0, 20.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, name));
    let colour = if enabled { ink.ink } else { ink.faint };
    if enabled && (response.hovered() || response.has_focus()) {
        let ring = Stroke::new(1.0, ink.soft);
        ui.painter().rect(rect, 2.0, ink.well, ring, egui::StrokeKind::Inside);
    }
    let square = Rect::from_center_size(pos2(rect.center().x, rect.center().y), vec2(14.0, 14.0));
    paint(ui.painter(), square, icon, Stroke::new(1.3, colour));
    response.on_hover_text(name)
}
