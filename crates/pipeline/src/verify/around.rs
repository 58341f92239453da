//! The sections that decide about one layer of a placement: its own, those below and those above.
//!
//! What is to be fused, and what faces powder, is asked of points: is it in this section and in
//! that one? No section is cut with another, as the writing does.

use super::boundary::Boundary;
use crate::posed::Placed;
use base::Point;
use job::Recipe;
use region::{Join, Region, difference, inset, outset};
use scan_path::RegionKind;
use slicing::Scratch;
use std::cell::OnceCell;
use std::ops::Range;

/// A bare section of a placement.
pub(super) struct Cut {
    pub(super) region: Region,
    boundary: OnceCell<Boundary>,
}

impl Cut {
    fn new(region: Region) -> Self {
        Self { region, boundary: OnceCell::new() }
    }

    /// Its edges in rows; sorted once, on first asking.
    pub(super) fn boundary(&self) -> &Boundary {
        self.boundary.get_or_init(|| Boundary::new(&self.region))
    }
}

/// The bare sections of one placement over a run of layers and its neighbours.
pub(super) struct Stack {
    first: u32,
    sections: Vec<Cut>,
    /// The same with their holes widened, where contours keep another distance from holes.
    widened: Vec<Cut>,
    growth: u32,
    below: u32,
    above: u32,
}

/// Sections around one layer, each different one once.
#[derive(Default)]
pub(super) struct Around<'a> {
    /// What is fused lies in all of these: the layer's section, and those that its melt grows into.
    pub(super) own: Vec<&'a Cut>,
    /// What does not lie in all of these faces down; `None` if one of them is empty.
    pub(super) below: Option<Vec<&'a Cut>>,
    /// What faces down no more, but does not lie in all of these, faces up; likewise.
    pub(super) above: Option<Vec<&'a Cut>>,
}

impl Stack {
    /// Cuts a placement in a run of layers and as far around as its recipe looks.
    pub(super) fn of(
        placed: &Placed,
        recipe: &Recipe,
        run: Range<u32>,
        scratch: &mut Scratch,
    ) -> Self {
        let layers = |facing: &Option<job::recipe::FacingStrategy>| {
            facing.as_ref().map_or(0, |facing| facing.layers)
        };
        let (below, above) = (layers(&recipe.down_facing), layers(&recipe.up_facing));
        let growth = growth_layers(recipe);
        let first = run.start.saturating_sub(below + growth);
        let cut = placed.posed.slicer.layers();
        let sections = (first..run.end + above).map(|layer| {
            let is_cut = cut.contains(&layer);
            let section = is_cut.then(|| placed.posed.slicer.proper_section(layer, scratch).0);
            Cut::new(section.unwrap_or_else(Region::empty))
        });
        let sections: Vec<Cut> = sections.collect();
        let past_mm = recipe.hole_offset_mm.map_or(0.0, |offset| offset - recipe.beam_offset_mm);
        let widened = match base::nm_from_mm(past_mm) {
            Ok(by) if by != 0 => {
                let widen = |cut: &Cut| Cut::new(with_holes_widened(&cut.region, by));
                sections.iter().map(widen).collect()
            }
            _ => Vec::new(),
        };
        Self { first, sections, widened, growth, below, above }
    }

    /// A section that is not empty; what is fused is told from those with their holes widened.
    fn section(&self, layer: i64, is_own: bool) -> Option<&Cut> {
        let index = usize::try_from(layer - i64::from(self.first)).ok()?;
        let of = if is_own && !self.widened.is_empty() { &self.widened } else { &self.sections };
        of.get(index).filter(|section| !section.region.is_empty())
    }

    /// The bounding box of the bare section of a layer of the run.
    pub(super) fn bounds(&self, layer: u32) -> Option<(Point, Point)> {
        self.sections.get((layer - self.first) as usize)?.region.bounds()
    }

    /// The sections around a layer of the run; without own ones if nothing is to be fused there.
    pub(super) fn around(&self, layer: u32) -> Around<'_> {
        let k = i64::from(layer);
        let down_to = k - i64::from(self.growth);
        let Some(own) = self.distinct((down_to..=k).rev(), None) else { return Around::default() };
        let reach = down_to - i64::from(self.below);
        let below = self.distinct((reach..down_to).rev(), Some(&own));
        let above = self.distinct(k + 1..=k + i64::from(self.above), Some(&own));
        Around { own, below, above }
    }

    /// Sections that differ from each other and from the `own` ones, if these are known; `None` if one is
    /// empty.
    fn distinct<'a>(
        &'a self,
        layers: impl Iterator<Item = i64>,
        own: Option<&[&'a Cut]>,
    ) -> Option<Vec<&'a Cut>> {
        let mut found: Vec<&Cut> = Vec::new();
        for layer in layers {
            let section = self.section(layer, own.is_none())?;
            let mut earlier = own.unwrap_or_default().iter().chain(&found);
            if !earlier.any(|other| other.region == section.region) {
                found.push(section);
            }
        }
        Some(found)
    }
}

/// A section with its holes widened by a distance, nm, or narrowed. This is the writer's way, too: what an
/// offset of their own does to holes is not proven independently, but all that follows from it is.
fn with_holes_widened(section: &Region, by: i32) -> Region {
    let join = Join::Round { chord_tolerance_nm: 100 };
    let reversed = |ring: &[Point]| ring.iter().rev().copied().collect::<Vec<_>>();
    let mut all = Region::empty();
    for island in section.islands() {
        let outer = Region::from_proper_rings(island.rings().take(1).map(<[Point]>::to_vec));
        let holes = Region::from_proper_rings(island.rings().skip(1).map(reversed));
        let holes = if by > 0 { outset(&holes, by, join) } else { inset(&holes, -by, join) };
        all.append(&if holes.is_empty() { outer } else { difference(&outer, &holes) });
    }
    all
}

/// How many layers the melt reaches down from the first exposed one: the growth in whole layers, the
/// nearest, half a layer downwards. Worked out here anew.
fn growth_layers(recipe: &Recipe) -> u32 {
    let layers = recipe.z_growth_mm / recipe.layer_thickness_mm;
    let layers = (layers - 0.5 - 1e-6 * layers).ceil();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few layers")]
    let layers = layers.clamp(0.0, 1e6) as u32;
    layers
}

impl Around<'_> {
    /// The kind of region that everything fused is of, if it is all of one.
    pub(super) fn only_kind(&self) -> Option<RegionKind> {
        match (&self.below, &self.above) {
            (None, _) => Some(RegionKind::DownFacing),
            (Some(below), None) if below.is_empty() => Some(RegionKind::UpFacing),
            (Some(below), Some(above)) if below.is_empty() && above.is_empty() => {
                Some(RegionKind::Core)
            }
            _ => None,
        }
    }
}
