//! A job made ready: every placement posed and indexed, so that any layer can be asked for.

use crate::layers::LayerReport;
use crate::load::{Loaded, LoadedMesh, bounds_under, outside_build_space};
use base::layers::layer_count;
use base::{Affine, Cancelled, Finding, Progress, Severity};
use job::{Placement, Recipe};
use scan_path::{ExposureRow, Header, PartRow, PlacementRow};
use slicing::{Slicer, SlicingError};
use std::sync::Arc;

/// One placement, posed in the build space and indexed by layer.
pub(crate) struct Placed {
    pub(crate) part: usize,
    copy: usize,
    pub(crate) recipe: usize,
    pub(crate) posed: Arc<Posed>,
    /// Layers that the laser may not reach down into, below every overhang.
    pub(crate) growth_layers: u32,
}

/// What is dear to make, and depends on nothing but these four: mesh, placement, scale, layers.
pub(crate) struct Posed {
    mesh: Arc<LoadedMesh>,
    placement: Placement,
    scale: [f64; 3],
    thickness_mm: f64,
    /// From part to build space.
    pub(crate) pose: Affine,
    bounds_mm: ([f64; 3], [f64; 3]),
    pub(crate) slicer: Slicer,
}

impl Posed {
    fn is_of(
        &self,
        mesh: &Arc<LoadedMesh>,
        placement: &Placement,
        scale: [f64; 3],
        t_mm: f64,
    ) -> bool {
        let bits = |v: [f64; 3]| v.map(f64::to_bits);
        Arc::ptr_eq(&self.mesh, mesh)
            && self.placement == *placement
            && bits(self.scale) == bits(scale)
            && self.thickness_mm.to_bits() == t_mm.to_bits()
    }
}

/// A job from which any layer can be computed, alone, on any thread.
pub struct Build {
    /// The job and its files.
    pub loaded: Loaded,
    /// Everything a reader must know beside the layers.
    pub header: Header,
    /// What loading and posing found.
    pub findings: Vec<Finding>,
    pub(crate) placed: Vec<Placed>,
}

