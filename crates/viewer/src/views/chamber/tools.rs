//! The row of buttons: named directions, fit, projection, section. Icons of our own, drawn as lines.

use crate::widgets::theme::Ink;
use egui::{
    Color32, Painter, Rect, Response, Role, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2,
    vec2,
};
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

/// A button of the row; `on` for those that can be in force.
pub(super) fn button(ui: &mut Ui, tool: Tool, on: bool, ink: &Ink) -> Response {
    let (rect, response) = ui.allocate_exact_size(vec2(22.0, 22.0), Sense::click());
    let switch = matches!(tool, Tool::Perspective | Tool::Section);
    response.widget_info(|| {
        if switch {
            WidgetInfo::selected(Role::CheckBox, true, on, tool.name())
        } else {
            WidgetInfo::labeled(Role::Button, true, tool.name())
        }
    });
    let fill = if on { ink.accent_tint } else { ink.sheet };
    let pointed = response.hovered() || response.has_focus();
    let rim = Stroke::new(1.0, if pointed || on { ink.soft } else { Color32::TRANSPARENT });
    ui.painter().rect(rect, 2.0, fill, rim, StrokeKind::Inside);
    paint(ui.painter(), rect.shrink(4.0), tool, ink);
    response.on_hover_text(tool.name())
}

/// A little box in isometric view whose shown side is filled, and its like.
fn paint(painter: &Painter, square: Rect, tool: Tool, ink: &Ink) {
    let stroke = Stroke::new(1.1, ink.ink);
    let at = |[x, y]: [f32; 2]| square.min + vec2(x, y) * square.width() / 14.0;
    let line = |points: &[[f32; 2]]| {
        painter.add(Shape::line(points.iter().map(|&p| at(p)).collect(), stroke));
    };
    let fill = |points: &[[f32; 2]], colour: Color32| {
        let points = points.iter().map(|&p| at(p)).collect();
        painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
    };
    // Corners of the box: top, its left and right, middle, lower left and right, bottom.
    let [t, tl, tr, m, bl, br, b] =
        [[7., 0.5], [1., 3.8], [13., 3.8], [7., 7.1], [1., 10.2], [13., 10.2], [7., 13.5]];
    match tool {
        Tool::From(direction) => {
            match direction {
                Direction::Corner => fill(&[t, tr, br, b, bl, tl], ink.faint),
                Direction::Front => fill(&[tl, m, b, bl], ink.accent),
                Direction::Right => fill(&[m, tr, br, b], ink.accent),
                Direction::Top => fill(&[t, tr, m, tl], ink.accent),
                Direction::Back | Direction::Left | Direction::Bottom => {}
            }
            line(&[t, tr, br, b, bl, tl, t]);
            match direction {
                // The hidden sides: an arrow shows from where the box is looked at.
                Direction::Back => arrow(painter, at([13.5, 0.5]), at([8.5, 5.0]), ink),
                Direction::Left => arrow(painter, at([0.5, 0.5]), at([5.5, 5.0]), ink),
                Direction::Bottom => arrow(painter, at([7.0, 13.8]), at([7.0, 7.6]), ink),
                _ => {
                    line(&[tl, m, tr]);
                    line(&[m, b]);
                }
            }
        }
        Tool::Fit => {
            for [x, y, dx, dy] in
                [[1., 1., 4., 4.], [13., 1., -4., 4.], [13., 13., -4., -4.], [1., 13., 4., -4.]]
            {
                line(&[[x + dx, y], [x, y], [x, y + dy]]);
            }
            fill(&[[5., 5.], [9., 5.], [9., 9.], [5., 9.]], ink.accent);
        }
        Tool::Perspective => {
            // A floor that runs to a point.
            line(&[[1., 12.5], [5., 2.0], [9., 2.0], [13., 12.5], [1., 12.5]]);
            line(&[[5., 12.5], [6.3, 2.0]]);
            line(&[[9., 12.5], [7.7, 2.0]]);
            line(&[[2.6, 8.3], [11.4, 8.3]]);
            line(&[[3.9, 4.8], [10.1, 4.8]]);
        }
        Tool::Section => {
            // The lower half of the box, its cut hatched.
            let [l, r, f, k] = [[1., 7.], [13., 7.], [7., 10.2], [7., 3.8]];
            line(&[l, k, r, f, l, bl, b, br, r]);
            line(&[f, b]);
            for s in [0.0, 1.0, 2.0] {
                let o = [3.4 + s * 1.9, 7.8 + s * 0.9];
                line(&[o, [o[0] + 3.2, o[1] - 2.4]]);
            }
        }
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
