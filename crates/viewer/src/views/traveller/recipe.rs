//! The recipe: every process parameter of the material, edited in place.

use super::recipe_editor::RecipeEditor;
use super::{findings, limits, material, part_order, prediction, strategy};
use crate::state::actions::{Action, Purpose};
use crate::state::model::Model;
use crate::widgets::field::{choice, count, heading, text};
use crate::widgets::format::number;
use crate::widgets::steady::apart;
use egui::Ui;
use job::Recipe;
use job::recipe::{Exposure, FacingStrategy, Joins, Runs, ThinWalls, ranges};
use pipeline::grouped;

pub(super) fn summary(model: &Model) -> String {
    let Some(recipe) = model.content().and_then(|content| content.recipe()) else {
        return String::new();
    };
    let energy = recipe.area_energy_j_mm2(&recipe.core);
    let energy = energy.map_or(String::new(), |e| format!(" · {} J/mm²", number(e)));
    let file = model.content().map_or("", |content| &content.job.recipe);
    let cautions = match findings::of_recipe(model, file).count() {
        0 => String::new(),
        1 => " · 1 caution".to_owned(),
        many => format!(" · {many} cautions"),
    };
    format!("{} · offset {} mm{energy}{cautions}", recipe.name, recipe.beam_offset_mm)
}

pub(super) fn show(
    ui: &mut Ui,
    model: &Model,
    selected: &mut Option<String>,
    actions: &mut Vec<Action>,
) {
    let Some(document) = &model.document else { return };
    let content = document.content();
    if selected.as_ref().is_some_and(|file| !content.recipes.contains_key(file)) {
        *selected = None;
    }
    if content.recipes.len() > 1 {
        let files: Vec<(String, &str)> =
            content.recipes.iter().map(|(file, recipe)| (file.clone(), &*recipe.name)).collect();
        let shown = selected.clone().unwrap_or_else(|| content.job.recipe.clone());
        let hint = "Which recipe of this job is shown below.";
        if let Some(other) = choice(ui, "Shown", &shown, &files, hint) {
            *selected = Some(other);
        }
    }
    let file = selected.clone().unwrap_or_else(|| content.job.recipe.clone());
    let Some(recipe) = content.recipes.get(&file) else { return };
    let saved = document.saved().and_then(|saved| saved.recipes.get(&file));
    apart(ui, |ui| {
        for (index, group) in grouped(findings::of_recipe(model, &file)).into_iter().enumerate() {
            ui.push_id(("caution", index), |ui| findings::row(ui, model, &group, actions));
        }
    });
    {
        let mut editor = RecipeEditor { model, file: &file, recipe, saved, actions };
        fields(ui, &mut editor);
    }
    part_order::show(ui, model, actions);
    ui.horizontal_wrapped(|ui| {
        let hint = "Into a file of its own, which the job then uses. Over the recipe's present file if all jobs \
                    that use it are to change; what it held is kept beside it, with .old behind the name.";
        if ui.button("Save a copy…").on_hover_text(hint).clicked() {
            actions.push(Action::Ask(Purpose::SaveRecipe(file.clone())));
        }
        if ui.button("Use another recipe…").clicked() {
            actions.push(Action::Ask(Purpose::UseRecipe(None)));
        }
    });
}

fn fields(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    let ink = editor.model.ink;
    let recipe = editor.recipe;
    if !recipe.notes.is_empty() {
        ui.weak(&recipe.notes);
    }
    if let Some(new) = text(ui, "Name", &recipe.name, "What you call the recipe.") {
        editor.edit("name", new.merge, move |recipe| recipe.name = new.value);
    }
    heading(ui, "Beam", &ink);
    let hint = "How far the centre of the outermost vector lies inside the part's true boundary: \
                half the width that one mark melts.";
    editor.number(ui, "Beam offset", " mm", ranges::BEAM_OFFSET_MM, 0.001, hint, |r| {
        Some(&mut r.beam_offset_mm)
    });
    apart(ui, |ui| prediction::offsets(ui, editor));
    hole_offset(ui, editor);
    joins(ui, editor);
    thin_walls(ui, editor);
    heading(ui, "Size", &ink);
    let hint = "Height of one spread of powder. Common practice: about 0.1 mm.";
    editor.number(ui, "Layer thickness", " mm", ranges::LAYER_THICKNESS_MM, 0.001, hint, |r| {
        Some(&mut r.layer_thickness_mm)
    });
    let hint = "How much the material shrinks from hot to cold; parts are enlarged by 1/(1 − s).";
    for (axis, name) in ["Shrinkage X", "Shrinkage Y", "Shrinkage Z"].into_iter().enumerate() {
        editor.number(ui, name, " %", ranges::SHRINKAGE_PERCENT, 0.01, hint, move |r| {
            Some(&mut r.shrinkage_percent[axis])
        });
    }
    let hint = "How far the melt reaches below a down-facing surface; that much is left unexposed.";
    editor.number(ui, "Growth in Z", " mm", ranges::Z_GROWTH_MM, 0.005, hint, |r| {
        Some(&mut r.z_growth_mm)
    });
    limits::shapes(ui, editor);
    material::show(ui, editor);
    heading(ui, "Energy that melts", &ink);
    apart(ui, |ui| prediction::thresholds(ui, editor));
    heading(ui, "Exposures", &ink);
    for (index, exposure) in recipe.exposures.iter().enumerate() {
        exposure_fields(ui, editor, index, exposure);
    }
    if ui.button("Add an exposure").clicked() {
        editor.edit("add an exposure", None, |recipe| {
            let names: Vec<&str> = recipe.exposures.iter().map(|e| e.name.as_str()).collect();
            let mut free = (1..=names.len() + 1).map(|n| format!("exposure {n}"));
            let free = free.find(|name| !names.contains(&name.as_str()));
            if let (Some(last), Some(name)) = (recipe.exposures.last().cloned(), free) {
                recipe.exposures.push(Exposure { name, ..last });
            }
        });
    }
    strategy::show(ui, editor, "Core", |recipe| Some(&mut recipe.core));
    facing(ui, editor, "Up-facing", "powder above", |recipe| &mut recipe.up_facing);
    facing(ui, editor, "Down-facing", "powder below", |recipe| &mut recipe.down_facing);
    limits::order(ui, editor);
}

