//! Nesting: how far parts keep apart, whether they do, and arranging them.

use crate::actions::{Action, Edit};
use crate::commands::Command;
use crate::field::Number;
use crate::model::Model;
use crate::results::Proven;
use crate::theme::CAPTION;
use egui::{RichText, Ui};
use job::Clearances;
use nesting::Contact;

pub(super) fn summary(model: &Model) -> String {
    let Some(proven) = &model.results.proven else { return "not looked at yet".to_owned() };
    let old = if proven.revision == model.revision() { "" } else { ", before the last change" };
    let proof = &proven.clearance.proof;
    let near = proof.pairs.iter().filter(|pair| pair.violates).count()
        + proof.walls.iter().filter(|wall| wall.violates).count();
    let held = proven.clearance.removal.as_ref().map_or(0, |removal| removal.trapped.len());
    let says = match (near, held) {
        (0, 0) => "clear, and every part comes out".to_owned(),
        (0, held) => format!("clear, but {held} held"),
        (near, _) => format!("too near in {near} places"),
    };
    says + old
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    let wanted = content.job.clearances;
    let usual = Clearances::default();
    let fields: [(&str, f64, f64, &str, fn(&mut Clearances) -> &mut f64); 2] = [
        (
            "Between parts",
            wanted.parts_mm,
            usual.parts_mm,
            "Least distance between the surfaces of two parts. Too little, and heat fuses the \
             powder between them. 2 to 5 mm is common practice, no source.",
            |c| &mut c.parts_mm,
        ),
        (
            "To the walls",
            wanted.walls_mm,
            usual.walls_mm,
            "Least distance of parts from the walls and the platform, where the bed is colder. \
             Common practice, no source.",
            |c| &mut c.walls_mm,
        ),
    ];
    for (name, value, default, hint, field) in fields {
        let range = Clearances::RANGE_MM;
        let number = Number { name, unit: " mm", range, step: 0.1, default: Some(default), hint };
        if let Some(new) = number.show(ui, value, &model.ink) {
            let label = format!("clearance {}", name.to_lowercase());
            let mut edit = Edit::new(label, move |content| {
                *field(&mut content.job.clearances) = new.value;
            });
            if let Some(key) = new.merge {
                edit = edit.within(key);
            }
            actions.push(edit.into());
        }
    }
    if let Some(proven) = &model.results.proven {
        nearest(ui, model, proven);
    }
    ui.horizontal_wrapped(|ui| {
        for command in [Command::Nest, Command::NestChosen, Command::Compact] {
            let button = egui::Button::new(command.info().name);
            if ui.add_enabled(command.is_possible(model), button).clicked() {
                actions.push(Action::Command(command));
            }
        }
    });
}

/// The smallest distance between parts, and to a wall.
fn nearest(ui: &mut Ui, model: &Model, proven: &Proven) {
    let found = &proven.clearance;
    let name = |row: usize| found.names.get(row).map_or("?", String::as_str);
    let pair = found.proof.pairs.first().map(|pair| {
        let [a, b] = pair.bodies.map(name);
        match pair.contact {
            Contact::Overlap => format!("{a} and {b} overlap"),
            Contact::Touch => format!("{a} and {b} touch"),
            Contact::Apart => format!("{:.2} mm, {a} to {b}", pair.distance_mm),
        }
    });
    let wall = found.proof.walls.first().map(|gap| {
        format!("{:.2} mm, {} to the {}", gap.distance_mm, name(gap.body), gap.wall.name())
    });
    let beyond = |mm: f64| format!("more than {:.1} mm", 2.0 * mm);
    let rows = [
        ("Nearest parts", pair.unwrap_or_else(|| beyond(found.space.clearance_mm))),
        ("Nearest wall", wall.unwrap_or_else(|| beyond(found.space.wall_clearance_mm))),
    ];
    egui::Grid::new("clearances").num_columns(2).spacing([16.0, 3.0]).show(ui, |ui| {
        for (what, value) in rows {
            ui.label(RichText::new(what).color(model.ink.soft));
            ui.add(egui::Label::new(value).truncate());
            ui.end_row();
        }
    });
    if proven.revision != model.revision() {
        let note = "Of the arrangement before the last change.";
        ui.label(RichText::new(note).size(CAPTION).color(model.ink.soft));
    }
}
