//! The title strip: menus, the job's name and state, undo, running work.

use crate::state::actions::Action;
use crate::state::arrangement::single;
use crate::state::commands::{COMMANDS, Command, Group};
use crate::state::model::Model;
use crate::state::paths;
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::{CAPTION, HEADING};
use crate::work::scheduler::{Running, TaskKind};
use egui::{Align, Layout, RichText, Ui};
use std::path::PathBuf;
use std::time::Duration;

/// Shows the strip; `cancel` receives the kind of work that is to be cancelled.
pub(crate) fn show(
    ui: &mut Ui,
    model: &Model,
    recent: &[PathBuf],
    running: &[Running],
    actions: &mut Vec<Action>,
    cancel: &mut Option<TaskKind>,
) {
    let ink = &model.ink;
    ui.horizontal_centered(|ui| {
        for group in Group::ALL.into_iter().filter(|group| group.within().is_none()) {
            menu(ui, group, model, recent, actions);
        }
        ui.separator();
        let undo = model.document.as_ref().and_then(|d| d.undo_label());
        let redo = model.document.as_ref().and_then(|d| d.redo_label());
        for (icon, command, verb, label) in
            [(Icon::Undo, Command::Undo, "Undo", undo), (Icon::Redo, Command::Redo, "Redo", redo)]
        {
            let name = label.map_or(verb.to_owned(), |label| format!("{verb}: {label}"));
            if icons::button(ui, icon, &name, label.is_some(), ink).clicked() {
                actions.push(Action::Command(command));
            }
        }
        ui.separator();
        if let Some(document) = &model.document {
            let name = RichText::new(&document.content().job.name).size(HEADING);
            let file = document.path.as_ref().map(|path| path.display().to_string());
            ui.label(name).on_hover_text(file.unwrap_or_else(|| "No file yet".to_owned()));
            let saving = running.iter().any(|task| task.kind == TaskKind::Save);
            let state = match (&document.path, document.is_dirty()) {
                _ if saving => "saving …",
                (None, _) => "never saved",
                (Some(_), true) => "changed",
                (Some(_), false) => "saved",
            };
            let state = ui.label(RichText::new(state).size(CAPTION).color(ink.soft));
            if !document.written.is_empty() {
                let written = document.written.iter().map(|path| path.display().to_string());
                let written = written.collect::<Vec<_>>().join("\n");
                state.on_hover_text(format!("Written by the last save:\n{written}"));
            }
        } else {
            ui.label(RichText::new("Hatchwright").size(HEADING));
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if icons::button(ui, Icon::Theme, "Paper or blueprint", true, ink).clicked() {
                actions.push(Action::Command(Command::SwapInk));
            }
            if icons::button(ui, Icon::Search, "Search commands and fields", true, ink).clicked() {
                actions.push(Action::Command(Command::Search));
            }
            for task in running {
                if is_worth_showing(task) {
                    progress(ui, task, model, cancel);
                }
            }
        });
    });
}

/// How often work that goes on is looked at.
const LOOK: Duration = Duration::from_millis(150);

/// Short work would only flicker.
fn is_worth_showing(task: &Running) -> bool {
    match task.kind {
        TaskKind::Dialog | TaskKind::Prefetch | TaskKind::Save | TaskKind::Tidy => false,
        TaskKind::Write => true,
        _ => task.started.elapsed() > Duration::from_millis(300),
    }
}

fn progress(ui: &mut Ui, task: &Running, model: &Model, cancel: &mut Option<TaskKind>) {
    let name = format!("Cancel: {}", task.label);
    if icons::button(ui, Icon::Close, &name, true, &model.ink).clicked() {
        *cancel = Some(task.kind);
    }
    ui.ctx().request_repaint_after(LOOK);
    if task.kind == TaskKind::Nest {
        // Nobody knows how long a search will take.
        let says = format!("{}, {} s", task.label, task.started.elapsed().as_secs());
        ui.label(RichText::new(says).size(CAPTION).color(model.ink.soft));
        return;
    }
    let fraction = task.progress.fraction();
    let bar = egui::ProgressBar::new(single(fraction))
        .desired_width(120.0)
        .desired_height(8.0)
        .fill(model.ink.soft);
    ui.add(bar).widget_info(|| {
        let percent = (fraction * 100.0).round();
        let mut info =
            egui::WidgetInfo::labeled(egui::Role::ProgressIndicator, true, task.label.clone());
        info.value = Some(percent);
        info
    });
    ui.label(RichText::new(&task.label).size(CAPTION).color(model.ink.soft));
}

fn menu(ui: &mut Ui, group: Group, model: &Model, recent: &[PathBuf], actions: &mut Vec<Action>) {
    ui.menu_button(group.title(), |ui| {
        ui.set_min_width(230.0);
        for command in COMMANDS {
            let info = command.info();
            if info.group != group {
                continue;
            }
            let key = info.key.map_or(String::new(), |key| ui.ctx().format_shortcut(&key));
            let button = egui::Button::new(info.name).shortcut_text(key);
            if ui.add_enabled(command.is_possible(model), button).clicked() {
                actions.push(Action::Command(command));
                ui.close();
            }
            if command == Command::OpenDemo && !recent.is_empty() {
                recent_jobs(ui, recent, actions);
            }
        }
        for inner in Group::ALL.into_iter().filter(|inner| inner.within() == Some(group)) {
            menu(ui, inner, model, recent, actions);
        }
    });
}

/// Jobs that were open before, each with its folder: several may have the same name.
fn recent_jobs(ui: &mut Ui, recent: &[PathBuf], actions: &mut Vec<Action>) {
    ui.menu_button("Recent jobs", |ui| {
        ui.set_min_width(300.0);
        for job in recent {
            let name = job.file_stem().unwrap_or_default().to_string_lossy();
            let button = egui::Button::new(name).shortcut_text(paths::end_of_folder(job));
            if ui.add(button).on_hover_text(job.display().to_string()).clicked() {
                actions.push(Action::Open(job.clone()));
                ui.close();
            }
        }
    });
}
