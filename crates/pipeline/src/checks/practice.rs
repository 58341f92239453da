//! What a recipe asks for that is far from what was published, or from what people usually take.

use crate::powder::powder;
use base::Finding;
use base::finding::JobProblem;
use job::energy::{PA12_SOURCE, PA12_WINDOW_J_MM3};
use job::recipe::{Hatch, Material, Strategy};
use job::{Machine, Recipe};
use std::ops::RangeInclusive;

/// Values this close to the end of what is usual are no matter: published values have two digits.
const SLACK: f64 = 0.01;

/// Layer thicknesses that are usual with polymer powders, mm. Common practice, no source.
const LAYER_MM: RangeInclusive<f64> = 0.05..=0.2;
/// Spacings of a hatch, in radii of the beam to 1/e². Common practice, no source; from 1.5 radii on the
/// energy between the lines ripples by more than a fifth (Poisson's summation of the beam's profile:
/// 2·exp(−π²/2·(radius/spacing)²)).
const SPACING_RADII: RangeInclusive<f64> = 0.2..=1.5;
/// Beam offsets, in radii of the beam to 1/e²: half the width that one mark melts. Common practice, no
/// source.
const OFFSET_RADII: RangeInclusive<f64> = 0.25..=1.5;
/// Shrinkage of polymers along an axis, percent. Common practice, no source.
const SHRINKAGE_PERCENT: RangeInclusive<f64> = 0.0..=5.0;

/// The strategies of a recipe with the words for what they fill.
fn strategies(recipe: &Recipe) -> impl Iterator<Item = (&'static str, &Strategy)> {
    let up = recipe.up_facing.as_ref().map(|facing| ("up-facing regions", &facing.strategy));
    let down = recipe.down_facing.as_ref().map(|facing| ("down-facing regions", &facing.strategy));
    std::iter::once(("core", &recipe.core)).chain(up).chain(down)
}

/// Energy per volume for dense parts of a powder, J/mm³: that of polyamide 12 in proportion to the laser
/// energy that melts the two, an assumption of ours.
fn window_j_mm3(material: &Material) -> [f64; 2] {
    let melts = |material: &Material| powder(material).threshold_nominal(1.0);
    let factor = melts(material) / melts(&Material::PA12);
    PA12_WINDOW_J_MM3.map(|j_mm3| j_mm3 * factor)
}

/// A caution for each hatch whose energy per volume is outside of what was published. Where a region is
/// filled in every n-th layer, its energy is that of n layers.
pub(crate) fn energy_outside_window(recipe: &Recipe) -> Vec<Finding> {
    let window_j_mm3 = window_j_mm3(&recipe.material);
    let [least, most] = window_j_mm3;
    let caution = |(regions, strategy): (&'static str, &Strategy)| {
        let layers = f64::from(strategy.hatch.as_ref()?.every_nth_layer);
        let energy_j_mm3 = recipe.volume_energy_j_mm3(strategy)? / layers;
        is_far(energy_j_mm3, &(least..=most)).then(|| {
            Finding::new(JobProblem::EnergyOutsideWindow {
                regions,
                energy_j_mm3,
                window_j_mm3,
                published_j_mm3: PA12_WINDOW_J_MM3,
                source: PA12_SOURCE,
            })
        })
    };
    strategies(recipe).filter_map(caution).collect()
}

fn is_far(value: f64, usual: &RangeInclusive<f64>) -> bool {
    value < usual.start() * (1.0 - SLACK) || value > usual.end() * (1.0 + SLACK)
}

/// A value that is looked at, and what is usual for it.
struct Looked {
    /// Such as "layer thickness".
    what: String,
    value: f64,
    unit: &'static str,
    usual: RangeInclusive<f64>,
    /// What the ends are made from: ", 0.2 to 1.5 beam radii".
    made_from: String,
    effect: &'static str,
}

/// A caution for each value of a recipe that is far from what is usual on a machine.
pub(crate) fn outside_common_practice(recipe: &Recipe, machine: &Machine) -> Vec<Finding> {
    let caution = |value: Looked| {
        let Looked { what, value, unit, usual, made_from, effect } = value;
        let what = format!("{what} of {value} {unit}");
        let usual_words =
            format!("{} to {} {unit}{made_from}", short(*usual.start()), short(*usual.end()));
        is_far(value, &usual).then(|| {
            Finding::new(JobProblem::OutsideCommonPractice { what, usual: usual_words, effect })
        })
    };
    values(recipe, machine.laser.spot_radius_mm).into_iter().filter_map(caution).collect()
}

/// To a thousandth.
fn short(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

fn values(recipe: &Recipe, radius_mm: f64) -> Vec<Looked> {
    let in_radii = |what: String, value: f64, radii: RangeInclusive<f64>, effect| Looked {
        what,
        value,
        unit: "mm",
        usual: radii.start() * radius_mm..=radii.end() * radius_mm,
        made_from: format!(
            ", which is {} to {} times the beam radius of {radius_mm} mm",
            radii.start(),
            radii.end()
        ),
        effect,
    };
    let mut values = vec![Looked {
        what: "layer thickness".to_owned(),
        value: recipe.layer_thickness_mm,
        unit: "mm",
        usual: LAYER_MM,
        made_from: String::new(),
        effect: "Thin layers drag powder along when they are spread, thick ones do not melt through.",
    }];
    for (axis, percent) in ["X", "Y", "Z"].into_iter().zip(recipe.shrinkage_percent) {
        values.push(Looked {
            what: format!("shrinkage along {axis}"),
            value: percent,
            unit: "%",
            usual: SHRINKAGE_PERCENT,
            made_from: String::new(),
            effect: "Every part is scaled by it.",
        });
    }
    let offsets =
        [("beam offset", Some(recipe.beam_offset_mm)), ("hole offset", recipe.hole_offset_mm)];
    for (what, offset_mm) in offsets {
        let effect =
            "Parts come out larger than they should with too little of it, smaller with too much.";
        let value = offset_mm.map(|mm| in_radii(what.to_owned(), mm, OFFSET_RADII, effect));
        values.extend(value);
    }
    for (regions, strategy) in strategies(recipe) {
        for (number, pass) in strategy.hatch.iter().flat_map(Hatch::passes).enumerate() {
            let of_pass =
                if number == 0 { String::new() } else { format!(", pass {}", number + 1) };
            let what = format!("hatch spacing of the {regions}{of_pass}");
            let effect = "Lines too far apart leave ridges and pores between them; lines too near cost time.";
            values.push(in_radii(what, pass.spacing_mm, SPACING_RADII, effect));
        }
    }
    values
}
