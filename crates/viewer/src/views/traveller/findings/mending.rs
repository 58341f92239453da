//! Buttons that mend what was found, for all places of a kind at once.

use crate::state::actions::{Action, Edit, Purpose, Selecting};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::moves;
use crate::views::traveller::prediction;
use base::finding::{JobProblem, Problem};
use base::{Kind, PlacementId, Unit};
use egui::Ui;
use pipeline::Group;
use std::collections::BTreeSet;

/// The buttons for a kind; none where only the person can tell what to do.
pub(super) fn buttons(
    ui: &mut Ui,
    model: &Model,
    kind: Kind,
    groups: &[Group],
    actions: &mut Vec<Action>,
) {
    match kind {
        Kind::SizeSuggestsInches => unit(ui, model, groups, (Unit::Inch, "inches"), actions),
        Kind::SizeSuggestsMetres => unit(ui, model, groups, (Unit::Metre, "metres"), actions),
        Kind::SizeSuggestsMicrons => {
            unit(ui, model, groups, (Unit::Micron, "micrometres"), actions);
        }
        Kind::MissingMesh => {
            let file = groups.iter().find_map(|group| mesh_of(model, group));
            if let Some(file) = file
                && ui.small_button("Find the mesh…").clicked()
            {
                actions.push(Action::Ask(Purpose::Relink(file)));
            }
        }
        Kind::OutsideBuildSpace | Kind::WallClearance => {
            choose(ui, model, groups, actions);
            move_inside(ui, model, groups, actions);
        }
        Kind::Overlap
        | Kind::Clearance
        | Kind::PlacementsOverlap
        | Kind::Enclosed
        | Kind::Hooked
        | Kind::Threaded
        | Kind::Held => {
            choose(ui, model, groups, actions);
            let hint = "Nests these placements anew, around everything else.";
            if ui.small_button("Nest them").on_hover_text(hint).clicked() {
                actions.push(Action::Select(Selecting::Only, targets(model, groups)));
                actions.push(Action::Command(Command::NestSelected));
            }
        }
        Kind::ThinWallsRescued
        | Kind::ThinWallsLost
        | Kind::PieceVanishes
        | Kind::PiecesMerge
        | Kind::HoleFills => offset(ui, model, groups, actions),
        Kind::EarlierVersion => save(ui, actions),
        Kind::AcceptanceGone | Kind::NotAcceptable => take_out(ui, groups, actions),
        _ => {}
    }
}

/// Takes acceptances that cover nothing, or nothing that may be accepted, out of the job.
fn take_out(ui: &mut Ui, groups: &[Group], actions: &mut Vec<Action>) {
    if !ui.small_button("Take out of the job").clicked() {
        return;
    }
    let given = groups.iter().filter_map(|group| {
        let Problem::Job(problem) = group.first.problem() else { return None };
        let (JobProblem::AcceptanceGone { kind, reason }
        | JobProblem::NotAcceptable { kind, reason }) = problem
        else {
            return None;
        };
        Some((group.first.place.part().map(str::to_owned), *kind, reason.clone()))
    });
    let given: Vec<_> = given.collect();
    let edit = Edit::new("take out what was accepted", move |content| {
        for (part, kind, reason) in given {
            content.job.withdraw(part.as_deref(), kind, &reason);
        }
    });
    actions.push(edit.into());
}

/// All placements that are concerned.
fn targets(model: &Model, groups: &[Group]) -> Vec<PlacementId> {
    let all = groups.iter().flat_map(|group| model.targets_of(&group.first.place));
    all.collect::<BTreeSet<_>>().into_iter().collect()
}

fn choose(ui: &mut Ui, model: &Model, groups: &[Group], actions: &mut Vec<Action>) {
    if ui.small_button("Choose them").clicked() {
        actions.push(Action::Select(Selecting::Only, targets(model, groups)));
    }
}

fn mesh_of(model: &Model, group: &Group) -> Option<String> {
    let name = group.first.place.part()?;
    let parts = &model.content()?.job.parts;
    parts.iter().find(|part| part.name == name || part.mesh == name).map(|part| part.mesh.clone())
}

/// Reads the meshes in the unit that their size suggests.
fn unit(
    ui: &mut Ui,
    model: &Model,
    groups: &[Group],
    (unit, word): (Unit, &str),
    actions: &mut Vec<Action>,
) {
    let hint = "States this unit for all parts made of these files.";
    if !ui.small_button(format!("Read in {word}")).on_hover_text(hint).clicked() {
        return;
    }
    let parts: BTreeSet<usize> = targets(model, groups).iter().map(|at| at.part).collect();
    actions.push(
        Edit::new(format!("read in {word}"), move |content| {
            for part in parts {
                if let Some(part) = content.job.parts.get_mut(part) {
                    part.unit = Some(unit);
                }
            }
        })
        .into(),
    );
}

/// Moves what reaches out by as little as brings it back, the clearance to the walls included.
fn move_inside(ui: &mut Ui, model: &Model, groups: &[Group], actions: &mut Vec<Action>) {
    let hint = "Moves each by as little as brings it back, wherever others are.";
    if !ui.small_button("Move inside").on_hover_text(hint).clicked() {
        return;
    }
    let Some(content) = model.content() else { return };
    let wall = content.job.clearances.walls_mm;
    let [w, d, h] = content.machine.build_space_mm;
    let (low, high) =
        ([wall - w / 2.0, wall - d / 2.0, wall], [w / 2.0 - wall, d / 2.0 - wall, h - wall]);
    let inside = targets(model, groups).into_iter().filter_map(|at| {
        let placed = model.arrangement.placement(at)?;
        // What is larger than the room is moved to the platform, and to the middle.
        let by = [0, 1, 2].map(|k| {
            let (up, down) = (low[k] - placed.low[k], placed.high[k] - high[k]);
            match (up > 0.0, down > 0.0) {
                (true, true) if k < 2 => f64::midpoint(up, -down),
                (true, _) => up,
                (false, true) => -down,
                (false, false) => 0.0,
            }
        });
        Some((at, moves::moved(placed.placement, by)))
    });
    let inside: Vec<_> = inside.collect();
    actions.push(moves::edit(moves::label("move inside", inside.len()), inside).into());
}

/// What is saved has today's form.
fn save(ui: &mut Ui, actions: &mut Vec<Action>) {
    if ui.small_button("Save in today's form").clicked() {
        actions.push(Action::Command(Command::SaveJob));
    }
}

/// Takes the offset that the prediction proposes, for the recipe of what is concerned.
fn offset(ui: &mut Ui, model: &Model, groups: &[Group], actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    let files: BTreeSet<&str> =
        targets(model, groups).iter().map(|at| content.recipe_file(at.part)).collect();
    for file in files {
        let Some(recipe) = content.recipes.get(file) else { continue };
        let Some(offset_mm) = prediction::proposed(recipe, &content.machine) else { continue };
        if (offset_mm - recipe.beam_offset_mm).abs() < 1e-3 {
            continue;
        }
        let hint = format!("The beam offset that the prediction proposes for {}.", recipe.name);
        let button = ui.small_button(format!("Use offset {offset_mm:.3} mm"));
        if button.on_hover_text(hint).clicked() {
            let file = file.to_owned();
            let edit = Edit::new("recipe: predicted beam offset", move |content| {
                if let Some(recipe) = content.recipes.get_mut(&file) {
                    prediction::take(recipe, offset_mm);
                }
            });
            actions.push(edit.into());
        }
    }
}
