//! Nesting: how far parts keep apart, whether they do, and the search for an arrangement.

use super::{failure, nesting_curve};
use crate::state::actions::{Action, Edit, Purpose};
use crate::state::commands::Command;
use crate::state::model::{CageShape, Model};
use crate::state::results::{MeshState, Nested, Proven};
use crate::widgets::field::Number;
use crate::widgets::format::duration;
use crate::widgets::theme::CAPTION;
use egui::{Grid, Label, RichText, Ui};
use job::Clearances;
use nesting::Contact;
use pipeline::{Before, Ended};

pub(super) fn summary(model: &Model) -> String {
    if model.proof_failure().is_some() {
        return "proving clearances failed".to_owned();
    }
    let Some(proven) = &model.results.proven else { return "not looked at yet".to_owned() };
    let old = if proven.revision == model.revision() { "" } else { ", before the last change" };
    let proof = &proven.clearance.proof;
    let near = proof.pairs.iter().filter(|pair| pair.violates).count()
        + proof.walls.iter().filter(|wall| wall.violates).count();
    let held = proven.clearance.removal.as_ref().map_or(0, |removal| removal.trapped.len());
    let says = match (near, held) {
        (0, 0) => "clear, and every part can be taken out".to_owned(),
        (0, held) => format!("clear, but {held} cannot be taken out"),
        (1, _) => "too near in 1 place".to_owned(),
        (near, _) => format!("too near in {near} places"),
    };
    let is_unread = |mesh: &MeshState| match mesh {
        MeshState::Failed(_) => true,
        MeshState::Loading | MeshState::Ready(_) => false,
    };
    let unread = model.results.meshes.values().any(is_unread);
    says + if unread { ", but for parts not read" } else { "" } + old
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    clearances(ui, model, content.job.clearances, actions);
    if let Some(sentence) = model.proof_failure() {
        failure::show(ui, model, &format!("Clearances were not proven. {sentence}"), actions);
    }
    if let Some(proven) = &model.results.proven {
        nearest(ui, model, proven);
    }
    let mut even = model.even_area;
    let hint = "Once it is as low as it gets, parts move up and down until each layer fuses about as \
                much as the next: that keeps the bed's heat even.";
    if ui.checkbox(&mut even, "Even out the fused area along Z").on_hover_text(hint).changed() {
        actions.push(Action::EvenArea(even));
    }
    ui.horizontal_wrapped(|ui| {
        for command in [Command::Nest, Command::NestSelected, Command::Compact] {
            let button = egui::Button::new(command.info().name);
            if ui.add_enabled(command.is_possible(model), button).clicked() {
                actions.push(Action::Command(command));
            }
        }
    });
    nesting_curve::show(ui, model, actions);
    cage(ui, model, actions);
    if let Some(nested) = &model.results.nested {
        outcome(ui, model, nested, actions);
    }
}

type Field = fn(&mut Clearances) -> &mut f64;

