//! One look through all layers: sums, extents and findings, for whoever wants them.

use crate::build::Build;
use crate::checks::{Heat, LayerReport, Watch, near_wall};
use crate::head::head;
use crate::layers::{ComputedLayer, LayerError, RUN};
use crate::sections::Sections;
use base::{Cancelled, Finding, Progress};
use motion::LayerTime;
use region::Region;

/// Sums over one layer.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LayerSums {
    /// Area to be fused, mm².
    pub area_mm2: f64,
    /// Length of marks, mm.
    pub mark_mm: f64,
    /// Length of jumps, mm.
    pub jump_mm: f64,
    /// Marks.
    pub marks: u64,
    /// Time from the first to the last move; without spreading. At commanded speeds if the machine does not say
    /// how its head moves.
    pub time: LayerTime,
}

/// What a placement covers in one layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Layer number.
    pub layer: u32,
    /// Smallest and largest X, mm.
    pub x_mm: [f64; 2],
    /// Smallest and largest Y, mm.
    pub y_mm: [f64; 2],
    /// Area to be fused, mm².
    pub area_mm2: f64,
}

/// All layers in sums, as far as they were looked at: from the bottom up.
#[derive(Clone, Debug, Default)]
pub struct Survey {
    /// One entry a layer.
    pub layers: Vec<LayerSums>,
    /// By row of the placement table: what the placement covers, in rising order of layers.
    pub extents: Vec<Vec<Extent>>,
    /// What the layers had to report; [`Build::layer_findings`] makes findings of it.
    pub report: LayerReport,
}

/// What is kept of one layer until it is its turn.
struct Looked {
    sums: LayerSums,
    extents: Vec<(usize, Extent)>,
    report: LayerReport,
}

impl Survey {
    /// Adds the layer above.
    fn add(&mut self, looked: Looked) {
        self.layers.push(looked.sums);
        self.report.add(&looked.report);
        for (row, extent) in looked.extents {
            self.extents[row].push(extent);
        }
    }
}

/// Runs for each thread between two calls of the observer: enough that threads seldom wait for
/// each other, and few enough that the observer can hold the work up soon.
const RUNS_EACH: u32 = 2;

impl Build {
    /// Looks through all layers, on as many threads as the current pool has. `so_far` is shown what
    /// has come, again and again, while no other thread works; an error from it ends the survey.
    /// How much comes at a time depends on the number of threads; what it adds up to does not.
    ///
    /// # Errors
    /// If the recipe cannot be carried out, or on cancellation.
    pub fn survey(
        &self,
        progress: &Progress,
        so_far: &mut dyn FnMut(&Survey) -> Result<(), Cancelled>,
    ) -> Result<Survey, LayerError> {
        let threads = u32::try_from(rayon::current_num_threads()).unwrap_or(1);
        let count = self.layer_count();
        progress.add_total(u64::from(count));
        let extents = vec![Vec::new(); self.placed.len()];
        let mut survey = Survey { extents, ..Survey::default() };
        let step = threads.saturating_mul(RUNS_EACH * RUN);
        let mut next = 0;
        while next < count {
            let layers = next..next.saturating_add(step).min(count);
            next = layers.end;
            let look = |computed, sections: &[Sections]| Ok(self.look(computed, sections));
            self.each_layer_of(layers, progress, look, |looked| {
                survey.add(looked);
                Ok::<_, LayerError>(())
            })?;
            so_far(&survey)?;
        }
        Ok(survey)
    }

    /// What warms and cools unevenly: areas that jump, flat starts, parts near the walls, long thin parts
    /// along the way of the spreader. Of all layers; a survey that ended early tells less.
    pub fn heat_findings(&self, survey: &Survey) -> Vec<Finding> {
        let machine = &self.loaded.machine;
        let heat = Heat::of(machine);
        let areas: Vec<f64> = survey.layers.iter().map(|layer| layer.area_mm2).collect();
        let mut findings: Vec<Finding> = heat.area_jump(&areas).into_iter().collect();
        for (row, (placed, extents)) in self.placed.iter().zip(&survey.extents).enumerate() {
            let areas = extents.iter().map(|extent| (extent.layer, extent.area_mm2));
            let own = Heat::flat_start(areas).into_iter();
            let own = own.chain(heat.long_along_spreading(placed.posed.bounds_mm));
            let own = own.chain(near_wall(machine, placed.posed.bounds_mm));
            findings.extend(own.map(|finding| finding.at_placement(self.named(row))));
        }
        findings
    }

    fn look(&self, mut computed: ComputedLayer, sections: &[Sections]) -> Looked {
        let layer = computed.layer.index;
        for (row, sections) in (0..).zip(sections) {
            let films = sections.films(layer);
            computed.report.add_films(row, layer, self.height_mm(layer), &films);
        }
        let time = self.watch(&mut computed);
        self.watch_returns(&mut computed);
        let regions = || sections.iter().map(|sections| sections.unmoved(i64::from(layer)));
        let extents = sections.iter().enumerate();
        let paths = &computed.report.paths;
        Looked {
            sums: LayerSums {
                area_mm2: regions().map(Region::area_mm2).sum(),
                mark_mm: paths.mark_length_mm(),
                jump_mm: paths.jump_length_mm(),
                marks: paths.marks,
                time,
            },
            extents: extents.filter_map(|(row, of)| Some((row, extent(layer, of)?))).collect(),
            report: computed.report,
        }
    }

    /// Follows the beam through a layer: how long it takes, and what the head cannot do goes to the report.
    fn watch(&self, computed: &mut ComputedLayer) -> LayerTime {
        let (machine, layer) = (&self.loaded.machine, &computed.layer);
        let mut time = LayerTime::default();
        let head = head(machine);
        let height_mm = self.height_mm(layer.index);
        let mut watch = Watch::new(machine, layer, height_mm, &mut computed.report);
        motion::walk(layer, &self.header, head.as_ref(), |step| {
            time.add(step.step.kind, step.duration_s);
            watch.look_at(&step);
        });
        watch.finish();
        time
    }
}

fn extent(layer: u32, sections: &Sections) -> Option<Extent> {
    let [[x0, y0], [x1, y1]] = sections.bounds_mm(i64::from(layer))?;
    let area_mm2 = sections.unmoved(i64::from(layer)).area_mm2();
    Some(Extent { layer, x_mm: [x0, x1], y_mm: [y0, y1], area_mm2 })
}
