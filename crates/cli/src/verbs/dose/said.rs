//! What is said of one layer and of many alike.

use crate::args::DoseArgs;
use crate::console::line;
use crate::outcome::Failure;
use estimate::EstimateError;
use pipeline::{DoseError, PowderDepth, ProposedOffset, Stated};

/// What the person says rather than the file.
pub(super) fn stated(args: &DoseArgs) -> Stated {
    Stated {
        beam_radius_mm: args.beam_radius,
        threshold_j_mm2: args.threshold,
        recipe: args.recipe.clone(),
    }
}

/// An error with the option that helps.
pub(super) fn failure(error: &DoseError) -> Failure {
    let advice = match error {
        DoseError::BeamUnknown => "; say so with --beam-radius MM, or name its --job",
        DoseError::ThresholdUnknown => "; say so with --threshold J/MM2, or name its --job",
        DoseError::SeveralThresholds { .. } => "; say which one counts with --recipe NAME",
        DoseError::OtherJob { .. } => "; name the job that it was written from with --job",
        DoseError::Estimate(EstimateError::GridTooLarge { .. }) => {
            "; put its points farther apart with --pitch MM"
        }
        DoseError::NoSuchRecipe { .. }
        | DoseError::Estimate(_)
        | DoseError::NoSuchLayers { .. }
        | DoseError::File(_)
        | DoseError::Cancelled(_) => "",
    };
    Failure(format!("{error}{advice}"))
}

/// Whose marks count, to be added to a sentence; nothing if all do.
pub(super) fn alone(recipe: Option<&str>) -> String {
    recipe.map_or(String::new(), |name| format!(", recipe {name:?} alone"))
}

pub(super) fn show_threshold(depth: PowderDepth, threshold: f64) {
    line(&match depth {
        PowderDepth::Nominal => format!("powder as deep as a layer melts from {threshold:.6} on"),
        PowderDepth::Steady => {
            format!("powder as deep as it lies over fused layers melts from {threshold:.6} on")
        }
        PowderDepth::Stated => format!("powder melts from {threshold:.6} on, as stated"),
    });
}

pub(super) fn show_offsets(offsets: &[ProposedOffset]) {
    for offset in offsets {
        let proposed = match offset.proposed_mm {
            Some(mm) => format!("{mm:.3} mm makes straight boundaries true"),
            None => "nothing melts, whatever it is".to_owned(),
        };
        line(&format!(
            "  beam offset of recipe {:?}: {proposed}; it has {} mm",
            offset.recipe, offset.of_recipe_mm
        ));
    }
}
