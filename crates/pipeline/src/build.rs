//! A job made ready: every placement posed and indexed, so that any layer can be asked for.

use crate::checks::{
    LayerReport, energy_outside_window, nothing_to_build, outside_build_space, outside_field,
    uneven_correction,
};
use crate::exposures::{Exposures, ExposuresError};
use crate::head::head;
use crate::load::Loaded;
use crate::made::{KeptSections, kept_sections};
use crate::posed::{Placed, Posed, Shapes};
use crate::powder::powder;
use crate::tables::{header, placement_row};
use base::layers::layer_count;
use base::{Cancelled, Finding, NamedPlacement, PlacementId, PlacementName, Progress, Severity};
use estimate::Powder;
use job::{Placement, Recipe};
use motion::Jumps;
use scan_path::{Header, LeftOut};
use scan_strategy::Melt;
use slicing::SlicingError;
use std::sync::Arc;

/// A job from which any layer can be computed, alone, on any thread.
pub struct Build {
    /// The job and its files.
    pub loaded: Loaded,
    /// Everything a reader must know beside the layers.
    pub header: Header,
    /// What loading and posing found.
    pub findings: Vec<Finding>,
    /// By row of the header's placement table.
    pub(crate) placed: Vec<Placed>,
    /// Where exposures stand in the header's table.
    pub(crate) exposures: Exposures,
    /// How long its jumps take.
    pub(crate) jumps: Jumps,
    /// What was prepared of some sections.
    pub(crate) kept: KeptSections,
}

