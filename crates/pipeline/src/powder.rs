//! A recipe's material as the powder of the estimates.

use estimate::Powder;
use job::recipe::Material;

/// The powder that a recipe describes.
pub fn powder(material: &Material) -> Powder {
    let Material { bed_temperature_c, melting_temperature_c, .. } = *material;
    let Material { heat_capacity_j_g_k, latent_heat_j_g, absorbed_fraction, .. } = *material;
    let Material { bed_density_g_cm3, part_density_g_cm3, .. } = *material;
    Powder {
        bed_temperature_c,
        melting_temperature_c,
        heat_capacity_j_g_k,
        latent_heat_j_g,
        bed_density_g_cm3,
        part_density_g_cm3,
        absorbed_fraction,
    }
}