/// Why a job could not be made ready.
#[derive(Debug, thiserror::Error)]
pub enum BuildError {
    /// A posed part does not fit the nanometre grid, or the like.
    #[error("cannot slice part {part:?}, placement {placement}: {source}")]
    Slicing {
        /// Name in the job.
        part: String,
        /// Index in the job, from 0.
        placement: u32,
        /// What is wrong.
        source: SlicingError,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl Build {
    /// Poses every placement and indexes it by layer.
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
        let mut build = Self {
            header: header(&loaded),
            findings: loaded.findings.clone(),
            placed: Vec::new(),
            loaded,
        };
        let mut top = 0.0_f64;
        let total: usize = build.loaded.job.parts.iter().map(|p| p.placements.len()).sum();
        progress.add_total(total as u64);
        for (part, entry) in build.loaded.job.parts.iter().enumerate() {
            let (mesh, recipe_index) = build.loaded.parts[part];
            let mesh = &build.loaded.meshes[mesh];
            let recipe = &build.loaded.recipes[recipe_index].recipe;
            for (copy, placement) in entry.placements.iter().enumerate() {
                progress.advance(1)?;
                let number = u32::try_from(build.placed.len()).unwrap_or(u32::MAX);
                let known = earlier.and_then(|earlier| {
                    let (scale, t_mm) = (recipe.scale(), recipe.layer_thickness_mm);
                    let mut posed = earlier.placed.iter().map(|placed| &placed.posed);
                    posed.find(|posed| posed.is_of(mesh, placement, scale, t_mm))
                });
                let posed = match known {
                    Some(posed) => Arc::clone(posed),
                    None => match posed(mesh, placement, recipe, progress) {
                        Ok(Some(posed)) => Arc::new(posed),
                        Ok(None) => continue,
                        Err(SlicingError::Cancelled(cancelled)) => return Err(cancelled.into()),
                        Err(source) => {
                            let part = entry.name.clone();
                            return Err(BuildError::Slicing { part, placement: number, source });
                        }
                    },
                };
                let (low, high) = posed.bounds_mm;
                let outside =
                    outside_build_space(&build.loaded.machine, &entry.name, number, (low, high));
                build.findings.extend(outside);
                top = top.max(high[2]);
                #[expect(clippy::cast_possible_truncation, reason = "parts come from a file")]
                build.header.placements.push(PlacementRow {
                    part: part as u32,
                    location_mm: placement.location_mm,
                    rotation_deg: placement.rotation_deg,
                    bounds_mm: Some([low, high]),
                });
                build.placed.push(Placed {
                    part,
                    copy,
                    recipe: recipe_index,
                    posed,
                    growth_layers: recipe.z_growth_layers(),
                });
            }
        }
        let thickness = build.header.layer_thickness_mm;
        build.header.layer_count = layer_count(top, thickness);
        if build.header.layer_count == 0 {
            let sentence = "Nothing is placed above the build platform, so there is no layer.";
            build.findings.push(Finding::new(Severity::Stop, "nothing_to_build", sentence));
        }
        Ok(build)
    }

    /// For each placement in the file's order: index of its part in the job, and of its copy among
    /// the placements of that part. Placements of meshes without a triangle are left out.
    pub fn placements(&self) -> impl ExactSizeIterator<Item = (usize, usize)> {
        self.placed.iter().map(|placed| (placed.part, placed.copy))
    }

    /// Number of layers from the build platform to the top of the highest part.
    pub fn layer_count(&self) -> u32 {
        self.header.layer_count
    }

    /// Whether some finding says that the job must not be run.
    pub fn must_stop(&self) -> bool {
        self.findings.iter().any(|finding| finding.severity == Severity::Stop)
    }

    pub(crate) fn recipe(&self, placed: &Placed) -> &Recipe {
        &self.loaded.recipes[placed.recipe].recipe
    }

    /// Index of an exposure in the file's table, which lists the recipes' exposures in turn.
    pub(crate) fn exposure_index(&self, recipe: usize, name: &str) -> Option<u16> {
        let recipes = &self.loaded.recipes;
        let before: usize = recipes[..recipe].iter().map(|r| r.recipe.exposures.len()).sum();
        let here = recipes[recipe].recipe.exposures.iter().position(|e| e.name == name)?;
        u16::try_from(before + here).ok()
    }

    /// What the layers had to report, as findings with places.
    pub fn layer_findings(&self, report: &LayerReport) -> Vec<Finding> {
        report.findings(|placement| {
            let part = self.placed.get(placement).map(|p| &self.loaded.job.parts[p.part]);
            part.map_or_else(String::new, |part| part.name.clone())
        })
    }
}

/// `None` for a mesh without vertices.
fn posed(
    mesh: &Arc<LoadedMesh>,
    placement: &Placement,
    recipe: &Recipe,
    progress: &Progress,
) -> Result<Option<Posed>, SlicingError> {
    let (scale, thickness_mm) = (recipe.scale(), recipe.layer_thickness_mm);
    let pose = placement.pose(mesh.mesh.vertices.iter().copied(), scale);
    let Some(bounds_mm) = bounds_under(&mesh.mesh, &pose) else { return Ok(None) };
    let slicer = Slicer::new(&mesh.mesh, &mesh.topology, &pose, thickness_mm, progress)?;
    let (mesh, placement) = (Arc::clone(mesh), *placement);
    Ok(Some(Posed { mesh, placement, scale, thickness_mm, pose, bounds_mm, slicer }))
}

fn header(loaded: &Loaded) -> Header {
    let recipe = &loaded.recipes[0].recipe;
    let exposures = loaded.recipes.iter().flat_map(|entry| {
        entry.recipe.exposures.iter().map(|exposure| ExposureRow {
            name: exposure.name.clone(),
            recipe: entry.recipe.name.clone(),
            power_w: exposure.power_w,
            speed_mm_s: exposure.speed_mm_s,
            path_run_in_mm: exposure.path_run_in_mm,
            path_run_out_mm: exposure.path_run_out_mm,
        })
    });
    let parts = loaded.job.parts.iter().map(|part| PartRow { name: part.name.clone() });
    Header {
        generator: concat!("Hatchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
        job_name: loaded.job.name.clone(),
        machine_name: loaded.machine.name.clone(),
        build_space_mm: loaded.machine.build_space_mm,
        spreading_direction_deg: Some(loaded.machine.spreading_direction_deg),
        jump_speed_mm_s: loaded.machine.scan_head.jump_speed_mm_s,
        layer_thickness_mm: recipe.layer_thickness_mm,
        layer_count: 0,
        parts: parts.collect(),
        placements: Vec::new(),
        exposures: exposures.collect(),
    }
}
