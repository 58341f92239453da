//! Core, up-facing and down-facing regions of a section, each with its strategy, and which of them
//! share their contours.

use crate::error::ExposeError;
use crate::facing::Facing;
use crate::place::Place;
use crate::walls::rules::Rules;
use job::Recipe;
use job::recipe::{ContourPass, Contours, Strategy};
use region::{Region, difference, union_all};
use scan_path::RegionKind;

/// Regions of one kind.
pub(crate) struct Kind<'a> {
    pub(crate) region: RegionKind,
    pub(crate) strategy: &'a Strategy,
    pub(crate) place: Place,
    /// What narrow walls get; `None` if nothing special.
    pub(crate) rules: Option<Rules>,
}

/// Kinds with the same exposures along their boundary: a contour runs through all of them, so that it
/// stays closed where only the hatch changes.
pub(crate) struct Rim<'a> {
    /// The first of the kinds, whose start and order of contours holds.
    pub(crate) region: RegionKind,
    pub(crate) contours: Option<&'a Contours>,
    pub(crate) rules: Option<&'a Rules>,
    pub(crate) place: Place,
    pub(crate) kinds: Vec<&'a Kind<'a>>,
}

/// How a recipe exposes a kind of region, if it tells it from the core.
pub(crate) fn strategy_of(recipe: &Recipe, kind: RegionKind) -> Option<&Strategy> {
    match kind {
        RegionKind::Core => Some(&recipe.core),
        RegionKind::UpFacing => recipe.up_facing.as_ref().map(|facing| &facing.strategy),
        RegionKind::DownFacing => recipe.down_facing.as_ref().map(|facing| &facing.strategy),
    }
}

/// The kinds that a section has, in the order they are run.
///
/// # Errors
/// [`ExposeError`] if the recipe cannot be carried out.
pub(crate) fn kinds<'a>(
    section: &Region,
    facing: Option<&Facing>,
    recipe: &'a Recipe,
    single_below: i32,
) -> Result<Vec<Kind<'a>>, ExposeError> {
    let kind = |region, strategy, place| {
        let rules = Rules::of(recipe, strategy, single_below)?;
        Ok(Kind { region, strategy, place, rules })
    };
    let none = Region::empty();
    let (up, down) = facing.map_or((&none, &none), |facing| (&facing.up, &facing.down));
    let faces = [
        (RegionKind::UpFacing, recipe.up_facing.as_ref(), up),
        (RegionKind::DownFacing, recipe.down_facing.as_ref(), down),
    ];
    let mut core = Some(section.clone());
    let mut kinds = Vec::new();
    for (name, facing, region) in faces {
        let Some(facing) = facing.filter(|_| !region.is_empty()) else { continue };
        if region == section {
            // such a section is of this kind only: `up` and `down` do not overlap
            return Ok(vec![kind(name, &facing.strategy, Place::everywhere())?]);
        }
        core = core.map(|core| difference(&core, region)).filter(|core| !core.is_empty());
        kinds.push(kind(name, &facing.strategy, Place::within(region.clone()))?);
    }
    match core {
        Some(_) if kinds.is_empty() => {
            kinds.push(kind(RegionKind::Core, &recipe.core, Place::everywhere())?);
        }
        Some(core) => kinds.insert(0, kind(RegionKind::Core, &recipe.core, Place::within(core))?),
        None => {}
    }
    Ok(kinds)
}

/// The kinds by what they share along the boundary, in the order of the first of each.
pub(crate) fn rims<'a>(kinds: &'a [Kind<'a>]) -> Vec<Rim<'a>> {
    let mut rims: Vec<Rim<'a>> = Vec::new();
    for kind in kinds {
        let contours = kind.strategy.contours.as_ref();
        let shares = |rim: &&mut Rim<'a>| {
            contours.zip(rim.contours).is_some_and(|(a, b)| is_one_contour(a, b))
                && match (rim.rules, &kind.rules) {
                    (Some(a), Some(b)) => a.has_same_contours(b),
                    (None, None) => true,
                    (Some(_), None) | (None, Some(_)) => false,
                }
        };
        match rims.iter_mut().find(shares) {
            Some(rim) => rim.kinds.push(kind),
            None => rims.push(Rim {
                region: kind.region,
                contours,
                rules: kind.rules.as_ref(),
                place: kind.place.clone(),
                kinds: vec![kind],
            }),
        }
    }
    for rim in rims.iter_mut().filter(|rim| rim.kinds.len() > 1) {
        rim.place = if rim.kinds.len() == kinds.len() {
            Place::everywhere()
        } else {
            let parts: Option<Vec<Region>> =
                rim.kinds.iter().map(|kind| kind.place.within.clone()).collect();
            parts.map_or_else(Place::everywhere, |parts| Place::within(union_all(&parts)))
        };
    }
    rims
}

/// Whether contours can go on from one rim to the next: several rims have some, each run once, as many and in
/// the same order.
pub(crate) fn can_be_chained(rims: &[Rim<'_>]) -> bool {
    let mut all = rims.iter().filter_map(|rim| rim.contours);
    let Some(first) = all.clone().next() else { return false };
    let is_alike = |c: &Contours| {
        (c.count, c.order) == (first.count, first.order)
            && c.exposures.len() == 1
            && c.further_passes.is_empty()
    };
    all.clone().count() > 1 && all.all(is_alike)
}

/// Whether contours of two kinds are the same marks, wherever they start.
fn is_one_contour(a: &Contours, b: &Contours) -> bool {
    fn key(c: &Contours) -> (u32, u64, &[String], &[ContourPass]) {
        let spacing = if c.count > 1 { c.spacing_mm.to_bits() } else { 0 };
        (c.count, spacing, &c.exposures, &c.further_passes)
    }
    key(a) == key(b)
}
