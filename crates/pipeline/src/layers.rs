//! Layers: a pure function of a build and a layer number.
//!
//! Neighbouring layers share their sections, so layers are computed in short runs; a run of one
//! gives the same bytes. Copies share what is prepared of them (`shared`), and so do layers with the same
//! section; whether anything was shared cannot be told from the bytes.

use crate::build::Build;
use crate::checks::LayerReport;
use crate::in_order::in_order;
use crate::made::KnownSections;
use crate::posed::Placed;
use crate::sections::Sections;
use base::{Cancelled, Point, Progress};
use job::{NextPart, Rounds};
use region::{Region, intersection};
use scan_path::{Layer, stats};
use scan_strategy::{Context, ExposeError, Exposed, Prepared, Round, expose_prepared};
use slicing::Scratch;
use std::ops::Range;

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

/// Layers computed in one go by one thread: neighbours share their sections.
pub(crate) const RUN: u32 = 8;

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
            let regions = sections.iter().map(|s| s.region(index)).collect();
            (computed, regions)
        })
    }

    /// All layers: `finish` on whatever thread, `take` in order.
    pub(crate) fn each_layer<T: Send, E: From<LayerError> + Send>(
        &self,
        progress: &Progress,
        finish: impl Fn(ComputedLayer) -> Result<T, E> + Sync,
        take: impl FnMut(T) -> Result<(), E> + Send,
    ) -> Result<(), E> {
        let count = self.layer_count();
        progress.add_total(u64::from(count));
        self.each_layer_of(0..count, progress, |computed, _| finish(computed), take)
    }

    /// Some layers: `finish` gets each with the sections of all placements, by row.
    pub(crate) fn each_layer_of<T: Send, E: From<LayerError> + Send>(
        &self,
        layers: Range<u32>,
        progress: &Progress,
        finish: impl Fn(ComputedLayer, &[Sections]) -> Result<T, E> + Sync,
        mut take: impl FnMut(T) -> Result<(), E> + Send,
    ) -> Result<(), E> {
        let compute = |scratch: &mut Scratch, run: u32| {
            let first = layers.start + run * RUN;
            let range = first..(first + RUN).min(layers.end);
            let run = self.run(range, scratch, progress, &finish)?;
            run.into_iter().collect::<Result<Vec<T>, E>>()
        };
        let runs = (layers.end - layers.start).div_ceil(RUN);
        in_order(runs, compute, |run| run.into_iter().try_for_each(&mut take))
    }

    /// A run of layers; `finish` gets each with the sections of all placements, by row.
    fn run<T>(
        &self,
        range: Range<u32>,
        scratch: &mut Scratch,
        progress: &Progress,
        finish: impl Fn(ComputedLayer, &[Sections]) -> T,
    ) -> Result<Vec<T>, LayerError> {
        let sections = self.cut(&range, scratch, progress)?;
        let mut known = KnownSections::new();
        range
            .map(|index| {
                let layer = self.expose_layer(index, &sections, &mut known)?;
                progress.advance(1)?;
                Ok(finish(layer, &sections))
            })
            .collect()
    }

    fn expose_layer(
        &self,
        index: u32,
        sections: &[Sections],
        known: &mut KnownSections,
    ) -> Result<ComputedLayer, LayerError> {
        let mut layer = Layer { index, blocks: Vec::new() };
        let mut report = LayerReport::default();
        let z_mm = self.height_mm(index);
        let here: Vec<Region> = sections.iter().map(|s| s.region(i64::from(index))).collect();
        let waiting = self.reached(index, sections, &here, &mut report);
        let made = self.made(waiting.iter().map(|(row, _)| *row), index, sections, known)?;
        let order = self.loaded.job.part_order;
        let rounds: &[Option<Round>] = match order.rounds {
            Rounds::PartAfterPart => &[None],
            Rounds::KindAfterKind => {
                &[Round::BeforeContours, Round::Contours, Round::AfterContours].map(Some)
            }
        };
        let mut beam_at: Option<Point> = None;
        for (number, round) in rounds.iter().enumerate() {
            let mut waiting = waiting.clone();
            while let Some(next) = next(&waiting, beam_at, order.next) {
                let (row, _) = waiting.remove(next);
                let Some(made) = made.get(&row) else { continue };
                let moved_nm = sections[row as usize].moved_nm;
                let when = (index, *round, beam_at);
                let exposed = self.expose_section(row, &made.prepared, moved_nm, when)?;
                beam_at = exposed.beam_at;
                if number == 0 {
                    report.add_thin_walls(row, index, z_mm, &exposed.thin);
                }
                layer.blocks.extend(exposed.blocks);
            }
        }
        report.paths = stats(&layer);
        Ok(ComputedLayer { layer, report })
    }

    /// The placements that this layer cuts, by row, with what is `here` of them, in the order in which they
    /// wait for the beam; what their sections have to tell, and where two of them overlap, goes to the report.
    fn reached<'s>(
        &self,
        index: u32,
        sections: &[Sections],
        here: &'s [Region],
        report: &mut LayerReport,
    ) -> Vec<(u32, &'s Region)> {
        let mut waiting: Vec<(u32, &Region)> = Vec::new();
        let z_mm = self.height_mm(index);
        for ((row, sections), here) in (0..).zip(sections).zip(here) {
            if self.header.is_left_out(row, index) {
                continue;
            }
            report.add_section(row, index, z_mm, &sections.report(index));
            if !here.is_empty() {
                waiting.push((row, here));
            }
        }
        for (a, b, point) in overlaps(&waiting) {
            let [x, y] = point.to_mm();
            report.add_overlap(a, b, index, [x, y, z_mm]);
        }
        if self.loaded.job.part_order.next == NextPart::Rotating {
            let first = self.first_row(index);
            let before = waiting.partition_point(|(row, _)| *row < first);
            waiting.rotate_left(before);
        }
        waiting
    }

    /// The placement with which a layer starts where these take turns: of those that reach it, the next in
    /// every layer.
    fn first_row(&self, index: u32) -> u32 {
        let z_mm = self.height_mm(index);
        let rows = (0..).zip(&self.placed).filter(|(_, placed)| {
            let ([.., low], [.., high]) = placed.posed.bounds_mm;
            (low..=high).contains(&z_mm)
        });
        let rows: Vec<u32> = rows.map(|(row, _)| row).collect();
        let number = index as usize % rows.len().max(1);
        rows.get(number).copied().unwrap_or(0)
    }

    fn expose_section(
        &self,
        row: u32,
        prepared: &Prepared,
        moved_nm: [i32; 2],
        (index, round, beam_at): (u32, Option<Round>, Option<Point>),
    ) -> Result<Exposed, LayerError> {
        let placed = &self.placed[row as usize];
        let variant = self.exposures.of(placed.id, placed.recipe);
        let exposure_index = |name: &str| variant.row(name);
        let wall_exposure_index = |step: i32| variant.wall_row(step);
        let context = Context {
            recipe: &variant.recipe,
            layer: index,
            spreading_direction_deg: self.loaded.machine.spreading_direction_deg,
            placement: row,
            exposure_index: &exposure_index,
            melt: variant.melt,
            wall_exposure_index: &wall_exposure_index,
            round,
            jumps: Some(&self.jumps),
            beam_at,
        };
        let exposed = expose_prepared(prepared, moved_nm, &context);
        exposed.map_err(|source| self.expose_error(placed, source))
    }

    pub(crate) fn expose_error(&self, placed: &Placed, source: ExposeError) -> LayerError {
        let recipe = self.loaded.recipes[placed.recipe].file.clone();
        LayerError::Expose { recipe, source }
    }
}

