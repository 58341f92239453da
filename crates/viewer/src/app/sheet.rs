//! The sheet: views in their frames, and what is told above them.

use super::App;
use crate::state::actions::Action;
use crate::state::commands::Command;
use crate::state::layout::View;
use crate::views::numbers;
use crate::widgets::icons;
use crate::widgets::theme;
use egui::{Align, Frame, Margin, Rect, RichText, Ui, UiBuilder};

/// Height of the title row of a view, points.
const TITLE_ROW: f32 = 24.0;

impl App {
    /// One view in its frame, with its title.
    pub(super) fn view(&mut self, ui: &mut Ui, view: View, rect: Rect, actions: &mut Vec<Action>) {
        let ink = self.model.ink;
        ui.painter().rect_filled(rect, 0.0, ink.sheet);
        let (title, rest) = rect.split_top_bottom_at_y(rect.top() + TITLE_ROW);
        ui.scope_builder(UiBuilder::new().max_rect(title.shrink2(egui::vec2(8.0, 0.0))), |ui| {
            ui.horizontal_centered(|ui| {
                let (name, what) = view.title();
                ui.label(RichText::new(name).size(theme::HEADING));
                ui.add(
                    egui::Label::new(RichText::new(what).size(theme::CAPTION).color(ink.soft))
                        .truncate(),
                );
                ui.with_layout(egui::Layout::right_to_left(Align::Center), |ui| {
                    let full = self.settings.layout.full == Some(view);
                    let (icon, does) = if full {
                        (icons::Icon::Shrink, "Back to all views")
                    } else {
                        (icons::Icon::Grow, "Fill the sheet")
                    };
                    let name = format!("{does}: {name}");
                    if icons::button(ui, icon, &name, true, &ink).clicked() {
                        actions.push(Action::Command(Command::Fill(view)));
                    }
                });
            });
        });
        let mut rest = rest;
        let is_alone = self.settings.layout.full == Some(view);
        let has_strip = is_alone && self.views.get(view).wants_numbers_when_alone();
        if has_strip && self.model.document.is_some() {
            let strip;
            (rest, strip) =
                rest.split_top_bottom_at_y(rest.bottom() - numbers::height(rest.width()));
            numbers::show(ui, strip, &self.model, true, actions);
        }
        ui.scope_builder(UiBuilder::new().max_rect(rest).id_salt(title_id(view)), |ui| {
            ui.set_clip_rect(rest);
            self.views.get_mut(view).show(ui, &self.model, actions);
        });
    }

    /// Things to know or decide, above the sheet until they are dealt with.
    pub(super) fn notices(&mut self, ui: &mut Ui) {
        let ink = self.model.ink;
        let bar = |id: String| {
            egui::Panel::top(id)
                .frame(Frame::new().fill(ink.accent_tint).inner_margin(Margin::symmetric(10, 5)))
        };
        let mut dismissed = None;
        for (index, message) in self.messages.iter().enumerate() {
            bar(format!("message {index}")).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    if icons::button(ui, icons::Icon::Close, "Dismiss", true, &ink).clicked() {
                        dismissed = Some(index);
                    }
                    ui.label(&message.sentence);
                });
            });
        }
        if let Some(index) = dismissed {
            self.messages.remove(index);
        }
        let mut decided = None;
        if let Some(orphan) = self.orphans.first() {
            bar("recovery".to_owned()).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    ui.label(format!(
                        "The job “{}” was not saved when its window ended.",
                        orphan.name()
                    ));
                    if ui.button("Take it up again").clicked() {
                        decided = Some(true);
                    }
                    if ui.button("Throw it away").clicked() {
                        decided = Some(false);
                    }
                });
            });
        }
        if let Some(wanted) = decided {
            self.settle_orphan(wanted);
        }
    }
}

fn title_id(view: View) -> egui::Id {
    egui::Id::unique(("view", view))
}
