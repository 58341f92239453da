//! What became of walls too narrow for two contours.

use super::span::Span;
use base::Finding;
use base::finding::LayerProblem;
use job::Recipe;
use job::recipe::ThinWalls as Policy;
use region::CentrelineError;
use scan_strategy::ThinReport;

/// The thin walls of one placement, over any number of layers.
#[derive(Clone, Debug, Default)]
pub(super) struct ThinWalls {
    sums: ThinReport,
    rescued_layers: Span,
    lost_layers: Span,
    /// The largest piece left out: its area, mm², and a point on it, mm; the first of equals.
    largest_lost: Option<(f64, [f64; 3])>,
    /// The first island without centrelines: why, and where, mm.
    failure: Option<(String, [f64; 3])>,
    failed_layers: Span,
}

impl ThinWalls {
    /// Takes up the report of one layer, which is cut at `z_mm`.
    pub(super) fn add_layer(&mut self, layer: u32, z_mm: f64, found: &ThinReport) {
        if found.rescued_length_mm > 0.0 {
            self.rescued_layers.add_layer(layer);
        }
        if found.lost_area_mm2 > 0.0 {
            self.lost_layers.add_layer(layer);
        }
        if let Some(failure) = found.failures.first() {
            let CentrelineError::EdgesCross { at } = failure;
            let [x, y] = at.to_mm();
            self.failure.get_or_insert_with(|| (failure.to_string(), [x, y, z_mm]));
            self.failed_layers.add_layer(layer);
        }
        if let Some(at) = found.largest_lost_at {
            let [x, y] = at.to_mm();
            self.take_largest(Some((found.largest_lost_mm2, [x, y, z_mm])));
        }
        self.add_sums(found);
    }

    /// Adds what layers above had to report.
    pub(super) fn add(&mut self, other: &Self) {
        self.add_sums(&other.sums);
        self.rescued_layers.add(other.rescued_layers);
        self.lost_layers.add(other.lost_layers);
        self.take_largest(other.largest_lost);
        self.failure = self.failure.take().or_else(|| other.failure.clone());
        self.failed_layers.add(other.failed_layers);
    }

    /// Lengths and areas alone: places and failures are kept as they are shown.
    fn add_sums(&mut self, found: &ThinReport) {
        let sums = &mut self.sums;
        sums.rescued_length_mm += found.rescued_length_mm;
        sums.rescued_area_mm2 += found.rescued_area_mm2;
        sums.lost_length_mm += found.lost_length_mm;
        sums.lost_area_mm2 += found.lost_area_mm2;
    }

    fn take_largest(&mut self, other: Option<(f64, [f64; 3])>) {
        let known = self.largest_lost.map_or(-1.0, |(area, _)| area);
        if let Some(larger) = other.filter(|(area, _)| *area > known) {
            self.largest_lost = Some(larger);
        }
    }

    /// At most one finding each: what gets centrelines, what is left out, what failed.
    pub(super) fn findings(&self, recipe: &Recipe) -> Vec<Finding> {
        let (sums, mut findings) = (&self.sums, Vec::new());
        if let Some((first, last)) = self.rescued_layers.layers() {
            let problem = LayerProblem::ThinWallsRescued {
                length_mm: sums.rescued_length_mm,
                area_mm2: sums.rescued_area_mm2,
                beam_offset_mm: recipe.beam_offset_mm,
            };
            findings.push(Finding::new(problem).at_layers(first, last));
        }
        if let Some((first, last)) = self.lost_layers.layers() {
            let problem = LayerProblem::ThinWallsLost {
                length_mm: sums.lost_length_mm,
                area_mm2: sums.lost_area_mm2,
                exposed: exposed(&recipe.thin_walls),
            };
            let mut finding = Finding::new(problem).at_layers(first, last);
            finding.place.point_mm = self.largest_lost.map(|(_, at)| at);
            findings.push(finding);
        }
        if let (Some((first, last)), Some((why, at))) = (self.failed_layers.layers(), &self.failure)
        {
            let finding = Finding::new(LayerProblem::CentrelinesFailed { why: why.clone() });
            findings.push(finding.at_layers(first, last).at_point(*at));
        }
        findings
    }
}

/// What the recipe does expose of thin walls, in words.
fn exposed(policy: &Policy) -> String {
    match policy {
        Policy::Expose { min_length_mm, min_width_mm, .. } => {
            format!("walls at least {min_width_mm} mm wide and {min_length_mm} mm long")
        }
        Policy::Skip => "no wall thinner than twice the beam offset".to_owned(),
    }
}
