//! Sections that are prepared, and how they are kept.

use crate::kept::Kept;
use region::Region;
use scan_strategy::{Facing, Known, Prepared};
use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};

/// Room for what is kept from layer to layer, bytes: some hundred layers of usual parts.
const KEPT_BYTES: usize = 64 << 20;

/// A section that was prepared, and what for.
#[derive(Debug)]
pub(crate) struct Made {
    section: Region,
    facing: Option<Facing>,
    pub(crate) prepared: Prepared,
}

/// Sections that were prepared, by what they were prepared with and numbers that tell them apart; what is
/// kept under the same numbers is compared in full.
pub(crate) type KeptSections = Kept<[u64; 3], Made>;

/// What was worked out last, by row of the placement that stands for its copies and by recipe.
pub(crate) type KnownSections = BTreeMap<(usize, usize), Known>;

/// For a build that shares.
pub(crate) fn kept_sections() -> KeptSections {
    Kept::new(KEPT_BYTES)
}

impl Made {
    pub(crate) fn new(section: Region, facing: Option<Facing>, prepared: Prepared) -> Self {
        Self { section, facing, prepared }
    }

    /// Whether it is what was prepared for this.
    pub(crate) fn is_of(&self, section: &Region, facing: Option<&Facing>) -> bool {
        self.section == *section && self.facing.as_ref() == facing
    }

    /// About how much memory it takes.
    pub(crate) fn bytes(&self) -> usize {
        let of = |region: &Region| size_of_val(region.points());
        let facing = self.facing.as_ref().map_or(0, |facing| of(&facing.up) + of(&facing.down));
        size_of::<Self>() + of(&self.section) + facing + self.prepared.bytes()
    }
}

/// A number that is seldom the same for other regions.
pub(crate) fn number_of<'a>(regions: impl IntoIterator<Item = &'a Region>) -> u64 {
    let mut hasher = DefaultHasher::new();
    for region in regions {
        region.ring_count().hash(&mut hasher);
        region.points().hash(&mut hasher);
    }
    hasher.finish()
}
