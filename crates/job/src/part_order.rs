//! In which order the placements of a layer are exposed.

use serde::{Deserialize, Serialize};

/// In which order the placements of a layer are exposed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PartOrder {
    /// What is exposed of a placement before the next one.
    pub rounds: Rounds,
    /// Which placement comes next.
    pub next: NextPart,
}

/// What is exposed of a placement before the next one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Rounds {
    /// All of it.
    #[default]
    PartAfterPart,
    /// What belongs to one of three rounds, each over all placements: the hatch that comes before contours
    /// by its recipe's sequence; all contours; what is left, the other hatch and the centrelines of thin
    /// walls. Lines along narrow walls go with the hatch in whose place they are.
    KindAfterKind,
}

/// Which placement comes next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum NextPart {
    /// The one whose section has its bounding box nearest to where the beam is; the first in the job at the
    /// start of a layer.
    #[default]
    Nearest,
    /// As the job lists them.
    AsListed,
    /// As the job lists them, and the first again after the last, but in each layer from another one on: of the
    /// n placements that reach up to it and down to it, layer k starts at number k mod n, from 0.
    Rotating,
}

impl PartOrder {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
    pub(crate) fn is_default(&self) -> bool {
        *self == Self::default()
    }
}
