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
}

/// Draws an icon into a square.
pub(crate) fn paint(painter: &Painter, square: Rect, icon: Icon, stroke: Stroke) {
    let at = |x: f32, y: f32| -> Pos2 { square.min + vec2(x, y) * square.width() / 16.0 };
    let line = |points: &[(f32, f32)]| {
        let points = points.iter().map(|&(x, y)| at(x, y)).collect();
        painter.add(Shape::line(points, stroke));
    };
    let arc = |cx: f32, cy: f32, r: f32, from: f32, to: f32| {
        let points = (0..=16).map(|k| {
            let a = (from + (to - from) * k as f32 / 16.0).to_radians();
            at(cx + r * a.cos(), cy + r * a.sin())
        });
        painter.add(Shape::line(points.collect(), stroke));
    };
    let filled = |points: &[(f32, f32)]| {
        let points = points.iter().map(|&(x, y)| at(x, y)).collect();
        painter.add(Shape::convex_polygon(points, stroke.color, Stroke::NONE));
    };
    match icon {
        Icon::Undo => {
            arc(8.0, 9.0, 5.0, -150.0, 90.0);
            filled(&[(1.0, 7.0), (6.5, 8.5), (3.5, 3.0)]);
        }
        Icon::Redo => {
            arc(8.0, 9.0, 5.0, -30.0, -270.0);
            filled(&[(15.0, 7.0), (9.5, 8.5), (12.5, 3.0)]);
        }
        Icon::Search => {
            arc(7.0, 7.0, 4.5, 0.0, 360.0);
            line(&[(10.3, 10.3), (14.5, 14.5)]);
        }
        Icon::Theme => {
            arc(8.0, 8.0, 6.0, 0.0, 360.0);
            let half = (0..=16).map(|k| {
                let a = (90.0 + 180.0 * k as f32 / 16.0).to_radians();
                (8.0 + 6.0 * a.cos(), 8.0 + 6.0 * a.sin())
            });
            filled(&half.collect::<Vec<_>>());
        }
        Icon::Grow => {
            line(&[(9.0, 2.0), (14.0, 2.0), (14.0, 7.0)]);
            line(&[(7.0, 14.0), (2.0, 14.0), (2.0, 9.0)]);
            line(&[(14.0, 2.0), (9.5, 6.5)]);
            line(&[(2.0, 14.0), (6.5, 9.5)]);
        }
        Icon::Shrink => {
            line(&[(9.0, 2.5), (9.0, 7.0), (13.5, 7.0)]);
            line(&[(7.0, 13.5), (7.0, 9.0), (2.5, 9.0)]);
            line(&[(9.0, 7.0), (14.0, 2.0)]);
            line(&[(7.0, 9.0), (2.0, 14.0)]);
        }
        Icon::Fit => {
            for (x, y, dx, dy) in
                [(2., 2., 4., 4.), (14., 2., -4., 4.), (14., 14., -4., -4.), (2., 14., 4., -4.)]
            {
                line(&[(x + dx, y), (x, y), (x, y + dy)]);
            }
            line(&[(6.0, 6.0), (10.0, 6.0), (10.0, 10.0), (6.0, 10.0), (6.0, 6.0)]);
        }
        Icon::Play => filled(&[(4.0, 2.5), (13.5, 8.0), (4.0, 13.5)]),
        Icon::Halt => {
            filled(&[(4.0, 3.0), (7.0, 3.0), (7.0, 13.0), (4.0, 13.0)]);
            filled(&[(9.0, 3.0), (12.0, 3.0), (12.0, 13.0), (9.0, 13.0)]);
        }
        Icon::Next => {
            filled(&[(3.0, 3.0), (10.0, 8.0), (3.0, 13.0)]);
            line(&[(12.5, 3.0), (12.5, 13.0)]);
        }
        Icon::Previous => {
            filled(&[(13.0, 3.0), (6.0, 8.0), (13.0, 13.0)]);
            line(&[(3.5, 3.0), (3.5, 13.0)]);
        }
        Icon::Measure => {
            line(&[(2.0, 4.0), (2.0, 12.0)]);
            line(&[(14.0, 4.0), (14.0, 12.0)]);
            line(&[(2.0, 8.0), (14.0, 8.0)]);
            line(&[(5.0, 6.0), (2.0, 8.0), (5.0, 10.0)]);
            line(&[(11.0, 6.0), (14.0, 8.0), (11.0, 10.0)]);
        }
        Icon::Close => {
            line(&[(4.0, 4.0), (12.0, 12.0)]);
            line(&[(12.0, 4.0), (4.0, 12.0)]);
        }
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