/// Why a job could not be made ready.
#[derive(Debug, thiserror::Error)]
pub enum BuildError {
    /// A posed part does not fit the nanometre grid, or the like.
    #[error("cannot slice {placement}: {source}")]
    Slicing {
        /// What the placement is called.
        placement: PlacementName,
        /// What is wrong.
        source: SlicingError,
    },
    /// A recipe that cannot be carried out.
    #[error(transparent)]
    Exposures(#[from] ExposuresError),
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl Build {
    /// Poses every placement and indexes it by layer; copies that stand whole nanometres and whole layers
    /// apart, turned alike, share that.
    ///
    /// # Errors
    /// If a posed part cannot be sliced at all. Parts outside the build space are findings.
    pub fn new(loaded: Loaded, progress: &Progress) -> Result<Self, BuildError> {
        Self::after(None, loaded, progress)
    }

    /// The same, but what an earlier build of a similar job already posed is taken over from
    /// there. The result is that of [`Self::new`]; after an edit it is there at once.
    ///
    /// # Errors
    /// As for [`Self::new`].
    pub fn after(
        earlier: Option<&Self>,
        loaded: Loaded,
        progress: &Progress,
    ) -> Result<Self, BuildError> {
        let recipe_of = |part: usize| loaded.parts[part].1;
        let exposures = Exposures::new(&loaded.job, &loaded.recipes, &loaded.machine, recipe_of)?;
        let header = header(&loaded, &exposures);
        let mut build = Self {
            jumps: Jumps::new(&header, head(&loaded.machine).as_ref()),
            header,
            exposures,
            findings: loaded.findings.clone(),
            placed: Vec::new(),
            kept: kept_sections(),
            loaded,
        };
        let mut shapes = Shapes::new();
        for placed in earlier.into_iter().flat_map(|earlier| &earlier.placed) {
            placed.posed.share(&mut shapes);
        }
        let placements: Vec<(PlacementId, Placement)> =
            build.loaded.job.placements().map(|(id, placement)| (id, *placement)).collect();
        progress.add_total(placements.len() as u64);
        for (id, placement) in &placements {
            progress.advance(1)?;
            if let Some(posed) = build.posed((*id, placement), earlier, &mut shapes, progress)? {
                build.put(*id, placement, posed);
            }
        }
        build.find_alike();
        let top = build.placed.iter().map(|placed| placed.posed.bounds_mm.1[2]);
        let top = top.fold(0.0, f64::max);
        build.header.layer_count = layer_count(top, build.header.layer_thickness_mm);
        build.findings.extend(nothing_to_build(build.header.layer_count));
        Ok(build)
    }

    /// A placement, posed, or taken over from an earlier build; `None` for a mesh without vertices.
    fn posed(
        &self,
        (id, placement): (PlacementId, &Placement),
        earlier: Option<&Self>,
        shapes: &mut Shapes,
        progress: &Progress,
    ) -> Result<Option<Arc<Posed>>, BuildError> {
        let (mesh, recipe) = self.loaded.parts[id.part];
        let (mesh, recipe) = (&self.loaded.meshes[mesh], &self.loaded.recipes[recipe].recipe);
        let (scale, t_mm) = (recipe.scale(), recipe.layer_thickness_mm);
        let mut known = earlier.into_iter().flat_map(|earlier| &earlier.placed);
        if let Some(placed) = known.find(|p| p.posed.is_of(mesh, placement, scale, t_mm)) {
            return Ok(Some(Arc::clone(&placed.posed)));
        }
        match Posed::new(mesh, placement, recipe, shapes, progress) {
            Ok(posed) => Ok(posed.map(Arc::new)),
            Err(SlicingError::Cancelled(cancelled)) => Err(cancelled.into()),
            Err(source) => {
                let placement = self.loaded.named(id).name;
                Err(BuildError::Slicing { placement, source })
            }
        }
    }

    fn put(&mut self, id: PlacementId, placement: &Placement, posed: Arc<Posed>) {
        let machine = &self.loaded.machine;
        let outside = outside_build_space(machine, posed.bounds_mm);
        let outside = outside.into_iter().chain(outside_field(machine, posed.bounds_mm));
        let uneven = uneven_correction(machine, posed.bounds_mm);
        let (_, recipe) = self.loaded.parts[id.part];
        let is_changed = !self.loaded.job.parts[id.part].changes_of(id.copy).is_empty();
        let own = is_changed.then(|| &self.exposures.of(id, recipe).recipe);
        let energy = own.into_iter().flat_map(energy_outside_window);
        for finding in outside.chain(uneven).chain(energy) {
            self.findings.push(finding.at_placement(self.loaded.named(id)));
        }
        let growth_layers = self.loaded.recipes[recipe].recipe.z_growth_layers();
        let like = self.placed.len();
        let placed = Placed { id, recipe, posed, growth_layers, like };
        self.header.placements.push(placement_row(&placed, placement));
        self.placed.push(placed);
    }

    /// The placement of each row of the file's placement table. Placements of meshes without a
    /// triangle are left out.
    pub fn placements(&self) -> impl ExactSizeIterator<Item = PlacementId> {
        self.placed.iter().map(|placed| placed.id)
    }

    /// Leaves something out of the layers on purpose; the file says so, and is proven so.
    pub fn leave_out(&mut self, left_out: LeftOut) {
        self.header.left_out.push(left_out);
    }

    /// The row of the placement table of a placement by what it is called: "bracket 2 of 4".
    pub fn row_named(&self, name: &str) -> Option<u32> {
        (0..)
            .zip(&self.placed)
            .map(|(row, _)| row)
            .find(|row| self.header.placement_name(*row) == name)
    }

    /// Number of layers from the build platform to the top of the highest part.
    pub fn layer_count(&self) -> u32 {
        self.header.layer_count
    }

    /// Whether some finding says that the job must not be run.
    pub fn must_stop(&self) -> bool {
        self.findings.iter().any(|finding| finding.severity() == Severity::Stop)
    }

    /// Where a layer is cut: at its middle, mm above the platform.
    pub(crate) fn height_mm(&self, layer: u32) -> f64 {
        base::layers::middle_mm(layer, self.header.layer_thickness_mm)
    }

    /// The recipe of a placement, without what the placement and its place change.
    pub(crate) fn recipe(&self, placed: &Placed) -> &Recipe {
        &self.loaded.recipes[placed.recipe].recipe
    }

    /// The placement of a row of the placement table, by number and name.
    pub(crate) fn named(&self, row: usize) -> NamedPlacement {
        self.loaded.named(self.placed[row].id)
    }

    /// What the beam melts with the recipe of this number.
    pub fn melt(&self, recipe: usize) -> Melt {
        self.exposures.plain(recipe).melt
    }

    /// The powder of the recipe of this number.
    pub fn powder(&self, recipe: usize) -> Powder {
        powder(&self.loaded.recipes[recipe].recipe.material)
    }

    /// What layers of this build had to report, as findings with places.
    pub fn layer_findings(&self, report: &LayerReport) -> Vec<Finding> {
        report.findings(|row| {
            let placed = self.placed.get(row as usize)?;
            let of_placement = self.exposures.of(placed.id, placed.recipe);
            Some((self.loaded.named(placed.id), &of_placement.recipe))
        })
    }
}
