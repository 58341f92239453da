//! What a dose cannot be worked out without.

use crate::verify::VerifyError;
use base::Cancelled;
use estimate::EstimateError;

/// Why there is no dose of a layer.
#[derive(Debug, thiserror::Error)]
pub enum DoseError {
    /// Neither the file nor a job nor the person says how wide the beam is.
    #[error("the file does not say how wide the beam is")]
    BeamUnknown,
    /// Neither the file nor a job nor the person says what melts the powder.
    #[error("the file does not say what energy melts the powder")]
    ThresholdUnknown,
    /// Recipes, of a layer or of all, that melt at different doses.
    #[error("what is exposed has recipes that melt at different doses: {}", .recipes.join("; "))]
    SeveralThresholds {
        /// Their names.
        recipes: Vec<String>,
    },
    /// The recipe asked for exposes nothing in the file.
    #[error("the file has no exposure of a recipe {wanted:?}; its recipes are {}", .known.join("; "))]
    NoSuchRecipe {
        /// The name asked for.
        wanted: String,
        /// The names in the file.
        known: Vec<String>,
    },
    /// The job makes other layers or placements than the file has.
    #[error("the job makes {job}, the file has {file}: it was written from another job")]
    OtherJob {
        /// Placements and layers of the job.
        job: String,
        /// Placements and layers of the file.
        file: String,
    },
    /// Layers that the file does not have.
    #[error("layers {first} to {last} are not all there: the file has {count}, counted from 0")]
    NoSuchLayers {
        /// The first one asked for.
        first: u32,
        /// The last one.
        last: u32,
        /// How many there are.
        count: u32,
    },
    /// The file could not be read.
    #[error(transparent)]
    File(#[from] VerifyError),
    /// Numbers of which no estimate can be made.
    #[error(transparent)]
    Estimate(#[from] EstimateError),
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
