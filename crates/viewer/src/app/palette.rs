//! The search: type a few letters of a command or of a field of the sheet, press Enter.

use crate::state::actions::{Action, SheetField};
use crate::state::commands::{COMMANDS, Command};
use crate::state::model::Model;
use egui::{Align2, Key, Response, TextEdit, Ui, vec2};

/// What it is called.
const NAME: &str = "Search commands and fields";

/// The search box, open or not.
#[derive(Default)]
pub(crate) struct Palette {
    typed: Option<String>,
    /// The fields of the sheet as it was when the box was opened.
    fields: Vec<SheetField>,
    chosen: usize,
    fresh: bool,
}

/// What a search can lead to.
#[derive(Clone, Debug, PartialEq)]
enum Hit {
    Command(Command),
    Field(SheetField),
}

impl Hit {
    fn is_possible(&self, model: &Model) -> bool {
        match self {
            Self::Command(command) => command.is_possible(model),
            Self::Field(_) => true,
        }
    }

    fn action(self) -> Action {
        match self {
            Self::Command(command) => Action::Command(command),
            Self::Field(field) => Action::Seek(field),
        }
    }
}

impl Palette {
    /// Opens it, empty; `fields` are those of the sheet.
    pub(crate) fn open(&mut self, fields: Vec<SheetField>) {
        *self = Self { typed: Some(String::new()), fields, chosen: 0, fresh: true };
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
        let found = matches(&typed, &self.fields);
        if down {
            self.chosen += 1;
        }
        if up {
            self.chosen = self.chosen.saturating_sub(1);
        }
        self.chosen = self.chosen.min(found.len().saturating_sub(1));
        let scroll = down || up;
        let mut done = None;
        let above = egui::Window::new(NAME).title_bar(false).collapsible(false).resizable(false);
        above.anchor(Align2::CENTER_TOP, vec2(0.0, 48.0)).fixed_size(vec2(380.0, 320.0)).show(
            ctx,
            |ui| {
                let hint = "What do you want to do, or to set?";
                let field =
                    ui.add(TextEdit::singleline(&mut typed).hint_text(hint).desired_width(372.0));
                field.widget_info(|| egui::WidgetInfo::labeled(egui::Role::TextInput, true, NAME));
                if std::mem::take(&mut self.fresh) {
                    field.request_focus();
                }
                egui::ScrollArea::vertical().max_height(290.0).show(ui, |ui| {
                    for (row, hit) in found.iter().enumerate() {
                        let is_chosen = row == self.chosen;
                        let response = row_of(ui, model, hit, is_chosen);
                        if is_chosen && scroll {
                            response.scroll_to_me(None);
                        }
                        let by_key = is_chosen && enter && hit.is_possible(model);
                        if response.clicked() || by_key {
                            done = Some(hit.clone());
                        }
                    }
                    if found.is_empty() {
                        ui.weak("No command and no field has these letters.");
                    }
                });
            },
        );
        match done {
            Some(hit) => actions.push(hit.action()),
            None => self.typed = Some(typed),
        }
    }
}

/// A command with its key, or a field with its section.
fn row_of(ui: &mut Ui, model: &Model, hit: &Hit, is_chosen: bool) -> Response {
    let (name, beside) = match hit {
        Hit::Command(command) => {
            let info = command.info();
            let key = info.key.map_or(String::new(), |k| ui.ctx().format_shortcut(&k));
            (info.name.to_owned(), key)
        }
        Hit::Field(field) => (field.name.clone(), format!("field of {}", field.section)),
    };
    let button =
        egui::Button::selectable(is_chosen, name).shortcut_text(beside).min_size(vec2(360.0, 0.0));
    ui.add_enabled(hit.is_possible(model), button)
}

/// The commands whose names hold all the words typed, in any order, and then such fields; with nothing typed,
/// all commands.
fn matches(typed: &str, fields: &[SheetField]) -> Vec<Hit> {
    let words: Vec<String> = typed.split_whitespace().map(str::to_lowercase).collect();
    let holds = |name: &str| {
        let name = name.to_lowercase();
        words.iter().all(|word| name.contains(word.as_str()))
    };
    let commands = COMMANDS.into_iter().filter(|command| holds(command.info().name));
    let is_meant = |field: &&SheetField| holds(&format!("{} {}", field.name, field.section));
    let fields = fields.iter().filter(is_meant).filter(|_| !words.is_empty());
    commands.map(Hit::Command).chain(fields.cloned().map(Hit::Field)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_in_any_order_and_case() {
        let field = SheetField { section: "Recipe", name: "Hatch spacing".to_owned() };
        let fields = [field.clone()];
        assert_eq!(matches("FILE write", &fields), [Hit::Command(Command::WriteVectors)]);
        assert_eq!(matches("", &fields).len(), COMMANDS.len());
        assert_eq!(matches("spacing hat", &fields), [Hit::Field(field.clone())]);
        assert_eq!(matches("recipe hatch", &fields), [Hit::Field(field)], "by its section, too");
        assert!(matches("zzz", &fields).is_empty());
    }
}
