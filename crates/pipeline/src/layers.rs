//! Layers: a pure function of a build and a layer number.
//!
//! Neighbouring layers share their sections, so layers are computed in short runs; a run of one
//! gives the same bytes.

use crate::build::{Build, Placed};
use crate::in_order::in_order;
use base::{Cancelled, Finding, Point, Progress, Severity};
use region::{Region, intersection};
use scan_path::{Layer, PathStats, stats};
use scan_strategy::{Context, ExposeError, Exposed, ThinReport, expose, facing};
use slicing::{Scratch, SectionReport};
use std::collections::BTreeMap;
use std::ops::Range;

/// What one or more layers had to report.
#[derive(Clone, Debug, Default)]
pub struct LayerReport {
    /// Marks and jumps.
    pub paths: PathStats,
    /// By placement.
    placements: BTreeMap<u32, PlacementReport>,
}

#[derive(Clone, Debug, Default)]
struct PlacementReport {
    thin: ThinReport,
    thin_layers: Option<(u32, u32)>,
    lost_layers: Option<(u32, u32)>,
    gaps: u64,
    gap_layers: Option<(u32, u32)>,
    gap_at: Option<[f64; 3]>,
    longest_gap_mm: f64,
    failure: Option<String>,
    /// Another placement that this one overlaps, and where.
    overlap: Option<(u32, [f64; 3])>,
    overlap_layers: Option<(u32, u32)>,
}

