//! A layer as the beam's strokes, with the doses that matter.

use crate::state::results::ShownLayer;
use base::nm_from_mm;
use estimate::{DoseField, EstimateError, Stroke};
use render::dose::DoseStroke;
use std::sync::Arc;

/// Strokes on which the greatest dose is looked for: enough to meet corners and crowded spots, and
/// few enough for a hundredth of a second.
const LOOKED_AT: usize = 1500;

/// Doses with a meaning, J/mm².
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Levels {
    /// What melts powder as deep as one layer.
    pub(crate) nominal: f64,
    /// What melts powder as deep as it lies on fused layers once a build is under way.
    pub(crate) steady: f64,
    /// Mean of the hatch of the job's own recipe, in its core.
    pub(crate) hatch: Option<f64>,
    /// The end of the colours: the most that was found on the marks, at least what melts.
    pub(crate) most: f64,
}

/// See the module.
pub(crate) struct Exposed {
    pub(crate) shown: Arc<ShownLayer>,
    /// For the picture.
    pub(super) strokes: Vec<DoseStroke>,
    /// For everything that is to be exact.
    pub(crate) field: DoseField,
    pub(crate) levels: Levels,
}

impl Exposed {
    /// By the machine's beam and the powder of the job's own recipe: all parts lie in the same one.
    /// O(marks).
    ///
    /// # Errors
    /// An exposure whose energy is not a number.
    pub(super) fn new(shown: Arc<ShownLayer>) -> Result<Self, EstimateError> {
        let build = &shown.build;
        let strokes = pipeline::strokes(&shown.layer.blocks, &build.header.exposures);
        let (melt, powder) = (build.melt(0), build.powder(0));
        let field = DoseField::new(&strokes, melt.beam)?;
        let nominal = melt.threshold_j_mm2;
        let recipe = build.loaded.recipes.first().map(|entry| &entry.recipe);
        let levels = Levels {
            nominal,
            steady: powder.threshold_steady(build.header.layer_thickness_mm),
            hatch: recipe.and_then(|recipe| recipe.area_energy_j_mm2(&recipe.core)),
            most: most(&strokes, &field).max(nominal),
        };
        let strokes = strokes.iter().filter_map(on_grid).collect();
        Ok(Self { shown, strokes, field, levels })
    }
}

/// The greatest dose on a sample of the strokes, at their ends and in their middles.
fn most(strokes: &[Stroke], field: &DoseField) -> f64 {
    let step = strokes.len().div_ceil(LOOKED_AT).max(1);
    let places = strokes.iter().step_by(step).flat_map(|stroke| {
        let middle = [0, 1].map(|axis| f64::midpoint(stroke.from[axis], stroke.to[axis]));
        [stroke.from, middle, stroke.to]
    });
    places.map(|place| field.at(place)).fold(0.0, f64::max)
}

/// A stroke as the renderer takes it. It came from the grid, and so it returns there.
fn on_grid(stroke: &Stroke) -> Option<DoseStroke> {
    let nm = |[x, y]: [f64; 2]| Some([nm_from_mm(x).ok()?, nm_from_mm(y).ok()?]);
    #[expect(clippy::cast_possible_truncation, reason = "a picture needs no more digits")]
    let energy_j_mm = stroke.energy_j_mm as f32;
    Some(DoseStroke { from_nm: nm(stroke.from)?, to_nm: nm(stroke.to)?, energy_j_mm })
}
