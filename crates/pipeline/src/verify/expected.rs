//! What a recipe requires, as distances; worked out from the recipe alone.

use job::Recipe;
use job::recipe::{FacingStrategy, Hatch, Joins, Pattern, Strategy, ThinWalls};
use scan_path::RegionKind;

/// Rounding to the grid moves a mark by at most 1 nm at each of a few steps.
pub(super) const TOLERANCE_NM: f64 = 5.0;

const NM: f64 = base::NM_PER_MM;

/// Distances that every layer of a placement must keep, nm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Required {
    /// Depth of the outermost contour, and reach of the rim rule.
    pub(super) offset: f64,
    pub(super) rim: f64,
    /// Beyond this depth only hatch can cover.
    pub(super) deep: f64,
    /// Reach of the contour rule and of the hatch rule.
    pub(super) contours: f64,
    pub(super) hatch: f64,
    /// Reach of the hatch rule, and breadth of the band, where kinds of region meet: short ends
    /// of lines may have been left out on both sides.
    pub(super) border: f64,
    /// Whether the layer has a rim contour and hatch at all, in every kind of region.
    pub(super) has_contours: bool,
    pub(super) has_hatch: bool,
    /// A thin piece longer and wider than this, nm, needs a centreline; none when absent.
    pub(super) thin_min: Option<(f64, f64)>,
}

impl Required {
    pub(super) fn new(recipe: &Recipe, layer: u32) -> Self {
        let offset = recipe.beam_offset_mm * NM;
        let facing = |f: &Option<FacingStrategy>| f.as_ref().map(|f| f.strategy.clone());
        let strategies: Vec<Strategy> = [Some(recipe.core.clone())]
            .into_iter()
            .chain([facing(&recipe.up_facing), facing(&recipe.down_facing)])
            .flatten()
            .collect();
        let mut required = Self {
            offset,
            rim: offset * reach(recipe.joins) + TOLERANCE_NM,
            deep: 0.0,
            contours: 0.0,
            hatch: 0.0,
            border: 0.0,
            has_contours: true,
            has_hatch: true,
            thin_min: match recipe.thin_walls {
                ThinWalls::Expose { min_length_mm, min_width_mm, .. } => {
                    Some((min_length_mm * NM, min_width_mm * NM))
                }
                ThinWalls::Skip => None,
            },
        };
        for strategy in &strategies {
            let mut step: f64 = 0.0;
            match &strategy.contours {
                Some(contours) if contours.count > 1 => step = contours.spacing_mm * NM,
                Some(_) => {}
                None => required.has_contours = false,
            }
            match &strategy.hatch {
                Some(hatch) if layer.is_multiple_of(hatch.every_nth_layer) => {
                    let line = line_reach(hatch);
                    // A point is covered by two lines' chords where a disc of the spacing and
                    // half the shortest mark fits into the hatched region around it.
                    let slack = (hatch.spacing_mm + hatch.min_length_mm) * NM;
                    let gap = hatch.gap_mm * NM;
                    required.hatch = required.hatch.max(line * NM + TOLERANCE_NM);
                    required.border = required.border.max(line * NM + slack + TOLERANCE_NM);
                    required.deep = required.deep.max(hatch_depth(recipe, strategy, hatch) + slack);
                    step = step.max(gap + slack);
                }
                _ => required.has_hatch = false,
            }
            required.contours = required.contours.max(step * reach(recipe.joins) + TOLERANCE_NM);
            required.deep = required.deep.max(innermost_depth(recipe, strategy));
        }
        required
    }
}

/// How far a joined corner may lie from where an exact offset would be, as a factor.
fn reach(joins: Joins) -> f64 {
    match joins {
        Joins::Round { .. } => 1.0,
        Joins::Mitre { limit } => limit,
    }
}

/// Farthest a point deep inside can be from the nearest line, mm.
fn line_reach(hatch: &Hatch) -> f64 {
    let half = hatch.spacing_mm / 2.0;
    match hatch.pattern {
        Pattern::Lines => half,
        // At the border of a stripe or cell a short end may have been left out, and the lines of
        // a neighbouring cell run the other way.
        Pattern::Stripes { .. } => half + hatch.min_length_mm,
        Pattern::Cells { .. } => hatch.spacing_mm + hatch.min_length_mm,
    }
}

