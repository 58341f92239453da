//! What a view says while it has nothing to draw.

use crate::widgets::theme::{BODY, Ink};
use egui::{FontId, Rect, Ui};

/// A sentence in the middle of an empty view.
pub(crate) fn placeholder(ui: &Ui, rect: Rect, says: &str, ink: &Ink) {
    let font = FontId::proportional(BODY);
    let width = (rect.width() - 40.0).max(80.0);
    let galley = ui.painter().layout(says.to_owned(), font, ink.soft, width);
    ui.painter().galley(rect.center() - galley.size() / 2.0, galley, ink.soft);
}
