//! The beam offset that a recipe's own numbers ask for.

use crate::exposures::thresholds;
use estimate::{Beam, EstimateError, offset};
use job::{Machine, Recipe};

/// How far inside a straight boundary the outermost contour's centre must lie for the melt to end on
/// the boundary, mm: of the core, by what is assumed of the powder's depth. The same at outer
/// boundaries and at holes. `None` where nothing melts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProposedOffsets {
    /// Over powder as deep as one layer.
    pub nominal_mm: Option<f64>,
    /// Over powder as deep as it lies on fused layers once a build is under way; see
    /// [`estimate::Powder::powder_depth`].
    pub steady_mm: Option<f64>,
}

/// What the energies of the recipe's core propose on a machine.
///
/// # Errors
/// If the machine's beam has no usable radius; a validated machine's has.
pub fn proposed_offsets(
    recipe: &Recipe,
    machine: &Machine,
) -> Result<ProposedOffsets, EstimateError> {
    let beam = Beam::new(machine.laser.spot_radius_mm)?;
    let propose = |threshold| proposed_offset(recipe, beam, threshold);
    let [nominal_mm, steady_mm] = thresholds(recipe).map(propose);
    Ok(ProposedOffsets { nominal_mm, steady_mm })
}

/// How far beyond the centre of a recipe's outermost core contour a straight boundary melts, mm
/// ([`offset::with_hatch`]); `None` if nothing melts. Without contours, beyond where they would be.
///
/// Exposures that run along the same paths one after the other add up; one that does not exist brings
/// nothing. In layers without hatch, if the recipe leaves some without, it is less.
pub(crate) fn proposed_offset(recipe: &Recipe, beam: Beam, threshold_j_mm2: f64) -> Option<f64> {
    let line = |names: &[String]| -> f64 {
        let exposures = names.iter().filter_map(|name| recipe.exposure(name));
        exposures.map(|e| job::energy::line_energy_j_mm(e.power_w, e.speed_mm_s)).sum()
    };
    let contours = recipe.core.contours.as_ref();
    let spacing_mm = contours.map_or(0.0, |contours| contours.spacing_mm);
    let energies: Vec<f64> = contours
        .map(|contours| vec![line(&contours.exposures); contours.count as usize])
        .unwrap_or_default();
    let hatch = recipe.core.hatch.as_ref();
    let passes = hatch.into_iter().flat_map(job::recipe::Hatch::passes);
    let mean = passes.map(|pass| line(&[pass.exposure]) / pass.spacing_mm).sum();
    let gap_mm = hatch.map_or(0.0, |hatch| hatch.gap_mm);
    offset::with_hatch(beam, &energies, spacing_mm, mean, gap_mm, threshold_j_mm2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{load_machine_file, load_recipe_file};
    use std::path::Path;

    fn assets() -> (Recipe, Machine) {
        let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
        let recipe = load_recipe_file(&assets.join("recipes/pa12.ron")).unwrap();
        let machine = load_machine_file(&assets.join("machines/bench_co2_30w.ron")).unwrap();
        (recipe, machine)
    }

    /// Half the width of a lone Gaussian line, w·√(ln(peak/threshold)/2), with peak = √(2/π)·E/w.
    #[test]
    fn a_contour_alone_is_to_lie_half_its_width_inside() {
        let (mut recipe, machine) = assets();
        recipe.core.hatch = None;
        let w = machine.laser.spot_radius_mm;
        let peak = (2.0 / std::f64::consts::PI).sqrt() * 12.0 / 2000.0 / w;
        // J/mm²: ρ·(cp·ΔT + L)·z/A of the recipe's material
        let nominal = 0.4545e-3 * (2.5 * 17.0 + 100.0) * 0.1 / 0.95;
        let steady = nominal * 0.95 / 0.4545;
        let offset = |threshold: f64| w * ((peak / threshold).ln() / 2.0).sqrt();
        let proposed = proposed_offsets(&recipe, &machine).unwrap();
        for (is, should) in
            [(proposed.nominal_mm, offset(nominal)), (proposed.steady_mm, offset(steady))]
        {
            assert!((is.unwrap() - should).abs() < 1e-9, "{is:?}, not {should}");
        }
    }

    #[test]
    fn hatch_adds_a_little_and_too_little_energy_proposes_nothing() {
        let (mut recipe, machine) = assets();
        let whole = proposed_offsets(&recipe, &machine).unwrap().nominal_mm.unwrap();
        let mut alone = recipe.clone();
        alone.core.hatch = None;
        let alone = proposed_offsets(&alone, &machine).unwrap().nominal_mm.unwrap();
        assert!(whole > alone && whole < alone + 0.02, "{whole}, alone {alone}");
        for exposure in &mut recipe.exposures {
            exposure.power_w *= 0.05;
        }
        let proposed = proposed_offsets(&recipe, &machine).unwrap();
        assert_eq!(proposed, ProposedOffsets { nominal_mm: None, steady_mm: None });
    }

    /// What the shipped recipes say of their beam offsets: computed for this machine and their powder.
    #[test]
    fn shipped_offsets_are_those_proposed_for_nominal_depth() {
        let (_, machine) = assets();
        for name in ["pa12", "pa12_fine", "pa12_glass", "pa11", "tpu"] {
            let file = format!("../../assets/recipes/{name}.ron");
            let recipe = load_recipe_file(&Path::new(env!("CARGO_MANIFEST_DIR")).join(file));
            let recipe = recipe.unwrap();
            let proposed = proposed_offsets(&recipe, &machine).unwrap().nominal_mm.unwrap();
            let off = proposed - recipe.beam_offset_mm;
            assert!(off.abs() < 0.001, "{name}: {proposed} {}", recipe.beam_offset_mm);
        }
    }
}
