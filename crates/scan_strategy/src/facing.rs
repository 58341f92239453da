//! Which parts of a section face powder.

use region::{Region, difference, intersection};

/// The parts of a section with powder above and with powder below; the rest is core.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facing {
    /// Powder above but not below.
    pub up: Region,
    /// Powder below.
    pub down: Region,
}

/// Splits `section` by what lies in the layers below and above, nearest first.
///
/// A place is down-facing if any of the layers in `below` lacks material there, up-facing if any
/// in `above` does and it is not down-facing already. Layers beyond the part are given as the
/// empty region; no layers at all mean that nothing faces that way. Layers that equal the section
/// cost one comparison.
pub fn facing(section: &Region, below: &[&Region], above: &[&Region]) -> Facing {
    let down = exposed_to(section, below);
    let mut up = exposed_to(section, above);
    if !up.is_empty() && !down.is_empty() {
        up = if up == down { Region::empty() } else { difference(&up, &down) };
    }
    Facing { up, down }
}

/// Where any of the layers lacks material.
fn exposed_to(section: &Region, layers: &[&Region]) -> Region {
    if section.is_empty() || layers.iter().any(|layer| layer.is_empty()) {
        return section.clone();
    }
    let mut common: Option<Region> = None;
    for (i, &layer) in layers.iter().enumerate() {
        if layer == section || layers[..i].last() == Some(&layer) {
            continue;
        }
        common = Some(common.map_or_else(|| layer.clone(), |c| intersection(&c, layer)));
    }
    common.map_or_else(Region::empty, |common| difference(section, &common))
}