fn hole_offset(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    let words = [(false, "like the beam offset"), (true, "of its own")];
    let own = editor.recipe.hole_offset_mm.is_some();
    let hint = "How far the centre of the outermost vector keeps from the boundary of a hole. Holes often \
                come out too narrow, because powder within them melts on.";
    if let Some(own) = choice(ui, "Offset at holes", &own, &words, hint) {
        editor.edit("offset at holes", None, move |recipe| {
            recipe.hole_offset_mm = own.then_some(recipe.beam_offset_mm);
        });
    }
    let hint = "How far the centre of the outermost vector lies inside the material at a hole.";
    editor.number(ui, "Hole offset", " mm", ranges::BEAM_OFFSET_MM, 0.001, hint, |recipe| {
        recipe.hole_offset_mm.as_mut()
    });
}

fn joins(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    let words = [(true, "round"), (false, "mitred")];
    let round = match editor.recipe.joins {
        Joins::Round { .. } => true,
        Joins::Mitre { .. } => false,
    };
    let hint = "How corners are joined where an offset boundary opens up.";
    if let Some(round) = choice(ui, "Corners", &round, &words, hint) {
        editor.edit("corners", None, move |recipe| {
            recipe.joins = if round {
                Joins::Round { chord_tolerance_um: 5.0 }
            } else {
                Joins::Mitre { limit: 2.0 }
            };
        });
    }
    let hint = "Largest distance of a chord from the arc that it stands for.";
    editor.number(ui, "Chord tolerance", " µm", ranges::CHORD_TOLERANCE_UM, 0.1, hint, |recipe| {
        match &mut recipe.joins {
            Joins::Round { chord_tolerance_um } => Some(chord_tolerance_um),
            Joins::Mitre { .. } => None,
        }
    });
    let hint = "Sharp corners are cut off where they reach farther than this × the offset.";
    editor.number(ui, "Mitre limit", " ×", ranges::MITRE_LIMIT, 0.05, hint, |recipe| {
        match &mut recipe.joins {
            Joins::Mitre { limit } => Some(limit),
            Joins::Round { .. } => None,
        }
    });
}

fn thin_walls(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    let words = [(true, "one centreline"), (false, "left out")];
    let exposed = match editor.recipe.thin_walls {
        ThinWalls::Expose { .. } => true,
        ThinWalls::Skip => false,
    };
    let hint = "What becomes of walls too narrow for two contours, or for hatch.";
    if let Some(expose) = choice(ui, "Thin walls", &exposed, &words, hint) {
        editor.edit("thin walls", None, move |recipe| {
            let exposure = recipe.exposures.last().map(|e| e.name.clone()).unwrap_or_default();
            recipe.thin_walls = if expose {
                ThinWalls::Expose { exposure, min_length_mm: 0.5, min_width_mm: 0.1 }
            } else {
                ThinWalls::Skip
            };
        });
    }
    if let ThinWalls::Expose { exposure, .. } = &editor.recipe.thin_walls {
        let names = strategy::exposures::words(editor.recipe);
        let hint = "The exposure that marks the middle of a thin wall.";
        if let Some(name) = choice(ui, "Centreline exposure", exposure, &names, hint) {
            editor.edit("centreline exposure", None, move |recipe| {
                if let ThinWalls::Expose { exposure, .. } = &mut recipe.thin_walls {
                    *exposure = name;
                }
            });
        }
    }
    let hint = "Centrelines shorter than this are not worth a mark.";
    editor.number(ui, "Shortest centreline", " mm", ranges::SHORTEST_MM, 0.01, hint, |recipe| {
        match &mut recipe.thin_walls {
            ThinWalls::Expose { min_length_mm, .. } => Some(min_length_mm),
            ThinWalls::Skip => None,
        }
    });
    let hint = "Walls thinner than this are not exposed but reported.";
    let widest = 0.0..=(2.0 * editor.recipe.beam_offset_mm).clamp(0.0, 4.0);
    editor.number(ui, "Thinnest wall", " mm", widest, 0.005, hint, |recipe| {
        match &mut recipe.thin_walls {
            ThinWalls::Expose { min_width_mm, .. } => Some(min_width_mm),
            ThinWalls::Skip => None,
        }
    });
}

