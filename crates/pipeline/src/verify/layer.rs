//! One layer against the job.

use super::boundary::Boundary;
use super::expected::{
    Promise, TOLERANCE_NM, chord_tolerance_nm, facing_layers, hatch_depth, rule,
};
use super::lattice::{Bits, Lattice, edges};
use crate::build::Build;
use base::{Finding, NM_PER_MM, Point, Severity};
use region::Region;
use scan_path::{Block, ExposureKind, Layer};
use slicing::Scratch;

/// What one layer's check found.
#[derive(Clone, Debug, Default)]
pub(super) struct Outcome {
    pub(super) findings: Vec<Finding>,
    pub(super) points_tested: u64,
    pub(super) thin_unexposed_mm2: f64,
}

/// The marks of one placement in one layer.
struct Marks<'a> {
    blocks: Vec<&'a Block>,
}

impl Marks<'_> {
    fn segments(&self, kind: Option<ExposureKind>) -> impl Iterator<Item = (Point, Point)> {
        self.blocks
            .iter()
            .filter(move |block| kind.is_none_or(|kind| block.kind == kind))
            .flat_map(|block| block.paths.iter())
            .flat_map(|path| path.windows(2).map(|mark| (mark[0], mark[1])))
    }
}

/// Checks every placement's marks in one layer, and that no mark belongs to none.
pub(super) fn check(build: &Build, layer: &Layer, scratch: &mut Scratch) -> Outcome {
    let mut outcome = Outcome::default();
    let mut by_placement: Vec<Marks> =
        (0..build.placed.len()).map(|_| Marks { blocks: Vec::new() }).collect();
    for block in &layer.blocks {
        match by_placement.get_mut(block.placement as usize) {
            Some(marks) => marks.blocks.push(block),
            None => outcome.fault(
                layer.index,
                None,
                None,
                "unknown_placement",
                format!(
                    "A block names placement {}, which the job does not have.",
                    block.placement
                ),
            ),
        }
    }
    for (placement, marks) in by_placement.iter().enumerate() {
        let region = build.fused(placement, layer.index, scratch);
        if region.is_empty() && marks.blocks.is_empty() {
            continue;
        }
        let mut check = Check { build, layer: layer.index, placement, outcome: &mut outcome };
        let boundary = Boundary::new(&region);
        check.marks_stay_inside(&boundary, marks);
        check.marks_follow_the_recipe(&boundary, marks);
        check.everything_is_covered(&region, marks, scratch);
    }
    outcome
}

impl Outcome {
    fn fault(
        &mut self,
        layer: u32,
        placement: Option<u32>,
        point_mm: Option<[f64; 3]>,
        kind: &str,
        sentence: String,
    ) {
        let mut finding = Finding::new(Severity::Stop, kind, sentence).at_layers(layer, layer);
        finding.place.placement = placement;
        finding.place.point_mm = point_mm;
        self.findings.push(finding);
    }
}

struct Check<'a> {
    build: &'a Build,
    layer: u32,
    placement: usize,
    outcome: &'a mut Outcome,
}

