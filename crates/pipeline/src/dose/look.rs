//! One of many layers: what of it goes into sums and findings.

use super::assumed::Assumed;
use super::basics::{SAMPLES_MM, bounds, section_of_row};
use super::lost::{Box2, LostSpot, lost_spots};
use super::spread::Distances;
use crate::build::Build;
use crate::strokes::strokes;
use base::{NM_PER_MM, Progress};
use estimate::outline::along_boundary;
use estimate::{Beam, DoseField, EstimateError, compare, melted};
use region::{Region, union_all};
use scan_path::{ExposureKind, ExposureRow, Layer};
use serde::Serialize;
use slicing::Scratch;
use std::collections::BTreeMap;

/// Contours, and how many of them run around without a cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Closed {
    /// Contours that end where they began.
    pub closed: u64,
    /// All contours, one that is cut counting once for each piece.
    pub contours: u64,
    /// Length of those that are closed, mm.
    pub closed_mm: f64,
    /// Length of all, mm.
    pub contours_mm: f64,
}

impl Closed {
    /// Adds further contours.
    pub(super) fn add(&mut self, other: Self) {
        self.closed += other.closed;
        self.contours += other.contours;
        self.closed_mm += other.closed_mm;
        self.contours_mm += other.contours_mm;
    }

    fn of(layer: &Layer, exposures: &[ExposureRow]) -> Self {
        let mut sums = Self::default();
        let is_run = |exposure: u16| {
            exposures.get(usize::from(exposure)).is_some_and(|row| row.power_w > 0.0)
        };
        let contours = layer.blocks.iter().filter(|block| block.kind == ExposureKind::Contour);
        let run = contours.filter(|block| is_run(block.exposure));
        for path in run.flat_map(|block| block.paths.iter()) {
            let nm: f64 = path.windows(2).map(|ends| ends[0].distance(ends[1])).sum();
            let is_closed = path.first() == path.last();
            sums.add(Self {
                closed: u64::from(is_closed),
                contours: 1,
                closed_mm: if is_closed { nm / NM_PER_MM } else { 0.0 },
                contours_mm: nm / NM_PER_MM,
            });
        }
        sums
    }
}

/// What is kept of a layer.
pub(super) struct Looked {
    pub(super) layer: u32,
    /// Whether there is anything to fuse, or any mark that counts.
    pub(super) is_used: bool,
    pub(super) contours: Closed,
    /// For each threshold.
    pub(super) predictions: Vec<Predicted>,
}

/// What melts of a layer against what should.
#[derive(Clone, Default)]
pub(super) struct Predicted {
    /// From places on the outline to the boundary.
    pub(super) outline: Distances,
    /// From places on the boundary to the outline, by row of the placement table.
    pub(super) boundaries: BTreeMap<usize, BoundaryDistances>,
    pub(super) lost: Vec<LostSpot>,
}

/// Distances from the boundary of one placement to the outline.
#[derive(Clone, Default)]
pub(super) struct BoundaryDistances {
    pub(super) all: Distances,
    /// Of places that are not near a sharp corner.
    pub(super) away: Distances,
    /// The largest of those either way and its place, mm.
    pub(super) worst: Option<(f64, [f64; 3])>,
}

impl BoundaryDistances {
    /// Adds those of further layers or copies.
    pub(super) fn add(&mut self, other: &Self) {
        self.all.add_all(&other.all);
        self.away.add_all(&other.away);
        other.worst.iter().for_each(|&(mm, at)| self.take_worst(mm, at));
    }

    fn take_worst(&mut self, mm: f64, at: [f64; 3]) {
        if mm.is_finite() && self.worst.is_none_or(|(worst, _)| mm.abs() > worst.abs()) {
            self.worst = Some((mm, at));
        }
    }
}