fn clearances(ui: &mut Ui, model: &Model, wanted: Clearances, actions: &mut Vec<Action>) {
    let usual = Clearances::default();
    let between = "Least distance between the surfaces of two parts. Too little, and heat fuses the \
                   powder between them. 2 to 5 mm is common practice, no source.";
    let walls = "Least distance of parts from the walls and the platform, where the bed is colder. \
                 Common practice, no source.";
    let fields: [(&str, f64, f64, &str, Field); 2] = [
        ("Between parts", wanted.parts_mm, usual.parts_mm, between, |c| &mut c.parts_mm),
        ("To the walls", wanted.walls_mm, usual.walls_mm, walls, |c| &mut c.walls_mm),
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
}

/// The smallest distance between parts, and to a wall.
fn nearest(ui: &mut Ui, model: &Model, proven: &Proven) {
    let found = &proven.clearance;
    let name = |body: usize| {
        found.placements.get(body).map_or("?".to_owned(), |placement| placement.name.to_string())
    };
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
    table(ui, model, "clearances", &rows);
    if proven.revision != model.revision() {
        caption(ui, model, "Out of date: of the job before the last change.");
    }
}

/// A cage around what is selected.
fn cage(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let mut shape = model.cage;
    let usual = CageShape::default();
    let bars = "Width of the bars of a cage around small parts, so that none is lost in the powder. \
                The bars must be wide enough to fuse, and thin enough to break.";
    let openings = "Widest opening between two bars of the cage: less than the smallest part.";
    let fields: [(&str, &mut f64, f64, f64, &str); 2] = [
        ("Cage bars", &mut shape.bar_mm, usual.bar_mm, 20.0, bars),
        ("Cage openings", &mut shape.opening_mm, usual.opening_mm, 200.0, openings),
    ];
    for (name, value, default, most, hint) in fields {
        let range = 0.1..=most;
        let number = Number { name, unit: " mm", range, step: 0.1, default: Some(default), hint };
        if let Some(new) = number.show(ui, *value, &model.ink) {
            *value = new.value;
        }
    }
    if shape != model.cage {
        actions.push(Action::ShapeCage(shape));
    }
    let button = egui::Button::new(Command::Cage.info().name);
    if ui.add_enabled(Command::Cage.is_possible(model), button).clicked() {
        actions.push(Action::Command(Command::Cage));
    }
}

/// What the last search came to, and the builds beyond the first.
fn outcome(ui: &mut Ui, model: &Model, nested: &Nested, actions: &mut Vec<Action>) {
    let Some(ended) = &nested.ended else {
        caption(ui, model, "Searching on; each better arrangement is shown. Stop when it will do.");
        return;
    };
    let recoat = model.content().map_or(0.0, |content| content.machine.recoat_time_s);
    let first = ended.figures.first();
    let height = first.map_or(0.0, |f| f.height_mm);
    let layers: u32 = ended.figures.iter().map(|f| f.layers).sum();
    let density = first.map_or(0.0, |f| 100.0 * f.density);
    let against = match ended.before {
        Before::Placements(before) => format!("{layers}, before {before}"),
        Before::Boxes(boxes) => format!("{layers}, boxes alone {boxes}"),
        Before::Nothing => layers.to_string(),
    };
    let mut rows = vec![
        ("Height", format!("{height:.1} mm")),
        ("Parts fill", format!("{density:.1} % of platform × height")),
        ("Layers", against),
    ];
    if let Some(saved) = ended.time_saved_s(recoat) {
        let word = if saved < 0.0 { "more" } else { "less" };
        rows.push(("Spreading", format!("{} {word}", duration(saved.abs()))));
    }
    table(ui, model, "nested", &rows);
    caption(
        ui,
        model,
        match ended.ended {
            Ended::Converged => "The search ended by itself.",
            Ended::TimeUp | Ended::Stopped => {
                "The search was stopped; this is the best it had found."
            }
        },
    );
    for finding in &ended.findings {
        let what = format!("{} {}", finding.sentence(), finding.advice());
        ui.colored_label(model.ink.caution, what);
    }
    for (number, job) in nested.jobs.iter().enumerate().skip(1) {
        let copies: usize = job.parts.iter().map(|part| part.placements.len()).sum();
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("Build {}: {copies} placements", number + 1));
            if ui.button(format!("Save build {}…", number + 1)).clicked() {
                actions.push(Action::Ask(Purpose::SaveBuild(number)));
            }
        });
    }
}

fn table(ui: &mut Ui, model: &Model, id: &str, rows: &[(&str, String)]) {
    Grid::new(id).num_columns(2).spacing([16.0, 3.0]).show(ui, |ui| {
        for (what, value) in rows {
            ui.label(RichText::new(*what).color(model.ink.soft));
            ui.add(Label::new(value).truncate()).on_hover_text(value);
            ui.end_row();
        }
    });
}

fn caption(ui: &mut Ui, model: &Model, says: &str) {
    ui.label(RichText::new(says).size(CAPTION).color(model.ink.soft));
}
