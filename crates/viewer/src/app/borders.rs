//! The borders between the views, which can be dragged.

use crate::state::layout::{Layout, View};
use crate::widgets::theme::Ink;
use egui::{CursorIcon, Id, Rect, Role, Sense, Ui, WidgetInfo, pos2};

/// Width of a border, points.
const BORDER: f32 = 5.0;

/// Where everything goes, points.
pub(super) struct Places {
    pub(super) traveller: Rect,
    pub(super) views: Vec<(View, Rect)>,
}

/// Divides `whole`, and lets the borders be dragged.
pub(super) fn divide(layout: &mut Layout, ui: &mut Ui, whole: Rect, ink: &Ink) -> Places {
    let widest = (whole.width() * 0.45).max(260.0);
    layout.traveller = layout.traveller.clamp(260.0, widest);
    let x = whole.left() + layout.traveller;
    let border = Rect::from_min_max(pos2(x, whole.top()), pos2(x + BORDER, whole.bottom()));
    layout.traveller += drag(ui, "Border of the traveller", border, Axis::X, ink);
    let traveller = Rect::from_min_max(whole.min, pos2(x, whole.bottom()));
    let sheet = Rect::from_min_max(pos2(x + BORDER, whole.top()), whole.max);
    if let Some(view) = layout.full {
        return Places { traveller, views: vec![(view, sheet)] };
    }
    layout.trace = layout.trace.clamp(0.1, 0.6);
    layout.right = layout.right.clamp(0.2, 0.75);
    layout.elevation = layout.elevation.clamp(0.15, 0.8);
    let trace_top = (sheet.bottom() - layout.trace * sheet.height()).round();
    let right = (sheet.right() - layout.right * sheet.width()).round();
    let middle = trace_top - BORDER - (layout.elevation * (trace_top - sheet.top())).round();

    let border =
        Rect::from_min_max(pos2(sheet.left(), trace_top - BORDER), pos2(sheet.right(), trace_top));
    layout.trace -= drag(ui, "Border of the trace", border, Axis::Y, ink) / sheet.height();
    let border =
        Rect::from_min_max(pos2(right - BORDER, sheet.top()), pos2(right, trace_top - BORDER));
    layout.right -= drag(ui, "Border of the plan", border, Axis::X, ink) / sheet.width();
    let border = Rect::from_min_max(pos2(right, middle), pos2(sheet.right(), middle + BORDER));
    layout.elevation -=
        drag(ui, "Border of the elevation", border, Axis::Y, ink) / (trace_top - sheet.top());

    let bottom = trace_top - BORDER;
    let rect = |x0, y0, x1, y1| Rect::from_min_max(pos2(x0, y0), pos2(x1, y1));
    let views = vec![
        (View::Plan, rect(sheet.left(), sheet.top(), right - BORDER, bottom)),
        (View::Chamber, rect(right, sheet.top(), sheet.right(), middle)),
        (View::Elevation, rect(right, middle + BORDER, sheet.right(), bottom)),
        (View::Trace, rect(sheet.left(), trace_top, sheet.right(), sheet.bottom())),
    ];
    Places { traveller, views }
}

#[derive(Clone, Copy)]
enum Axis {
    X,
    Y,
}

/// How far a border was dragged along its axis, points.
fn drag(ui: &mut Ui, name: &str, border: Rect, axis: Axis, ink: &Ink) -> f32 {
    let response = ui.interact(border, Id::unique(name), Sense::drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Splitter, true, name));
    if response.hovered() || response.dragged() {
        ui.painter().rect_filled(border, 0.0, ink.faint);
        ui.set_cursor_icon(match axis {
            Axis::X => CursorIcon::ResizeHorizontal,
            Axis::Y => CursorIcon::ResizeVertical,
        });
    }
    match axis {
        Axis::X => response.drag_delta().x,
        Axis::Y => response.drag_delta().y,
    }
}