/// Which of the waiting sections comes next.
fn next(waiting: &[(u32, &Region)], beam_at: Option<Point>, order: NextPart) -> Option<usize> {
    match order {
        NextPart::Nearest => nearest(waiting, beam_at),
        NextPart::AsListed | NextPart::Rotating => (!waiting.is_empty()).then_some(0),
    }
}

/// The waiting section whose bounds are nearest to the beam; the first of equals.
fn nearest(waiting: &[(u32, &Region)], beam_at: Option<Point>) -> Option<usize> {
    let Some(beam) = beam_at else { return (!waiting.is_empty()).then_some(0) };
    let distance = |region: &Region| {
        let Some((low, high)) = region.bounds() else { return 0.0 };
        let clamped = Point::new(beam.x.clamp(low.x, high.x), beam.y.clamp(low.y, high.y));
        clamped.distance(beam)
    };
    (0..waiting.len()).min_by(|&a, &b| distance(waiting[a].1).total_cmp(&distance(waiting[b].1)))
}

/// For each placement the first of those after it that it overlaps, and a point in both. Only those whose
/// bounds meet are looked at, found along X: thousands of placements have millions of pairs.
fn overlaps(waiting: &[(u32, &Region)]) -> Vec<(u32, u32, Point)> {
    let bounds = waiting.iter().enumerate();
    let mut boxes: Vec<_> = bounds.filter_map(|(n, (_, r))| Some((r.bounds()?, n))).collect();
    boxes.sort_by_key(|((low, _), n)| (low.x, *n));
    let mut near: Vec<Vec<usize>> = vec![Vec::new(); waiting.len()];
    for (k, ((low, high), n)) in boxes.iter().enumerate() {
        let reached = boxes[k + 1..].iter().take_while(|((other, _), _)| other.x <= high.x);
        let meet = |((from, to), _): &&((Point, Point), usize)| from.y <= high.y && low.y <= to.y;
        for (_, m) in reached.filter(meet) {
            near[*n.min(m)].push(*n.max(m));
        }
    }
    let mut found = Vec::new();
    for (n, mut others) in near.into_iter().enumerate() {
        others.sort_unstable();
        let (a, first) = waiting[n];
        let shared = |m: usize| {
            let point = intersection(first, waiting[m].1).points().first().copied()?;
            Some((a, waiting[m].0, point))
        };
        found.extend(others.into_iter().find_map(shared));
    }
    found
}
