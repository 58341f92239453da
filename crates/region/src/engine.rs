//! The one door to the general polygon engine, `i_overlay`; no other file knows its types.
//!
//! It works on integers within ±2³⁰, which every [`Point`] fulfils. What may leave the grid on the
//! way (a raw offset curve) goes through its 64-bit form and is clipped to the grid.

use base::{GRID_LIMIT_NM, Point};
use i_overlay::core::fill_rule::FillRule as EngineRule;
use i_overlay::core::overlay::{Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;
use i_overlay::i_shape::flat::buffer::FlatContoursBuffer;

use crate::boolean::FillRule;
use crate::region::Region;

/// A boolean operation of two regions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Operation {
    Union,
    Intersection,
    Xor,
}

/// Rings resolved by winding number.
pub(crate) fn resolve<'a>(rings: impl Iterator<Item = &'a [Point]>, rule: FillRule) -> Region {
    let mut overlay = Overlay::<i32>::new(0);
    add(&mut overlay, rings, ShapeType::Subject);
    let rule = match rule {
        FillRule::Positive => EngineRule::Positive,
        FillRule::NonZero => EngineRule::NonZero,
        FillRule::EvenOdd => EngineRule::EvenOdd,
    };
    let mut output = FlatContoursBuffer::default();
    overlay.overlay_into(OverlayRule::Subject, rule, &mut output);
    collect(&output)
}

/// Two proper regions combined.
pub(crate) fn combine(a: &Region, b: &Region, operation: Operation) -> Region {
    let mut overlay = Overlay::<i32>::new(a.points().len() + b.points().len());
    add(&mut overlay, a.rings(), ShapeType::Subject);
    add(&mut overlay, b.rings(), ShapeType::Clip);
    let rule = match operation {
        Operation::Union => OverlayRule::Union,
        Operation::Intersection => OverlayRule::Intersect,
        Operation::Xor => OverlayRule::Xor,
    };
    let mut output = FlatContoursBuffer::default();
    overlay.overlay_into(rule, EngineRule::Positive, &mut output);
    collect(&output)
}

/// Rings in 64-bit nm, resolved by positive winding number and clipped to the grid.
pub(crate) fn resolve_wide(rings: &[Vec<[i64; 2]>]) -> Region {
    let mut overlay = Overlay::<i64>::new(rings.iter().map(Vec::len).sum());
    for ring in rings {
        let points = ring.iter().map(|&[x, y]| IntPoint::new(x, y));
        overlay.add_path_iter(points, ShapeType::Subject);
    }
    let m = i64::from(GRID_LIMIT_NM) - 1;
    let grid = [[-m, -m], [m, -m], [m, m], [-m, m]];
    overlay.add_path_iter(grid.iter().map(|&[x, y]| IntPoint::new(x, y)), ShapeType::Clip);
    let mut output = FlatContoursBuffer::default();
    overlay.overlay_into(OverlayRule::Intersect, EngineRule::Positive, &mut output);
    let mut region = Region::empty();
    let mut ring = Vec::new();
    #[expect(clippy::cast_possible_truncation, reason = "clamped on the line before")]
    let narrow = |c: i64| c.clamp(-m, m) as i32;
    for range in output.ranges {
        ring.clear();
        ring.extend(output.points[range].iter().map(|p| Point::new(narrow(p.x), narrow(p.y))));
        region.push_ring(&ring);
    }
    region
}

fn add<'a>(
    overlay: &mut Overlay<i32>,
    rings: impl Iterator<Item = &'a [Point]>,
    shape_type: ShapeType,
) {
    for ring in rings {
        overlay.add_path_iter(ring.iter().map(|p| IntPoint::new(p.x, p.y)), shape_type);
    }
}

fn collect(output: &FlatContoursBuffer<i32>) -> Region {
    let mut region = Region::empty();
    region.reserve(output.points.len(), output.ranges.len());
    let mut ring = Vec::new();
    for range in &output.ranges {
        ring.clear();
        ring.extend(output.points[range.clone()].iter().map(|p| Point::new(p.x, p.y)));
        region.push_ring(&ring);
    }
    region
}