fn exposure_fields(ui: &mut Ui, editor: &mut RecipeEditor<'_>, index: usize, exposure: &Exposure) {
    let title = format!(
        "{}: {} W, {} mm/s, {} J/mm",
        exposure.name,
        exposure.power_w,
        exposure.speed_mm_s,
        number(job::energy::line_energy_j_mm(exposure.power_w, exposure.speed_mm_s))
    );
    let header = egui::CollapsingHeader::new(title).id_salt(("exposure", index));
    header.show(ui, |ui| {
        ui.push_id(index, |ui| {
            let machine = editor.model.content().map(|content| &content.machine);
            let power = machine.map_or(1000.0, |machine| machine.laser.max_power_w);
            let speed = machine.map_or(100_000.0, |m| m.scan_head.max_mark_speed_mm_s);
            let hint = "Laser power at the bed; the machine sets the limit.";
            editor.number(ui, "Power", " W", 0.01..=power, 0.1, hint, move |r| {
                r.exposures.get_mut(index).map(|e| &mut e.power_w)
            });
            let hint = "Speed of the mark; the machine sets the limit.";
            editor.number(ui, "Speed", " mm/s", 1.0..=speed, 5.0, hint, move |r| {
                r.exposures.get_mut(index).map(|e| &mut e.speed_mm_s)
            });
            let words = [(Runs::Typed, "as typed"), (Runs::Auto, "from the head")];
            let hint = "Where run-in and run-out come from: v²/2a and settling, if the machine says how its \
                        head moves, or the lengths below.";
            if let Some(runs) = choice(ui, "Runs", &exposure.runs, &words, hint) {
                editor.edit("runs", None, move |recipe| {
                    if let Some(exposure) = recipe.exposures.get_mut(index) {
                        exposure.runs = runs;
                    }
                });
            }
            if exposure.runs == Runs::Typed {
                run_lengths(ui, editor, index);
            }
            if strategy::is_unused(editor.recipe, &exposure.name)
                && ui.button("Remove this exposure").clicked()
            {
                editor.edit("remove an exposure", None, move |recipe| {
                    recipe.exposures.remove(index);
                });
            }
        });
    });
}

fn run_lengths(ui: &mut Ui, editor: &mut RecipeEditor<'_>, index: usize) {
    let hint = "Stretch before each row of marks in which the beam gets to its speed, laser off.";
    editor.number(ui, "Run-in", " mm", ranges::RUN_MM, 0.01, hint, move |r| {
        r.exposures.get_mut(index).map(|e| &mut e.path_run_in_mm)
    });
    let hint = "Stretch after each row of marks in which the beam brakes, laser off.";
    editor.number(ui, "Run-out", " mm", ranges::RUN_MM, 0.01, hint, move |r| {
        r.exposures.get_mut(index).map(|e| &mut e.path_run_out_mm)
    });
}

fn facing(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    name: &str,
    what: &str,
    lens: fn(&mut Recipe) -> &mut Option<FacingStrategy>,
) {
    let own = lens(&mut editor.recipe.clone()).is_some();
    let words = [(false, "like the core"), (true, "a strategy of its own")];
    let hint = format!("How regions with {what} within some layers are filled.");
    if let Some(own) = choice(ui, name, &own, &words, &hint) {
        editor.edit(name, None, move |recipe| {
            let strategy = recipe.core.clone();
            *lens(recipe) = own.then_some(FacingStrategy { layers: 2, strategy });
        });
    }
    if own {
        ui.push_id(name, |ui| {
            let layers = lens(&mut editor.recipe.clone()).as_ref().map_or(1, |f| f.layers);
            let hint = "Within how many layers of the powder a region counts as facing it.";
            if let Some(new) = count(ui, "Layers", layers, ranges::FACING_LAYERS, hint) {
                editor.edit("layers", new.merge, move |recipe| {
                    if let Some(facing) = lens(recipe) {
                        facing.layers = new.value;
                    }
                });
            }
            strategy::show(ui, editor, name, move |recipe| {
                lens(recipe).as_mut().map(|facing| &mut facing.strategy)
            });
        });
    }
}