/// Looks at a layer. Placements whose marks and sections come nowhere near each other's are worked out
/// one by one, so that no grid is larger than it need be. `exposures` is the table, without power where marks
/// do not count.
pub(super) fn look(
    build: &Build,
    exposures: &[ExposureRow],
    (assumed, beam): (&Assumed, Beam),
    layer: &Layer,
    scratch: &mut Scratch,
    progress: &Progress,
) -> Result<Looked, EstimateError> {
    let mut rows = Vec::with_capacity(build.placed.len());
    for (row, placed) in build.placed.iter().enumerate() {
        progress.check()?;
        let counts = assumed.counts(&build.recipe(placed).name);
        let section =
            if counts { section_of_row(build, row, layer.index, scratch) } else { Region::empty() };
        let blocks = layer.blocks.iter().filter(|block| block.placement as usize == row);
        let field = DoseField::new(&strokes(blocks, exposures), beam)?;
        if !section.is_empty() || field.bounds().is_some() {
            let around = bounds(&field, Some(&section));
            rows.push(Row { number: row, section, around, field });
        }
    }
    let mut looked = Looked {
        layer: layer.index,
        is_used: !rows.is_empty(),
        contours: Closed::of(layer, exposures),
        predictions: vec![Predicted::default(); assumed.thresholds.len()],
    };
    let z_mm = build.height_mm(layer.index);
    for group in groups(rows, beam.radius_mm()) {
        let together;
        let field = if let [alone] = group.as_slice() {
            &alone.field
        } else {
            let is_here = |number: u32| group.iter().any(|row| row.number == number as usize);
            let blocks = layer.blocks.iter().filter(|block| is_here(block.placement));
            together = DoseField::new(&strokes(blocks, exposures), beam)?;
            &together
        };
        let sections: Vec<Region> = group.iter().map(|row| row.section.clone()).collect();
        let section = union_all(&sections);
        for (threshold, predicted) in assumed.thresholds.iter().zip(&mut looked.predictions) {
            progress.check()?;
            predicted.add(field, threshold.j_mm2, (&group, &section), z_mm)?;
        }
    }
    Ok(looked)
}

impl Predicted {
    /// Takes up some placements that are near each other, and near no other, with the section of all.
    fn add(
        &mut self,
        field: &DoseField,
        threshold_j_mm2: f64,
        (group, section): (&[Row], &Region),
        z_mm: f64,
    ) -> Result<(), EstimateError> {
        // its steps are not those of the whole, which are layers; cancelling is asked for between placements
        // and thresholds
        let progress = &Progress::default();
        let outline = melted(field, threshold_j_mm2, bounds(field, Some(section)), progress)?;
        let deviation = compare(&outline, section, SAMPLES_MM, progress)?;
        deviation.samples.iter().for_each(|sample| self.outline.add(sample.signed_mm));
        self.lost.extend(lost_spots(&deviation, |around| row_with(group, around)));
        let sections = group.iter().map(|row| &row.section);
        let along = along_boundary(&outline, sections, SAMPLES_MM, field.beam(), progress)?;
        for (row, places) in group.iter().zip(along) {
            let into = self.boundaries.entry(row.number).or_default();
            for place in places {
                into.all.add(place.signed_mm);
                if !place.is_near_corner {
                    into.away.add(place.signed_mm);
                    into.take_worst(place.signed_mm, [place.at[0], place.at[1], z_mm]);
                }
            }
        }
        Ok(())
    }
}

/// One placement in a layer.
struct Row {
    /// Its row in the placement table.
    number: usize,
    section: Region,
    /// The box around section and dose, mm.
    around: Box2,
    /// The dose of its own marks.
    field: DoseField,
}

/// Placements that may share dose, in lists of their own.
fn groups(rows: Vec<Row>, margin_mm: f64) -> Vec<Vec<Row>> {
    let meet = |a: &Row, b: &Row| {
        let ([low_a, high_a], [low_b, high_b]) = (a.around, b.around);
        (0..2).all(|k| low_a[k] <= high_b[k] + margin_mm && low_b[k] <= high_a[k] + margin_mm)
    };
    let mut groups: Vec<Vec<Row>> = Vec::new();
    for row in rows {
        let is_near = |group: &Vec<Row>| group.iter().any(|other| meet(&row, other));
        let (near, apart) = groups.into_iter().partition(is_near);
        groups = apart;
        let mut joined: Vec<Row> = near.into_iter().flatten().collect();
        joined.push(row);
        groups.push(joined);
    }
    groups
}

/// The row whose section has a ring with this box around it; the first where sections overlap, so that
/// none has.
fn row_with(group: &[Row], [low, high]: Box2) -> usize {
    let nearly = |a: [f64; 2], b: [f64; 2]| (0..2).all(|k| (a[k] - b[k]).abs() < 1e-6);
    let has = |row: &&Row| {
        let mut rings = row.section.rings().map(|ring| Region::from_proper_rings([ring]));
        rings.any(|ring| ring.bounds_mm().is_some_and(|[a, b]| nearly(a, low) && nearly(b, high)))
    };
    group.iter().find(has).or(group.first()).map_or(0, |row| row.number)
}
