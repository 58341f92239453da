//! One line about safety that is always in sight.

use crate::widgets::theme::{CAPTION, Ink};
use egui::{Align, Frame, Label, Layout, Margin, Panel, RichText, Ui};

/// What it says.
const LINE: &str = "Class 4 laser · part cake hot for hours · fine dust: local rules hold, and a trained \
                    person runs the machine.";

/// Shows it below everything else.
pub(super) fn show(ui: &mut Ui, ink: &Ink) {
    Panel::bottom("safety")
        .frame(Frame::new().fill(ink.desk).inner_margin(Margin::symmetric(10, 1)))
        .exact_size(18.0)
        .show(ui, |ui| {
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                let text = RichText::new(LINE).size(CAPTION).color(ink.soft);
                ui.add(Label::new(text).truncate());
            });
        });
}
