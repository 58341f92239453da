//! What is told of the program itself: its keys, its version, and what it is built with.

use crate::state::commands::{COMMANDS, Command, Group};
use crate::widgets::theme::{BODY, CAPTION, GAP, Ink, TITLE};
use egui::{Grid, Label, RichText, ScrollArea, TextWrapMode, Ui};

/// Made by `assets/make_third_party.py`.
const THIRD_PARTY: &str = include_str!("../../../../assets/THIRD_PARTY.md");
const VERSION: &str = env!("CARGO_PKG_VERSION");

/// All commands that have a key, by menu; returns whether it is to be closed.
pub(super) fn keys(ui: &mut Ui, ink: &Ink) -> bool {
    ui.label(RichText::new("Keys").size(TITLE));
    ui.add_space(GAP);
    let most = (ui.ctx().content_rect().height() - 160.0).max(120.0);
    ScrollArea::vertical().max_height(most).show(ui, |ui| {
        ui.columns(2, |columns| {
            let mut groups: [Vec<Group>; 2] = [Vec::new(), Vec::new()];
            for group in Group::ALL {
                let is_left = matches!(group, Group::Job | Group::Edit | Group::Zoom | Group::Help);
                groups[usize::from(!is_left)].push(group);
            }
            for (ui, groups) in columns.iter_mut().zip(groups) {
                for group in groups {
                    keys_of(ui, group, ink);
                }
            }
        });
    });
    ui.label(
        RichText::new("Everything else is in the menus, and in the search.")
            .size(CAPTION)
            .color(ink.soft),
    );
    ui.add_space(GAP);
    ui.button("Close").clicked()
}

fn keys_of(ui: &mut Ui, group: Group, ink: &Ink) {
    let of_group = COMMANDS.into_iter().map(Command::info);
    let keyed: Vec<_> = of_group
        .filter(|info| info.group == group)
        .filter_map(|info| Some((info.name, info.key?)))
        .collect();
    if keyed.is_empty() {
        return;
    }
    ui.label(RichText::new(group.title()).size(CAPTION).color(ink.soft));
    let grid = Grid::new(("keys", group.title())).num_columns(2).min_col_width(84.0);
    grid.show(ui, |ui| {
        for (name, key) in keyed {
            ui.label(RichText::new(ui.ctx().format_shortcut(&key)).strong());
            ui.label(name);
            ui.end_row();
        }
    });
    ui.add_space(2.0 * GAP);
}

/// Version, licences, and what the program is built with; returns whether it is to be closed.
pub(super) fn about(ui: &mut Ui, ink: &Ink) -> bool {
    ui.label(RichText::new(format!("Hatchwright {VERSION}")).size(TITLE));
    ui.label("Prepares builds for polymer laser-sintering machines, and proves what it writes.");
    ui.label("Under the MIT or the Apache 2.0 licence, as you like.");
    ui.add_space(GAP);
    let heading = "What it is built with, under which licences";
    ui.label(RichText::new(heading).size(CAPTION).color(ink.soft));
    let lines: Vec<&str> = THIRD_PARTY.lines().filter(|line| !line.starts_with("```")).collect();
    let row = ui.text_style_height(&egui::TextStyle::Small);
    let area = ScrollArea::both().auto_shrink(false).max_height(300.0);
    area.show_rows(ui, row, lines.len(), |ui, in_sight| {
        ui.style_mut().wrap_mode = Some(TextWrapMode::Extend);
        for line in lines.get(in_sight).unwrap_or_default() {
            let title = line.trim_start_matches('#');
            let text = RichText::new(title.trim_start()).size(CAPTION);
            let is_title = title.len() < line.len();
            ui.add(Label::new(if is_title { text.strong().underline() } else { text }));
        }
    });
    ui.add_space(GAP);
    ui.add(egui::Button::new(RichText::new("Close").size(BODY))).clicked()
}