/// Why a layer could not be computed.
#[derive(Debug, thiserror::Error)]
pub enum LayerError {
    /// The recipe cannot be carried out.
    #[error("recipe {recipe}: {source}")]
    Expose {
        /// Path of the recipe as the job names it.
        recipe: String,
        /// What cannot be done.
        source: ExposeError,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// A layer, and what there is to say about it.
#[derive(Clone, Debug)]
pub struct ComputedLayer {
    /// The vectors.
    pub layer: Layer,
    /// What was rescued, lost, closed.
    pub report: LayerReport,
}

/// The sections of one placement over a run of layers.
struct Sections {
    first: u32,
    regions: Vec<Region>,
    reports: Vec<SectionReport>,
}

impl Sections {
    /// What is to be fused of a placement, layer by layer.
    fn of(placed: &Placed, range: Range<u32>, scratch: &mut Scratch) -> Self {
        let growth = placed.growth_layers;
        let first = range.start.saturating_sub(growth);
        let cut = placed.posed.slicer.layers();
        let (raw, reports): (Vec<Region>, Vec<SectionReport>) = (first..range.end)
            .map(|layer| {
                if cut.contains(&layer) {
                    placed.posed.slicer.proper_section(layer, scratch)
                } else {
                    (Region::empty(), SectionReport::default())
                }
            })
            .unzip();
        let skipped = (range.start - first) as usize;
        let reports = reports.into_iter().skip(skipped).collect();
        if growth == 0 {
            return Self { first: range.start, regions: raw, reports };
        }
        // Leave out what has no material within `growth` layers below: the melt comes down there.
        let regions = (skipped..raw.len())
            .map(|k| {
                if k < growth as usize {
                    return Region::empty(); // the platform's first layers have nothing below
                }
                let below = &raw[k - growth as usize..k];
                below.iter().rev().fold(raw[k].clone(), |kept, under| {
                    if kept.is_empty() || *under == kept {
                        kept
                    } else {
                        intersection(&kept, under)
                    }
                })
            })
            .collect();
        Self { first: range.start, regions, reports }
    }

    fn get(&self, layer: i64) -> Option<&Region> {
        let index = usize::try_from(layer - i64::from(self.first)).ok()?;
        self.regions.get(index)
    }
}

const NOTHING: &Region = &Region::empty();

/// Layers computed in one go by one thread: neighbours share their sections.
const RUN: u32 = 8;

impl Build {
    /// One layer, computed alone.
    ///
    /// # Errors
    /// If the recipe cannot be carried out, or on cancellation.
    pub fn layer(&self, index: u32, progress: &Progress) -> Result<ComputedLayer, LayerError> {
        let mut run = self.layers(index..index + 1, &mut Scratch::default(), progress)?;
        Ok(run.remove(0))
    }

    /// A run of layers.
    ///
    /// # Errors
    /// If the recipe cannot be carried out, or on cancellation.
    pub fn layers(
        &self,
        range: Range<u32>,
        scratch: &mut Scratch,
        progress: &Progress,
    ) -> Result<Vec<ComputedLayer>, LayerError> {
        self.run(range, scratch, progress, |layer, _| layer)
    }

    /// What all layers have to report, without keeping them.
    ///
    /// # Errors
    /// As for [`Self::layers`].
    pub fn report(&self, progress: &Progress) -> Result<LayerReport, LayerError> {
        let mut report = LayerReport::default();
        self.each_layer(
            progress,
            |computed| Ok(computed.report),
            |found| {
                report.add(found);
                Ok::<_, LayerError>(())
            },
        )?;
        Ok(report)
    }

    /// All layers: `finish` on whatever thread, `take` in order.
    pub(crate) fn each_layer<T: Send, E: From<LayerError> + Send>(
        &self,
        progress: &Progress,
        finish: impl Fn(ComputedLayer) -> Result<T, E> + Sync,
        mut take: impl FnMut(T) -> Result<(), E> + Send,
    ) -> Result<(), E> {
        let count = self.layer_count();
        progress.add_total(u64::from(count));
        let compute = |scratch: &mut Scratch, run: u32| {
            let first = run * RUN;
            let layers = self.layers(first..(first + RUN).min(count), scratch, progress)?;
            layers.into_iter().map(&finish).collect::<Result<Vec<T>, E>>()
        };
        in_order(count.div_ceil(RUN), compute, |run| run.into_iter().try_for_each(&mut take))
    }

    /// A run of layers, each with what is to be fused of every placement in it; empty where a
    /// placement has nothing there.
    ///
    /// # Errors
    /// As for [`Self::layers`].
    pub fn layers_with_regions(
        &self,
        range: Range<u32>,
        scratch: &mut Scratch,
        progress: &Progress,
    ) -> Result<Vec<(ComputedLayer, Vec<Region>)>, LayerError> {
        self.run(range, scratch, progress, |computed, sections| {
            let index = i64::from(computed.layer.index);
            let here = sections.iter().map(|s| s.get(index).unwrap_or(NOTHING).clone());
            let regions = here.collect();
            (computed, regions)
        })
    }

    fn run<T>(
        &self,
        range: Range<u32>,
        scratch: &mut Scratch,
        progress: &Progress,
        finish: impl Fn(ComputedLayer, &[Sections]) -> T,
    ) -> Result<Vec<T>, LayerError> {
        let mut sections = Vec::with_capacity(self.placed.len());
        for placed in &self.placed {
            progress.check()?;
            let recipe = self.recipe(placed);
            let reach = |strategy: &Option<job::recipe::FacingStrategy>| {
                strategy.as_ref().map_or(0, |facing| facing.layers)
            };
            let below = range.start.saturating_sub(reach(&recipe.down_facing));
            let above = range.end + reach(&recipe.up_facing);
            sections.push(Sections::of(placed, below..above, scratch));
        }
        range
            .map(|index| {
                let layer = self.expose_layer(index, &sections)?;
                progress.advance(1)?;
                Ok(finish(layer, &sections))
            })
            .collect()
    }

    /// What is to be fused of a placement in one layer: the section, less the melt that reaches
    /// down from above. This is what a layer's vectors are verified against.
    pub(crate) fn fused(&self, placement: usize, layer: u32, scratch: &mut Scratch) -> Region {
        Sections::of(&self.placed[placement], layer..layer + 1, scratch).regions.remove(0)
    }

    fn expose_layer(&self, index: u32, sections: &[Sections]) -> Result<ComputedLayer, LayerError> {
        let mut layer = Layer { index, blocks: Vec::new() };
        let mut report = LayerReport::default();
        let mut waiting: Vec<(usize, &Region)> = Vec::new();
        for (placement, sections) in sections.iter().enumerate() {
            let here = sections.get(i64::from(index)).unwrap_or(NOTHING);
            let found = &sections.reports[(index - sections.first) as usize];
            report.add_section(placement, index, self.header.layer_thickness_mm, found);
            if !here.is_empty() {
                waiting.push((placement, here));
            }
        }
        for (i, (a, first)) in waiting.iter().enumerate() {
            for (b, second) in &waiting[i + 1..] {
                if let Some(at) = overlap(first, second) {
                    report.add_overlap(*a, *b, index, at, self.header.layer_thickness_mm);
                }
            }
        }
        let mut beam_at: Option<Point> = None;
        while let Some(next) = nearest(&waiting, beam_at) {
            let (placement, section) = waiting.swap_remove(next);
            waiting.sort_unstable_by_key(|(placement, _)| *placement);
            let exposed =
                self.expose_section(placement, section, index, &sections[placement], beam_at)?;
            beam_at = exposed.beam_at;
            report.add_thin(placement, index, &exposed.thin);
            layer.blocks.extend(exposed.blocks);
        }
        report.paths = stats(&layer);
        Ok(ComputedLayer { layer, report })
    }

    fn expose_section(
        &self,
        placement: usize,
        section: &Region,
        index: u32,
        sections: &Sections,
        beam_at: Option<Point>,
    ) -> Result<Exposed, LayerError> {
        let placed = &self.placed[placement];
        let recipe = self.recipe(placed);
        let neighbours = |count: u32, step: i64| -> Vec<&Region> {
            let layer = |n| i64::from(index) + step * i64::from(n);
            (1..=count).map(|n| sections.get(layer(n)).unwrap_or(NOTHING)).collect()
        };
        let below = recipe.down_facing.as_ref().map_or(Vec::new(), |f| neighbours(f.layers, -1));
        let above = recipe.up_facing.as_ref().map_or(Vec::new(), |f| neighbours(f.layers, 1));
        let facing =
            (!below.is_empty() || !above.is_empty()).then(|| facing(section, &below, &above));
        let exposure_index = |name: &str| self.exposure_index(placed.recipe, name);
        let context = Context {
            recipe,
            layer: index,
            spreading_direction_deg: self.loaded.machine.spreading_direction_deg,
            placement: u32::try_from(placement).unwrap_or(u32::MAX),
            exposure_index: &exposure_index,
            beam_at,
        };
        expose(section, facing.as_ref(), &context).map_err(|source| LayerError::Expose {
            recipe: self.loaded.recipes[placed.recipe].file.clone(),
            source,
        })
    }
}

/// The waiting section whose bounds are nearest to the beam; the first of equals.
fn nearest(waiting: &[(usize, &Region)], beam_at: Option<Point>) -> Option<usize> {
    let Some(beam) = beam_at else { return (!waiting.is_empty()).then_some(0) };
    let distance = |region: &Region| {
        let Some((low, high)) = region.bounds() else { return 0.0 };
        let clamped = Point::new(beam.x.clamp(low.x, high.x), beam.y.clamp(low.y, high.y));
        clamped.distance(beam)
    };
    (0..waiting.len()).min_by(|&a, &b| distance(waiting[a].1).total_cmp(&distance(waiting[b].1)))
}

/// A point that lies in both regions, if there is one.
fn overlap(a: &Region, b: &Region) -> Option<Point> {
    let ((a_low, a_high), (b_low, b_high)) = (a.bounds()?, b.bounds()?);
    let apart =
        a_high.x < b_low.x || b_high.x < a_low.x || a_high.y < b_low.y || b_high.y < a_low.y;
    if apart { None } else { intersection(a, b).points().first().copied() }
}

fn widen(range: &mut Option<(u32, u32)>, other: Option<(u32, u32)>) {
    if let Some((first, last)) = other {
        let (a, b) = range.unwrap_or((first, last));
        *range = Some((a.min(first), b.max(last)));
    }
}

impl LayerReport {
    /// Adds what another run of layers had to report.
    pub fn add(&mut self, other: Self) {
        self.paths.add(&other.paths);
        for (placement, from) in other.placements {
            let into = self.placements.entry(placement).or_default();
            into.thin.add(&from.thin);
            widen(&mut into.thin_layers, from.thin_layers);
            widen(&mut into.lost_layers, from.lost_layers);
            into.gaps += from.gaps;
            widen(&mut into.gap_layers, from.gap_layers);
            into.gap_at = into.gap_at.or(from.gap_at);
            into.longest_gap_mm = into.longest_gap_mm.max(from.longest_gap_mm);
            into.failure = into.failure.take().or(from.failure);
            into.overlap = into.overlap.or(from.overlap);
            widen(&mut into.overlap_layers, from.overlap_layers);
        }
    }

    fn at(&mut self, placement: usize) -> &mut PlacementReport {
        self.placements.entry(u32::try_from(placement).unwrap_or(u32::MAX)).or_default()
    }

    fn add_section(&mut self, placement: usize, layer: u32, t_mm: f64, found: &SectionReport) {
        if let Some(gap) = found.gaps.first() {
            let into = self.at(placement);
            into.gaps += found.gaps.len() as u64;
            widen(&mut into.gap_layers, Some((layer, layer)));
            into.longest_gap_mm =
                found.gaps.iter().fold(0.0, |most, gap| gap.length_mm().max(most));
            into.gap_at = Some([gap.from_mm[0], gap.from_mm[1], (f64::from(layer) + 0.5) * t_mm]);
        }
    }

    fn add_overlap(&mut self, a: usize, b: usize, layer: u32, at: Point, t_mm: f64) {
        let into = self.at(a);
        let [x, y] = at.to_mm();
        let other = u32::try_from(b).unwrap_or(u32::MAX);
        into.overlap.get_or_insert((other, [x, y, (f64::from(layer) + 0.5) * t_mm]));
        widen(&mut into.overlap_layers, Some((layer, layer)));
    }

    fn add_thin(&mut self, placement: usize, layer: u32, thin: &ThinReport) {
        if *thin == ThinReport::default() {
            return;
        }
        let into = self.at(placement);
        into.thin.add(thin);
        into.failure = thin.failures.first().map(ToString::to_string);
        if thin.rescued_length_mm > 0.0 {
            widen(&mut into.thin_layers, Some((layer, layer)));
        }
        if thin.lost_area_mm2 > 0.0 {
            widen(&mut into.lost_layers, Some((layer, layer)));
        }
    }

    /// The report as findings with places. `part_name` gives the part of a placement.
    pub(crate) fn findings(&self, part_name: impl Fn(usize) -> String) -> Vec<Finding> {
        let mut findings = Vec::new();
        for (&placement, report) in &self.placements {
            let name = part_name(placement as usize);
            let mut add = |severity, kind, sentence: String, layers: Option<(u32, u32)>| {
                if let Some((first, last)) = layers {
                    let finding = Finding::new(severity, kind, sentence)
                        .at_part(&name)
                        .at_placement(placement)
                        .at_layers(first, last);
                    findings.push(finding);
                }
            };
            let thin = &report.thin;
            add(
                Severity::Note,
                "thin_walls_rescued",
                format!(
                    "Walls thinner than twice the beam offset get centrelines: {:.1} mm in all, \
                     {:.2} mm² of section. They come out about one melt width thick.",
                    thin.rescued_length_mm, thin.rescued_area_mm2
                ),
                report.thin_layers,
            );
            add(
                Severity::Caution,
                "thin_walls_lost",
                format!(
                    "Walls too thin to expose are left out: {:.2} mm² of section, about {:.1} mm \
                     of wall. Thicken them, or let the recipe expose thinner or shorter walls.",
                    thin.lost_area_mm2, thin.lost_length_mm
                ),
                report.lost_layers,
            );
            add(
                Severity::Caution,
                "open_sections",
                format!(
                    "The mesh has holes, so {} contours did not close and were closed by \
                     straight lines of up to {:.3} mm. Repair the mesh or look at these layers.",
                    report.gaps, report.longest_gap_mm
                ),
                report.gap_layers,
            );
            if let Some((other, [x, y, z])) = report.overlap {
                let sentence = format!(
                    "The part overlaps placement {other}, for example at ({x:.2}, {y:.2}, {z:.2}) \
                     mm; they would be fused into one. Move one of them."
                );
                add(Severity::Stop, "placements_overlap", sentence, report.overlap_layers);
            }
            if let Some(failure) = &report.failure {
                let sentence = format!("Centrelines could not be found everywhere: {failure}.");
                add(Severity::Caution, "centrelines_failed", sentence, report.lost_layers);
            }
        }
        findings
    }
}
