//! What one or more layers had to report, by placement.

use super::growth::Films;
use super::motion::Motion;
use super::overlap::Overlap;
use super::reheated::Reheated;
use super::sections::Sections;
use super::thin_walls::ThinWalls;
use base::{Finding, NamedPlacement};
use job::Recipe;
use region::Region;
use scan_path::PathStats;
use scan_strategy::ThinReport;
use slicing::SectionReport;
use std::collections::BTreeMap;

/// What one or more layers had to report.
#[derive(Clone, Debug, Default)]
pub struct LayerReport {
    /// Marks and jumps.
    pub paths: PathStats,
    /// By row of the placement table.
    placements: BTreeMap<u32, PlacementReport>,
    /// Within which distance marks heat each other, mm; 0 where nobody asked.
    reach_mm: f64,
}

#[derive(Clone, Debug, Default)]
struct PlacementReport {
    films: Films,
    motion: Motion,
    reheated: Reheated,
    sections: Sections,
    thin_walls: ThinWalls,
    overlap: Overlap,
}

impl LayerReport {
    /// Adds what layers above had to report.
    pub fn add(&mut self, other: &Self) {
        self.paths.add(&other.paths);
        self.reach_mm = self.reach_mm.max(other.reach_mm);
        for (&row, from) in &other.placements {
            let into = self.placements.entry(row).or_default();
            into.films.add(&from.films);
            into.motion.add(&from.motion);
            into.reheated.add(&from.reheated);
            into.sections.add(&from.sections);
            into.thin_walls.add(&from.thin_walls);
            into.overlap.add(&from.overlap);
        }
    }

    /// Takes up how the section of a row of the placement table came about, cut at `z_mm`.
    pub(crate) fn add_section(&mut self, row: u32, layer: u32, z_mm: f64, found: &SectionReport) {
        if !found.exact {
            self.at(row).sections.add_layer(layer, z_mm, found);
        }
    }

    /// Takes up what became of the thin walls of a row of the placement table, cut at `z_mm`.
    pub fn add_thin_walls(&mut self, row: u32, layer: u32, z_mm: f64, found: &ThinReport) {
        if *found != ThinReport::default() {
            self.at(row).thin_walls.add_layer(layer, z_mm, found);
        }
    }

    /// Takes up what growth in Z takes away of a row of the placement table as a whole.
    pub(crate) fn add_films(&mut self, row: u32, layer: u32, z_mm: f64, films: &Region) {
        if !films.is_empty() {
            self.at(row).films.add_layer(layer, z_mm, films);
        }
    }

    /// Takes up that two rows of the placement table share a point, mm.
    pub(crate) fn add_overlap(&mut self, row: u32, other: u32, layer: u32, at: [f64; 3]) {
        self.at(row).overlap.add_layer(layer, other, at);
    }

    /// Takes up that a spot of a row of the placement table, mm, is heated again too soon, after so many ms, by
    /// a mark within a distance, mm.
    pub(crate) fn add_reheated(
        &mut self,
        (row, layer): (u32, u32),
        (after_ms, reach_mm): (f64, f64),
        at: [f64; 3],
    ) {
        self.reach_mm = reach_mm;
        self.at(row).reheated.add_spot(layer, after_ms, at);
    }

    /// Takes up what of the marks of a row of the placement table the head cannot do as it is asked to.
    pub(super) fn add_motion(&mut self, row: u32, motion: &Motion) {
        if !motion.is_nothing() {
            self.at(row).motion.add(motion);
        }
    }

    fn at(&mut self, row: u32) -> &mut PlacementReport {
        self.placements.entry(row).or_default()
    }

    /// The report as findings with places; `about` knows the placements by their rows, and nothing is
    /// said of a row that it does not know: it is of another build.
    pub(crate) fn findings<'a>(
        &self,
        about: impl Fn(u32) -> Option<(NamedPlacement, &'a Recipe)>,
    ) -> Vec<Finding> {
        let mut findings = Vec::new();
        for (&row, report) in &self.placements {
            let Some((placement, recipe)) = about(row) else { continue };
            let all = report.thin_walls.findings(recipe).into_iter();
            let all = all.chain(report.films.finding(recipe));
            let all = all.chain(report.sections.findings());
            let all = all.chain(report.motion.findings());
            let wanted_ms = recipe.shortest_return_ms;
            let all = all.chain(report.reheated.finding(wanted_ms, self.reach_mm));
            let all = all.chain(report.overlap.finding(|other| Some(about(other)?.0)));
            findings.extend(all.map(|finding| finding.at_placement(placement.clone())));
        }
        findings
    }
}
