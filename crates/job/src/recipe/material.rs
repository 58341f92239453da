//! What the powder is: the numbers that say how much energy melts it.

use super::ranges::{
    ABSORBED_FRACTION, BED_TEMPERATURE_C, DENSITY_G_CM3, HEAT_CAPACITY_J_G_K, LATENT_HEAT_J_G,
    MELTING_TEMPERATURE_C,
};
use crate::check::{Checker, Number};
use serde::{Deserialize, Serialize};

/// The powder of a recipe, as it lies in the hot bed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Temperature of the powder bed's surface before exposure, °C.
    pub bed_temperature_c: f64,
    /// Temperature at which the powder melts on first heating, °C; above that of the bed.
    pub melting_temperature_c: f64,
    /// Specific heat capacity between these two temperatures, J/(g·K).
    pub heat_capacity_j_g_k: f64,
    /// Heat that melting takes at its temperature, J/g.
    pub latent_heat_j_g: f64,
    /// Density of the spread powder, gaps included, g/cm³.
    pub bed_density_g_cm3: f64,
    /// Density of the finished part, pores included, g/cm³; at least that of the bed.
    pub part_density_g_cm3: f64,
    /// Share of the laser's power at the bed that stays in the powder, above 0 and at most 1.
    pub absorbed_fraction: f64,
}

impl Material {
    /// Polyamide 12: what is assumed for recipes of versions that had no material. Where the numbers
    /// come from stands in the recipe `pa12.ron`.
    pub const PA12: Self = Self {
        bed_temperature_c: 170.0,
        melting_temperature_c: 187.0,
        heat_capacity_j_g_k: 2.5,
        latent_heat_j_g: 100.0,
        bed_density_g_cm3: 0.4545,
        part_density_g_cm3: 0.95,
        absorbed_fraction: 0.95,
    };

    pub(super) fn check(&self, c: &mut Checker) {
        let Self { bed_temperature_c, melting_temperature_c, .. } = *self;
        let Self { bed_density_g_cm3, part_density_g_cm3, .. } = *self;
        c.number("bed_temperature_c", bed_temperature_c, BED_TEMPERATURE_C);
        c.number("melting_temperature_c", melting_temperature_c, MELTING_TEMPERATURE_C);
        // A number out of its range has been named, and says nothing about another one.
        if melting_temperature_c <= bed_temperature_c
            && BED_TEMPERATURE_C.contains(&bed_temperature_c)
            && MELTING_TEMPERATURE_C.contains(&melting_temperature_c)
        {
            let allowed = format_args!("above the bed's temperature of {bed_temperature_c} °C");
            c.report("melting_temperature_c", Number(melting_temperature_c), allowed);
        }
        c.number("heat_capacity_j_g_k", self.heat_capacity_j_g_k, HEAT_CAPACITY_J_G_K);
        c.number("latent_heat_j_g", self.latent_heat_j_g, LATENT_HEAT_J_G);
        c.number("bed_density_g_cm3", bed_density_g_cm3, DENSITY_G_CM3);
        c.number("part_density_g_cm3", part_density_g_cm3, DENSITY_G_CM3);
        if part_density_g_cm3 < bed_density_g_cm3
            && DENSITY_G_CM3.contains(&bed_density_g_cm3)
            && DENSITY_G_CM3.contains(&part_density_g_cm3)
        {
            let allowed = format_args!("at least the bed's density of {bed_density_g_cm3} g/cm³");
            c.report("part_density_g_cm3", Number(part_density_g_cm3), allowed);
        }
        c.number("absorbed_fraction", self.absorbed_fraction, ABSORBED_FRACTION);
    }
}