/// Within how many layers below and above a region counts as facing powder.
pub(super) fn facing_layers(recipe: &Recipe) -> (u32, u32) {
    let layers = |f: &Option<FacingStrategy>| f.as_ref().map_or(0, |f| f.layers);
    (layers(&recipe.down_facing), layers(&recipe.up_facing))
}

/// The largest chord tolerance that the recipe allows a rounded corner, nm.
pub(super) fn chord_tolerance_nm(recipe: &Recipe) -> f64 {
    match recipe.joins {
        Joins::Round { chord_tolerance_um } => chord_tolerance_um * 1e3,
        Joins::Mitre { .. } => 0.0,
    }
}

/// What the recipe says of the marks in one kind of region.
pub(super) struct Rule {
    /// Least depth of contours and of hatch, nm.
    pub(super) contour_depth: f64,
    pub(super) hatch_depth: f64,
    /// Directions of the hatch as (sine, cosine); two for cells.
    pub(super) directions: Vec<(f64, f64)>,
    /// Hatch spacing, nm; absent without hatch.
    pub(super) spacing: Option<f64>,
}

/// The rule for one kind of region in one layer.
pub(super) fn rule(recipe: &Recipe, kind: RegionKind, layer: u32, spreading_deg: f64) -> Rule {
    let facing = match kind {
        RegionKind::Core => None,
        RegionKind::UpFacing => recipe.up_facing.as_ref(),
        RegionKind::DownFacing => recipe.down_facing.as_ref(),
    };
    let strategy = facing.map_or(&recipe.core, |facing| &facing.strategy);
    let offset = recipe.beam_offset_mm;
    let slack = TOLERANCE_NM + chord_tolerance_nm(recipe);
    let hatch = strategy.hatch.as_ref();
    Rule {
        contour_depth: offset * NM - slack,
        hatch_depth: hatch.map_or(0.0, |hatch| hatch_depth(recipe, strategy, hatch) - slack),
        directions: hatch.map_or(Vec::new(), |hatch| directions(hatch, layer, spreading_deg)),
        spacing: hatch.map(|hatch| hatch.spacing_mm * NM),
    }
}

/// How far the innermost contour lies inside the boundary, nm; the beam offset without contours. Worked
/// out here anew, not taken from the recipe's own rule, which those use that lay the vectors.
fn innermost_depth(recipe: &Recipe, strategy: &Strategy) -> f64 {
    let contours = strategy.contours.as_ref();
    let inner = contours.map_or(0.0, |c| f64::from(c.count - 1) * c.spacing_mm);
    (recipe.beam_offset_mm + inner) * NM
}

/// How far the hatch of a strategy stays inside the boundary, nm.
pub(super) fn hatch_depth(recipe: &Recipe, strategy: &Strategy, hatch: &Hatch) -> f64 {
    innermost_depth(recipe, strategy) + hatch.gap_mm * NM
}

fn directions(hatch: &Hatch, layer: u32, spreading_deg: f64) -> Vec<(f64, f64)> {
    let mut angle = hatch.angle_deg + f64::from(layer) * hatch.rotation_per_layer_deg;
    if let Some(forbidden) = hatch.forbidden {
        // Signed distance to the spreading direction, a line: −90..90.
        let off = (angle - spreading_deg + 90.0).rem_euclid(180.0) - 90.0;
        if off.abs() < forbidden.within_deg {
            let side = if off < 0.0 { -1.0 } else { 1.0 };
            angle = spreading_deg + side * forbidden.within_deg;
        }
    }
    let across = match hatch.pattern {
        Pattern::Lines | Pattern::Stripes { .. } => None,
        Pattern::Cells { .. } => Some(angle + 90.0),
    };
    [Some(angle), across].into_iter().flatten().map(|a| a.to_radians().sin_cos()).collect()
}
