//! Where marks are and run: inside the section, deep enough, along the lines of the hatch.

use super::boundary::Boundary;
use super::expected::{Rule, TOLERANCE_NM, rule};
use super::outcome::{Check, Marks};
use base::Point;
use base::finding::VectorsProblem;
use scan_path::ExposureKind;

/// No mark leaves the section.
pub(super) fn stay_inside(check: &mut Check, boundary: &Boundary, marks: &Marks) {
    let mut outside = 0_u64;
    let mut first = None;
    for (a, b) in marks.segments(None) {
        let place = if boundary.is_outside(a, TOLERANCE_NM) {
            Some(position(a))
        } else if boundary.is_outside(b, TOLERANCE_NM) {
            Some(position(b))
        } else {
            boundary.crossing(a, b, TOLERANCE_NM)
        };
        if let Some(place) = place {
            outside += 1;
            first.get_or_insert(place);
        }
    }
    if let Some(place) = first {
        check.fault(place, VectorsProblem::MarkOutside { marks: outside });
    }
}

/// Contours and hatch keep their depth; hatch lies on the lines of its angle and spacing, which are
/// anchored at `(k + ½) · spacing` from the origin of the build space.
pub(super) fn follow_the_recipe(check: &mut Check, boundary: &Boundary, marks: &Marks) {
    let recipe = check.recipe();
    let spreading = check.build.loaded.machine.spreading_direction_deg;
    let [mut shallow, mut astray, mut off_line] = [const { Vec::<Point>::new() }; 3];
    for block in &marks.blocks {
        let rule = rule(recipe, block.region, check.layer, spreading);
        let is_hatch = block.kind == ExposureKind::Hatch;
        let depth = match block.kind {
            ExposureKind::Contour => rule.contour_depth,
            ExposureKind::Hatch => rule.hatch_depth,
            ExposureKind::Centreline => continue, // thinner than the offset by nature
        };
        for mark in block.paths.iter().flat_map(|path| path.windows(2)) {
            let (a, b) = (mark[0], mark[1]);
            if boundary.is_shallow(a, b, depth) {
                shallow.push(a);
            }
            match is_hatch.then(|| hatch_position(a, b, &rule)) {
                Some(HatchPosition::WrongDirection) => astray.push(a),
                Some(HatchPosition::OffLine) => off_line.push(a),
                Some(HatchPosition::OnLine) | None => {}
            }
        }
    }
    let count = |points: &[Point]| points.len() as u64;
    let problems = [
        (&shallow, VectorsProblem::MarkShallow { marks: count(&shallow) }),
        (&astray, VectorsProblem::HatchAstray { marks: count(&astray) }),
        (&off_line, VectorsProblem::HatchSpacing { marks: count(&off_line) }),
    ];
    for (at, problem) in problems {
        if let Some(first) = at.first() {
            check.fault(position(*first), problem);
        }
    }
}

/// How a hatch mark lies to the lines of the hatch.
enum HatchPosition {
    OnLine,
    /// It does not run along them.
    WrongDirection,
    /// It runs beside them.
    OffLine,
}

fn hatch_position(a: Point, b: Point, rule: &Rule) -> HatchPosition {
    let (dx, dy) = (f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y));
    // Ends are rounded to the grid: at most 1 nm off the line at each.
    let along = rule.directions.iter().find(|(sin, cos)| (dx * sin - dy * cos).abs() <= 4.0);
    let Some((sin, cos)) = along else { return HatchPosition::WrongDirection };
    let Some(spacing) = rule.spacing else { return HatchPosition::OnLine };
    let across = f64::from(a.y) * cos - f64::from(a.x) * sin;
    if ((across / spacing).rem_euclid(1.0) - 0.5).abs() * spacing > TOLERANCE_NM {
        HatchPosition::OffLine
    } else {
        HatchPosition::OnLine
    }
}

fn position(point: Point) -> [f64; 2] {
    [f64::from(point.x), f64::from(point.y)]
}