impl Check<'_> {
    fn fault(&mut self, at_nm: [f64; 2], kind: &str, sentence: String) {
        let z = (f64::from(self.layer) + 0.5) * self.build.header.layer_thickness_mm;
        let point = [at_nm[0] / NM_PER_MM, at_nm[1] / NM_PER_MM, z];
        let placement = u32::try_from(self.placement).unwrap_or(u32::MAX);
        self.outcome.fault(self.layer, Some(placement), Some(point), kind, sentence);
    }

    fn marks_stay_inside(&mut self, boundary: &Boundary, marks: &Marks) {
        let mut outside = 0_u64;
        let mut first = None;
        for (a, b) in marks.segments(None) {
            let place = if boundary.is_outside(a, TOLERANCE_NM) {
                Some([f64::from(a.x), f64::from(a.y)])
            } else if boundary.is_outside(b, TOLERANCE_NM) {
                Some([f64::from(b.x), f64::from(b.y)])
            } else {
                boundary.crossing(a, b, TOLERANCE_NM)
            };
            if let Some(place) = place {
                outside += 1;
                first.get_or_insert(place);
            }
        }
        if let Some(place) = first {
            let sentence = format!("{outside} marks leave the part's section.");
            self.fault(place, "mark_outside", sentence);
        }
    }

    /// Contours and hatch keep their depth; hatch lies on the lines of its angle and spacing,
    /// which are anchored at `(k + ½) · spacing` from the origin of the build space.
    fn marks_follow_the_recipe(&mut self, boundary: &Boundary, marks: &Marks) {
        let recipe = self.build.recipe(&self.build.placed[self.placement]);
        let spreading = self.build.loaded.machine.spreading_direction_deg;
        let mut shallow: Vec<Point> = Vec::new();
        let mut astray: Vec<Point> = Vec::new();
        let mut off_line: Vec<Point> = Vec::new();
        for block in &marks.blocks {
            let rule = rule(recipe, block.region, self.layer, spreading);
            let is_hatch = block.kind == ExposureKind::Hatch;
            let depth = match block.kind {
                ExposureKind::Contour => rule.contour_depth,
                ExposureKind::Hatch => rule.hatch_depth,
                ExposureKind::Centreline => continue, // thinner than the offset by nature
            };
            for path in block.paths.iter() {
                for mark in path.windows(2) {
                    let (a, b) = (mark[0], mark[1]);
                    if boundary.is_shallow(a, b, depth) {
                        shallow.push(a);
                    }
                    if !is_hatch {
                        continue;
                    }
                    let (dx, dy) =
                        (f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y));
                    // Ends are rounded to the grid: at most 1 nm off the line at each.
                    let along = rule
                        .directions
                        .iter()
                        .find(|(sin, cos)| (dx * sin - dy * cos).abs() <= 4.0);
                    let Some((sin, cos)) = along else {
                        astray.push(a);
                        continue;
                    };
                    let Some(spacing) = rule.spacing else { continue };
                    let across = f64::from(a.y) * cos - f64::from(a.x) * sin;
                    if ((across / spacing).rem_euclid(1.0) - 0.5).abs() * spacing > TOLERANCE_NM {
                        off_line.push(a);
                    }
                }
            }
        }
        for (at, kind, what) in [
            (shallow, "mark_shallow", "lie nearer to the boundary than the recipe says"),
            (astray, "hatch_astray", "of the hatch do not run along the layer's scan angle"),
            (
                off_line,
                "hatch_spacing",
                "of the hatch do not lie on the lines of the hatch spacing",
            ),
        ] {
            if let Some(first) = at.first() {
                let sentence = format!("{} marks {what}.", at.len());
                self.fault([f64::from(first.x), f64::from(first.y)], kind, sentence);
            }
        }
    }

    fn everything_is_covered(&mut self, region: &Region, marks: &Marks, scratch: &mut Scratch) {
        let Some(bounds) = region.bounds() else { return };
        let recipe = self.build.recipe(&self.build.placed[self.placement]);
        let promise = Promise::new(recipe, self.layer);
        let smallest = [promise.rim, promise.hatch]
            .into_iter()
            .filter(|d| *d > TOLERANCE_NM)
            .fold(f64::INFINITY, f64::min);
        if !smallest.is_finite() {
            return; // neither contours nor hatch in this layer
        }
        let lattice = Lattice::new(bounds, smallest / 3.0);
        let inside = lattice.inside(region);
        self.outcome.points_tested += inside.count();
        let shallower_than = |depth: f64| {
            let mut bits = lattice.empty();
            for (a, b) in region.rings().flat_map(edges) {
                lattice.add_stadium(&mut bits, a, b, depth);
            }
            bits
        };
        let near_marks = |reach: f64| {
            let mut bits = lattice.empty();
            for (a, b) in marks.segments(None) {
                lattice.add_stadium(&mut bits, a, b, reach);
            }
            bits
        };
        let rim = inside.clone().and(&shallower_than(promise.offset));
        let body = inside.clone().without(&rim);
        let shallow = shallower_than(promise.deep);
        if promise.has_contours {
            let tolerance = chord_tolerance_nm(recipe);
            let bare = rim.without(&near_marks(promise.rim + tolerance));
            self.rim_faults(&lattice, &bare, &body, &promise, &shallower_than);
            if promise.has_hatch {
                let between = body.clone().and(&shallow);
                let bare = between.without(&near_marks(promise.contours + tolerance));
                self.bare(&lattice, &bare, "contour_missing", "between contours and hatch");
            }
        }
        if promise.has_hatch {
            let deep = body.without(&shallow);
            let borders = self.borders(&lattice, &inside, promise.border, scratch);
            let bare = deep.clone().without(&borders).without(&near_marks(promise.hatch));
            self.bare(&lattice, &bare, "hatch_missing", "inside the hatched region");
            let bare = deep.and(&borders).without(&near_marks(promise.border));
            self.bare(&lattice, &bare, "hatch_missing", "where kinds of region meet");
            self.sum_of_marks(&lattice, region, &inside, marks);
        }
    }

    fn bare(&mut self, lattice: &Lattice, bare: &Bits, kind: &str, place: &str) {
        if let Some((column, row)) = bare.points().next() {
            let area = bare.count() as f64 * (lattice.pitch_nm() / NM_PER_MM).powi(2);
            let sentence = format!("About {area:.4} mm² {place} lie too far from any mark.");
            self.fault(lattice.position(column, row), kind, sentence);
        }
    }

    /// The bands along which core, up-facing and down-facing regions meet.
    fn borders(
        &self,
        lattice: &Lattice,
        inside: &Bits,
        breadth: f64,
        scratch: &mut Scratch,
    ) -> Bits {
        let recipe = self.build.recipe(&self.build.placed[self.placement]);
        let (below, above) = facing_layers(recipe);
        let mut facing = |layers: &mut dyn Iterator<Item = Option<u32>>| {
            layers.fold(lattice.empty(), |powder, layer| {
                let under = layer.map_or_else(Region::empty, |layer| {
                    self.build.fused(self.placement, layer, scratch)
                });
                powder.or(&inside.clone().without(&lattice.inside(&under)))
            })
        };
        let down = facing(&mut (1..=below).map(|n| self.layer.checked_sub(n)));
        let up = facing(&mut (1..=above).map(|n| self.layer.checked_add(n))).without(&down);
        let core = inside.clone().without(&down).without(&up);
        let [down, up, core] = [down, up, core].map(|bits| lattice.grown(&bits, breadth));
        down.clone().and(&up).or(&down.and(&core)).or(&up.and(&core))
    }

    /// Sorts bare points of the rim into faults and walls that the recipe leaves out.
    fn rim_faults(
        &mut self,
        lattice: &Lattice,
        bare: &Bits,
        body: &Bits,
        promise: &Promise,
        shallower_than: &dyn Fn(f64) -> Bits,
    ) {
        let mut thin = bare.clone();
        let mut faults = 0_u64;
        let mut first = None;
        for (column, row) in bare.points() {
            // Some disc of the offset's radius holds the point: the contour had to come by.
            if lattice.any_within(body, column, row, promise.offset) {
                thin.clear(column, row);
                faults += 1;
                first.get_or_insert((column, row));
            }
        }
        let point_mm2 = (lattice.pitch_nm() / NM_PER_MM).powi(2);
        if let Some((column, row)) = first {
            let area = faults as f64 * point_mm2;
            let sentence = format!(
                "About {area:.4} mm² along the boundary lie farther from any mark than the beam \
                 offset."
            );
            self.fault(lattice.position(column, row), "contour_missing", sentence);
        }
        self.outcome.thin_unexposed_mm2 += thin.count() as f64 * point_mm2;
        let Some((min_length, min_width)) = promise.thin_min else { return };
        // What lies deeper than half the least width belongs to a wall that is wide enough.
        let wide = thin.without(&shallower_than(min_width / 2.0 + TOLERANCE_NM));
        for piece in pieces(lattice, wide) {
            // Both ends of a wall may stay bare by its half width, and by the rim's reach where
            // it joins something thicker.
            if piece.extent_nm > min_length + 4.0 * promise.offset + 2.0 * lattice.pitch_nm() {
                let sentence = format!(
                    "A wall that reaches over {:.2} mm and is wide enough has no centreline.",
                    piece.extent_nm / NM_PER_MM
                );
                self.fault(piece.at_nm, "centreline_missing", sentence);
            }
        }
    }

    /// Σ hatch length × spacing against the hatched area, measured on the lattice.
    fn sum_of_marks(&mut self, lattice: &Lattice, region: &Region, inside: &Bits, marks: &Marks) {
        let recipe = self.build.recipe(&self.build.placed[self.placement]);
        if recipe.up_facing.is_some() || recipe.down_facing.is_some() {
            return; // several spacings; coverage has the say
        }
        let Some(hatch) = &recipe.core.hatch else { return };
        let depth = hatch_depth(recipe, &recipe.core);
        let mut hatched = inside.clone();
        let mut shallow = lattice.empty();
        let mut boundary_nm = 0.0;
        for (a, b) in region.rings().flat_map(edges) {
            lattice.add_stadium(&mut shallow, a, b, depth);
            boundary_nm += a.distance(b);
        }
        hatched = hatched.without(&shallow);
        let pitch = lattice.pitch_nm();
        let area = hatched.count() as f64 * pitch * pitch;
        let passes = hatch.exposures.len() as f64;
        let length: f64 =
            marks.segments(Some(ExposureKind::Hatch)).map(|(a, b)| a.distance(b)).sum();
        let spacing = hatch.spacing_mm * NM_PER_MM;
        let covered = length / passes * spacing;
        // The bound of a sum of chords, the lattice's own error, short lines left out, and
        // stripes or cells that reach into each other.
        let overlap = match hatch.pattern {
            job::recipe::Pattern::Lines => 0.0,
            job::recipe::Pattern::Stripes { width_mm, overlap_mm } => overlap_mm / width_mm,
            job::recipe::Pattern::Cells { size_mm, overlap_mm, .. } => {
                (1.0 + overlap_mm / size_mm).powi(2) - 1.0
            }
        };
        let short = hatch.min_length_mm * NM_PER_MM;
        let slack = boundary_nm * (spacing / 2.0 + pitch + short) + area * 1e-3;
        if covered > area * (1.0 + overlap) + slack || covered < area - slack {
            let mm2 = NM_PER_MM * NM_PER_MM;
            let sentence = format!(
                "Hatch length × spacing is {:.3} mm², but {:.3} mm² are to be hatched.",
                covered / mm2,
                area / mm2
            );
            let at = region.points().first().map_or([0.0; 2], |p| [f64::from(p.x), f64::from(p.y)]);
            self.fault(at, "hatch_sum", sentence);
        }
    }
}

