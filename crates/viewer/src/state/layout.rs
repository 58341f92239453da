//! How the sheet is divided between the views, and the borders that can be dragged.

use crate::widgets::theme::Ink;
use egui::{CursorIcon, Id, Rect, Role, Sense, Ui, WidgetInfo, pos2};
use serde::{Deserialize, Serialize};

/// One of the four drawings on the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub(crate) enum View {
    /// A layer from above.
    Plan,
    /// The build in 3D.
    Chamber,
    /// The build from the side.
    Elevation,
    /// Power and speed against time.
    Trace,
}

impl View {
    /// What it is called, and what it shows.
    pub(crate) fn title(self) -> (&'static str, &'static str) {
        match self {
            Self::Plan => ("Plan", "the layer from above"),
            Self::Chamber => ("Chamber", "the build in 3D"),
            Self::Elevation => ("Elevation", "the build from the side"),
            Self::Trace => ("Trace", "laser power and speed against time in this layer"),
        }
    }
}

/// Shares of the sheet, remembered from session to session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Layout {
    /// Width of the traveller, points.
    traveller: f32,
    /// Height of the trace as a share of the sheet.
    trace: f32,
    /// Width of chamber and elevation as a share of the sheet.
    right: f32,
    /// Height of the elevation as a share of what the trace leaves.
    elevation: f32,
    /// The view that fills the sheet alone.
    pub(crate) full: Option<View>,
}

impl Default for Layout {
    fn default() -> Self {
        Self { traveller: 330.0, trace: 0.2, right: 0.42, elevation: 0.38, full: None }
    }
}

/// Width of a border, points.
const BORDER: f32 = 5.0;

/// Where everything goes, points.
pub(crate) struct Places {
    pub(crate) traveller: Rect,
    pub(crate) views: Vec<(View, Rect)>,
}

impl Layout {
    /// Divides `whole`, and lets the borders be dragged.
    pub(crate) fn divide(&mut self, ui: &mut Ui, whole: Rect, ink: &Ink) -> Places {
        let widest = (whole.width() * 0.45).max(260.0);
        self.traveller = self.traveller.clamp(260.0, widest);
        let x = whole.left() + self.traveller;
        let border = Rect::from_min_max(pos2(x, whole.top()), pos2(x + BORDER, whole.bottom()));
        self.traveller += drag(ui, "Border of the traveller", border, Axis::X, ink);
        let traveller = Rect::from_min_max(whole.min, pos2(x, whole.bottom()));
        let sheet = Rect::from_min_max(pos2(x + BORDER, whole.top()), whole.max);
        if let Some(view) = self.full {
            return Places { traveller, views: vec![(view, sheet)] };
        }
        self.trace = self.trace.clamp(0.1, 0.6);
        self.right = self.right.clamp(0.2, 0.75);
        self.elevation = self.elevation.clamp(0.15, 0.8);
        let trace_top = (sheet.bottom() - self.trace * sheet.height()).round();
        let right = (sheet.right() - self.right * sheet.width()).round();
        let middle = trace_top - BORDER - (self.elevation * (trace_top - sheet.top())).round();

        let border = Rect::from_min_max(
            pos2(sheet.left(), trace_top - BORDER),
            pos2(sheet.right(), trace_top),
        );
        self.trace -= drag(ui, "Border of the trace", border, Axis::Y, ink) / sheet.height();
        let border =
            Rect::from_min_max(pos2(right - BORDER, sheet.top()), pos2(right, trace_top - BORDER));
        self.right -= drag(ui, "Border of the plan", border, Axis::X, ink) / sheet.width();
        let border = Rect::from_min_max(pos2(right, middle), pos2(sheet.right(), middle + BORDER));
        self.elevation -=
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
