//! What a dose cannot be worked out without.

use crate::layers::LayerError;
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
    /// Recipes of one layer that melt at different doses.
    #[error("the layer is exposed with recipes that melt at different doses: {}", .recipes.join("; "))]
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
    /// The job makes other layers than the file has.
    #[error("the job makes {job}, the file has {file}: it was written from another job")]
    OtherJob {
        /// Layers of the job.
        job: String,
        /// Layers of the file.
        file: String,
    },
    /// Numbers of which no estimate can be made.
    #[error(transparent)]
    Estimate(#[from] EstimateError),
    /// The section could not be computed.
    #[error(transparent)]
    Layer(#[from] LayerError),
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