/// A connected set of lattice points.
struct Piece {
    /// Diagonal of its bounding box, nm.
    extent_nm: f64,
    at_nm: [f64; 2],
}

/// Splits set points into pieces whose points touch, corners included.
fn pieces(lattice: &Lattice, mut bits: Bits) -> Vec<Piece> {
    let all: Vec<(usize, usize)> = bits.points().collect();
    let mut found = Vec::new();
    let mut queue = Vec::new();
    for &(column, row) in &all {
        if !bits.get(column, row) {
            continue; // taken by an earlier piece
        }
        bits.clear(column, row);
        queue.push((column, row));
        let (mut low, mut high) = ((column, row), (column, row));
        while let Some((c, r)) = queue.pop() {
            low = (low.0.min(c), low.1.min(r));
            high = (high.0.max(c), high.1.max(r));
            for (nc, nr) in lattice.neighbours(c, r) {
                if bits.get(nc, nr) {
                    bits.clear(nc, nr);
                    queue.push((nc, nr));
                }
            }
        }
        let extent = ((high.0 - low.0) as f64).hypot((high.1 - low.1) as f64);
        found.push(Piece {
            extent_nm: (extent + 1.0) * lattice.pitch_nm(),
            at_nm: lattice.position(column, row),
        });
    }
    found
}
