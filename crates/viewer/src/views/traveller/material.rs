//! The material of a recipe: what the powder is, and how much energy melts it.

use super::recipe_editor::RecipeEditor;
use crate::widgets::field::heading;
use egui::Ui;
use job::recipe::{Material, ranges};
use std::ops::RangeInclusive;

/// Least distance of the melting temperature from that of the bed, °C: the next number shown.
const NEXT_C: f64 = 0.1;

pub(super) fn show(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    heading(ui, "Material", &editor.model.ink);
    if let Some(assumed) = editor.recipe.assumed() {
        ui.weak(assumed);
    }
    for Field { name, unit, step, range, hint, of } in FIELDS {
        let range = range(&editor.recipe.material);
        editor.number(ui, name, unit, range, step, hint, move |recipe| {
            Some(of(&mut recipe.material))
        });
    }
}

/// A number of the material.
struct Field {
    name: &'static str,
    unit: &'static str,
    step: f64,
    /// What it may be beside the material's other numbers.
    range: fn(&Material) -> RangeInclusive<f64>,
    hint: &'static str,
    of: fn(&mut Material) -> &mut f64,
}

const FIELDS: [Field; 7] = [
    Field {
        name: "Bed temperature",
        unit: " °C",
        step: 0.5,
        range: |m| *ranges::BED_TEMPERATURE_C.start()..=highest_bed(m),
        hint: "Temperature of the powder bed's surface before exposure; below that of melting.",
        of: |m| &mut m.bed_temperature_c,
    },
    Field {
        name: "Melting temperature",
        unit: " °C",
        step: 0.5,
        range: |m| lowest_melting(m)..=*ranges::MELTING_TEMPERATURE_C.end(),
        hint: "Temperature at which the powder melts on first heating (peak of a DSC curve).",
        of: |m| &mut m.melting_temperature_c,
    },
    Field {
        name: "Heat capacity",
        unit: " J/(g·K)",
        step: 0.01,
        range: |_| ranges::HEAT_CAPACITY_J_G_K,
        hint: "Specific heat capacity between bed and melting temperature.",
        of: |m| &mut m.heat_capacity_j_g_k,
    },
    Field {
        name: "Latent heat",
        unit: " J/g",
        step: 0.5,
        range: |_| ranges::LATENT_HEAT_J_G,
        hint: "Heat that melting takes, on first heating.",
        of: |m| &mut m.latent_heat_j_g,
    },
    Field {
        name: "Density of the bed",
        unit: " g/cm³",
        step: 0.001,
        range: |m| *ranges::DENSITY_G_CM3.start()..=m.part_density_g_cm3,
        hint: "Density of the spread powder, gaps included: weigh a known volume of it.",
        of: |m| &mut m.bed_density_g_cm3,
    },
    Field {
        name: "Density of parts",
        unit: " g/cm³",
        step: 0.001,
        range: |m| m.bed_density_g_cm3..=*ranges::DENSITY_G_CM3.end(),
        hint: "Density of finished parts, pores included: weigh a coupon.",
        of: |m| &mut m.part_density_g_cm3,
    },
    Field {
        name: "Absorbed share",
        unit: " of 1",
        step: 0.005,
        range: |_| ranges::ABSORBED_FRACTION,
        hint: "Share of the laser's power at the bed that stays in the powder.",
        of: |m| &mut m.absorbed_fraction,
    },
];

fn highest_bed(material: &Material) -> f64 {
    (material.melting_temperature_c - NEXT_C)
        .clamp(*ranges::BED_TEMPERATURE_C.start(), *ranges::BED_TEMPERATURE_C.end())
}

fn lowest_melting(material: &Material) -> f64 {
    (material.bed_temperature_c + NEXT_C)
        .clamp(*ranges::MELTING_TEMPERATURE_C.start(), *ranges::MELTING_TEMPERATURE_C.end())
}
