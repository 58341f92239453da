//! The parts: how many, how they stand, whether their meshes are sound; and the form of those that are
//! chosen.

mod list;
mod order;
mod row;

use super::part_form;
use super::thumbnails::Thumbnails;
use crate::state::actions::{Action, Purpose, Selecting};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::widgets::steady::apart;
use crate::widgets::theme::CAPTION;
use egui::{ComboBox, RichText, TextEdit, Ui, WidgetInfo};
use list::PartsList;
use order::{Group, Sort, Wish};

/// A job with more parts than this can be searched and sorted.
const FEW: usize = 5;
/// Of files that are not read, so many are listed.
const MOST_FAILED: usize = 3;

/// What the section remembers from frame to frame.
#[derive(Default)]
pub(super) struct Parts {
    wish: Wish,
    list: PartsList,
}

pub(super) fn summary(model: &Model) -> String {
    let Some(content) = model.content() else { return String::new() };
    let placements: usize = content.job.parts.iter().map(|p| p.placements.len()).sum();
    match (content.job.parts.len(), placements) {
        (0, _) => "none yet".to_owned(),
        (parts, placements) => {
            let several = |n: usize, one: &str| {
                if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
            };
            format!("{}, {}", several(parts, "part"), several(placements, "placement"))
        }
    }
}

impl Parts {
    pub(super) fn show(
        &mut self,
        ui: &mut Ui,
        model: &Model,
        thumbnails: &Thumbnails,
        actions: &mut Vec<Action>,
    ) {
        let Some(content) = model.content() else { return };
        let count = content.job.parts.len();
        apart(ui, |ui| {
            if count == 0 {
                ui.weak("Drop STL, 3MF or OBJ files on the window, or add them here.");
            }
        });
        apart(ui, |ui| changed(ui, model, actions));
        apart(ui, |ui| not_read(ui, model, actions));
        apart(ui, |ui| {
            if count > FEW || self.wish != Wish::default() {
                self.tools(ui);
            }
        });
        self.list.keep_up(model, &self.wish);
        apart(ui, |ui| self.list.show(ui, model, thumbnails, &mut self.wish, actions));
        apart(ui, |ui| self.found(ui, model, count, actions));
        if ui.button("Add meshes…").clicked() {
            actions.push(Action::Ask(Purpose::AddMeshes));
        }
        part_form::show(ui, model, actions);
    }

    /// What is looked for, and in which order it is listed.
    fn tools(&mut self, ui: &mut Ui) {
        ui.horizontal(|ui| {
            let width = ui.available_width() - 12.0; // its margins come on top
            let field = TextEdit::singleline(&mut self.wish.search).hint_text("Search");
            let field = ui.add(field.desired_width(width));
            field.widget_info(|| WidgetInfo::labeled(egui::Role::TextInput, true, "Search parts"));
            field.on_hover_text("Words of the name or of the file, in any order");
        });
        ui.horizontal(|ui| {
            let width = (ui.available_width() - 40.0) * 0.5; // what stands around the words comes on top
            let hint = "In which order the list shows the parts. As listed is their order in the job: \
                        drag a row to change it.";
            choose(ui, ("Sort", hint), width, &mut self.wish.sort, &Sort::WORDS);
            let hint = "What parts under one heading have in common.";
            choose(ui, ("Group", hint), width, &mut self.wish.group, &Group::WORDS);
        });
    }

    /// How many a search found, and a way to choose them.
    fn found(&self, ui: &mut Ui, model: &Model, all: usize, actions: &mut Vec<Action>) {
        if self.wish.search.trim().is_empty() {
            return;
        }
        let shown = self.list.found().len();
        ui.horizontal(|ui| {
            let says = format!("{shown} of {all} parts found");
            ui.label(RichText::new(says).size(CAPTION).color(model.ink.soft));
            if shown > 0 && ui.small_button("Choose them").clicked() {
                let copies = list::copies(model, self.list.found());
                actions.push(Action::Select(Selecting::Only, copies));
            }
        });
    }
}

/// A choice in a row of tools; its words say what it is about.
fn choose<T: PartialEq + Copy>(
    ui: &mut Ui,
    (name, hint): (&str, &str),
    width: f32,
    value: &mut T,
    words: &[(T, &str)],
) {
    let now = words.iter().find(|(v, _)| v == value).map_or("", |(_, word)| word);
    let shown = RichText::new(format!("{name}: {now}")).size(CAPTION);
    let combo = ComboBox::from_id_salt(name).selected_text(shown).width(width).truncate();
    let combo = combo.show_ui(ui, |ui| {
        for (choice, word) in words {
            ui.selectable_value(value, *choice, *word);
        }
    });
    let called = format!("{name} parts");
    combo.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, &called));
    combo.response.on_hover_text(hint);
}

/// Files that have changed since they were read, and a way to read them again.
fn changed(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let files = &model.results.changed_meshes;
    if files.is_empty() {
        return;
    }
    let name = |file: &String| file.rsplit('/').next().unwrap_or_default().to_owned();
    let mut names: Vec<String> = files.iter().take(MOST_FAILED).map(name).collect();
    if files.len() > MOST_FAILED {
        names.push(format!("{} more", files.len() - MOST_FAILED));
    }
    let verb = if files.len() == 1 { "has" } else { "have" };
    let says = format!("{} {verb} changed on disk.", names.join(", "));
    ui.colored_label(model.ink.caution, says);
    let button = ui.button("Read again").on_hover_text(Command::ReloadMeshes.info().name);
    if button.clicked() {
        actions.push(Action::Command(Command::ReloadMeshes));
    }
}

/// Files that were not read, each with a way to find it again.
fn not_read(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    let mut failed: Vec<(&str, &str)> = Vec::new();
    for part in &content.job.parts {
        if let Some(MeshState::Failed(sentence)) = model.results.mesh(part)
            && !failed.iter().any(|(file, _)| *file == part.mesh)
        {
            failed.push((&part.mesh, sentence));
        }
    }
    for (file, sentence) in failed.iter().take(MOST_FAILED) {
        ui.push_id(("not read", *file), |ui| {
            ui.colored_label(model.ink.stop, *sentence);
            if ui.button("Find the file…").clicked() {
                actions.push(Action::Ask(Purpose::Relink((*file).to_owned())));
            }
        });
    }
    if let Some(more) = failed.len().checked_sub(MOST_FAILED).filter(|more| *more > 0) {
        let says =
            format!("and {more} more; once one is found, the others are looked for beside it");
        ui.colored_label(model.ink.stop, says);
    }
}
