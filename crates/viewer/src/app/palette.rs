//! The command search: type a few letters, press Enter.

use crate::state::actions::Action;
use crate::state::commands::{COMMANDS, Command};
use crate::state::model::Model;
use egui::{Align2, Key, Response, TextEdit, Ui, vec2};

/// The search box, open or not.
#[derive(Default)]
pub(crate) struct Palette {
    typed: Option<String>,
    chosen: usize,
    fresh: bool,
}

impl Palette {
    /// Opens it, empty.
    pub(crate) fn open(&mut self) {
        *self = Self { typed: Some(String::new()), chosen: 0, fresh: true };
    }

    pub(crate) fn is_open(&self) -> bool {
        self.typed.is_some()
    }

    /// Closes it; says whether it was open.
    pub(crate) fn close(&mut self) -> bool {
        self.typed.take().is_some()
    }

    /// Shows it above everything else.
    pub(crate) fn show(&mut self, ctx: &egui::Context, model: &Model, actions: &mut Vec<Action>) {
        let Some(mut typed) = self.typed.take() else { return };
        let (down, up, enter) = ctx.input_mut(|input| {
            let none = egui::Modifiers::NONE;
            (
                input.consume_key(none, Key::ArrowDown),
                input.consume_key(none, Key::ArrowUp),
                input.consume_key(none, Key::Enter),
            )
        });
        let found = matches(&typed);
        if down {
            self.chosen += 1;
        }
        if up {
            self.chosen = self.chosen.saturating_sub(1);
        }
        self.chosen = self.chosen.min(found.len().saturating_sub(1));
        let scroll = down || up;
        let mut done = None;
        egui::Window::new("Search the commands")
            .title_bar(false)
            .collapsible(false)
            .resizable(false)
            .anchor(Align2::CENTER_TOP, vec2(0.0, 48.0))
            .fixed_size(vec2(380.0, 320.0))
            .show(ctx, |ui| {
                let hint = "What do you want to do?";
                let field =
                    ui.add(TextEdit::singleline(&mut typed).hint_text(hint).desired_width(372.0));
                field.widget_info(|| {
                    egui::WidgetInfo::labeled(egui::Role::TextInput, true, "Search the commands")
                });
                if std::mem::take(&mut self.fresh) {
                    field.request_focus();
                }
                egui::ScrollArea::vertical().max_height(290.0).show(ui, |ui| {
                    for (row, command) in found.iter().enumerate() {
                        let is_chosen = row == self.chosen;
                        let response = row_of(ui, model, *command, is_chosen);
                        if is_chosen && scroll {
                            response.scroll_to_me(None);
                        }
                        let by_key = is_chosen && enter && command.is_possible(model);
                        if response.clicked() || by_key {
                            done = Some(*command);
                        }
                    }
                    if found.is_empty() {
                        ui.weak("No command has these letters.");
                    }
                });
            });
        match done {
            Some(command) => actions.push(Action::Command(command)),
            None => self.typed = Some(typed),
        }
    }
}

/// A command with its key.
fn row_of(ui: &mut Ui, model: &Model, command: Command, is_chosen: bool) -> Response {
    let info = command.info();
    let key = info.key.map_or(String::new(), |k| ui.ctx().format_shortcut(&k));
    let button = egui::Button::selectable(is_chosen, info.name)
        .shortcut_text(key)
        .min_size(vec2(360.0, 0.0));
    ui.add_enabled(command.is_possible(model), button)
}

/// The commands whose names hold all the words typed, in any order.
fn matches(typed: &str) -> Vec<Command> {
    let words: Vec<String> = typed.split_whitespace().map(str::to_lowercase).collect();
    let holds = |command: &Command| {
        let name = command.info().name.to_lowercase();
        words.iter().all(|word| name.contains(word))
    };
    COMMANDS.into_iter().filter(holds).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_in_any_order_and_case() {
        assert_eq!(matches("FILE write"), [Command::WriteVectors]);
        assert_eq!(matches("").len(), COMMANDS.len());
        assert!(matches("zzz").is_empty());
    }
}
