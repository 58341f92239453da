//! Whether marks come near enough to every point, asked at the points of a lattice.

use super::expected::{Required, TOLERANCE_NM, chord_tolerance_nm, facing_layers};
use super::hatch_sum;
use super::lattice::{Bits, Lattice};
use super::looked::Looked;
use super::outcome::{Check, Marks};
use super::pieces::pieces;
use base::NM_PER_MM;
use base::finding::{ContourBand, VectorsProblem};
use region::Region;
use slicing::Scratch;

/// Every point of a section is as near to a mark as the recipe makes it.
pub(super) fn check(check: &mut Check, region: &Region, marks: &Marks, scratch: &mut Scratch) {
    let Some(bounds) = region.bounds() else { return };
    let required = Required::new(check.recipe(), check.layer);
    let smallest = [required.rim, required.hatch]
        .into_iter()
        .filter(|d| *d > TOLERANCE_NM)
        .fold(f64::INFINITY, f64::min);
    if !smallest.is_finite() {
        return; // neither contours nor hatch in this layer
    }
    let lattice = Lattice::new(bounds, smallest / 3.0);
    let inside = lattice.inside(region);
    let looked = Looked { lattice, region, marks, inside };
    check.outcome.points_tested += looked.inside.count();
    let rim = looked.inside.clone().and(&looked.shallower_than(required.offset));
    let body = looked.inside.clone().without(&rim);
    let shallow = looked.shallower_than(required.deep);
    if required.has_contours {
        let tolerance = chord_tolerance_nm(check.recipe());
        let bare = rim.without(&looked.near_marks(required.rim + tolerance));
        rim_faults(check, &looked, &bare, &body, &required);
        if required.has_hatch {
            let between = body.clone().and(&shallow);
            let bare = between.without(&looked.near_marks(required.contours + tolerance));
            let band = ContourBand::BeforeHatch;
            bare_points(check, &looked, &bare, |area_mm2| VectorsProblem::ContourMissing {
                area_mm2,
                band,
            });
        }
    }
    if required.has_hatch {
        hatch_faults(check, &looked, body.without(&shallow), &required, scratch);
        hatch_sum::check(check, &looked);
    }
}

/// Points deep inside have a line of the hatch near them.
fn hatch_faults(
    check: &mut Check,
    looked: &Looked,
    deep: Bits,
    required: &Required,
    scratch: &mut Scratch,
) {
    let borders = borders(check, looked, required.border, scratch);
    let within = deep.clone().without(&borders).without(&looked.near_marks(required.hatch));
    let between = deep.and(&borders).without(&looked.near_marks(required.border));
    for (bare, at_border) in [(within, false), (between, true)] {
        bare_points(check, looked, &bare, |area_mm2| VectorsProblem::HatchMissing {
            area_mm2,
            at_border,
        });
    }
}

/// A fault at the first of the points, if there are any; its size is that of them all.
fn bare_points(
    check: &mut Check,
    looked: &Looked,
    bare: &Bits,
    problem: impl Fn(f64) -> VectorsProblem,
) {
    if let Some((column, row)) = bare.points().next() {
        let area_mm2 = bare.count() as f64 * looked.point_mm2();
        check.fault(looked.lattice.position(column, row), problem(area_mm2));
    }
}

/// The bands along which core, up-facing and down-facing regions meet.
fn borders(check: &Check, looked: &Looked, breadth: f64, scratch: &mut Scratch) -> Bits {
    let (lattice, inside, layer) = (&looked.lattice, &looked.inside, check.layer);
    let (below, above) = facing_layers(check.recipe());
    let mut facing = |layers: &mut dyn Iterator<Item = Option<u32>>| {
        layers.fold(lattice.empty(), |powder, layer| {
            let fused = |layer| check.build.fused(check.row, layer, scratch);
            let under = layer.map_or_else(Region::empty, fused);
            powder.or(&inside.clone().without(&lattice.inside(&under)))
        })
    };
    let down = facing(&mut (1..=below).map(|n| layer.checked_sub(n)));
    let up = facing(&mut (1..=above).map(|n| layer.checked_add(n))).without(&down);
    let core = inside.clone().without(&down).without(&up);
    let [down, up, core] = [down, up, core].map(|bits| lattice.grown(&bits, breadth));
    down.clone().and(&up).or(&down.and(&core)).or(&up.and(&core))
}

/// Sorts bare points of the rim into faults and walls that the recipe leaves out.
fn rim_faults(check: &mut Check, looked: &Looked, bare: &Bits, body: &Bits, required: &Required) {
    let lattice = &looked.lattice;
    let mut thin = bare.clone();
    for (column, row) in bare.points() {
        // Some disc of the offset's radius holds the point: the contour had to come by.
        if lattice.any_within(body, column, row, required.offset) {
            thin.clear(column, row);
        }
    }
    let missing = bare.clone().without(&thin);
    let band = ContourBand::AlongBoundary;
    bare_points(check, looked, &missing, |area_mm2| VectorsProblem::ContourMissing {
        area_mm2,
        band,
    });
    check.outcome.thin_unexposed_mm2 += thin.count() as f64 * looked.point_mm2();
    let Some((min_length, min_width)) = required.thin_min else { return };
    // What lies deeper than half the least width belongs to a wall that is wide enough.
    let wide = thin.without(&looked.shallower_than(min_width / 2.0 + TOLERANCE_NM));
    for piece in pieces(lattice, wide) {
        // Both ends of a wall may stay bare by its half width, and by the rim's reach where
        // it joins something thicker.
        if piece.extent_nm > min_length + 4.0 * required.offset + 2.0 * lattice.pitch_nm() {
            let reach_mm = piece.extent_nm / NM_PER_MM;
            check.fault(piece.at_nm, VectorsProblem::CentrelineMissing { reach_mm });
        }
    }
}
