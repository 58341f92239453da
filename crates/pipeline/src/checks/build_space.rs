//! Whether placements lie inside the build space, and whether there is anything to build.

use base::Finding;
use base::finding::{JobProblem, MotionProblem};
use job::Machine;

/// A finding if the bounds of a placement, mm, leave the build space.
pub(crate) fn outside_build_space(
    machine: &Machine,
    (low, high): ([f64; 3], [f64; 3]),
) -> Option<Finding> {
    let build_space_mm = machine.build_space_mm;
    let [width, depth, height] = build_space_mm;
    let space = ([-width / 2.0, -depth / 2.0, 0.0], [width / 2.0, depth / 2.0, height]);
    let over = over(space, (low, high));
    let problem = |over| JobProblem::OutsideBuildSpace { over, build_space_mm };
    (!over.is_empty()).then(|| Finding::new(problem(over)))
}

/// A finding if the bounds of a placement, mm, leave what the mirrors can reach, as far as the machine says it.
pub(crate) fn outside_field(
    machine: &Machine,
    (low, high): ([f64; 3], [f64; 3]),
) -> Option<Finding> {
    let field_mm = machine.head.as_ref()?.field_size_mm;
    let [width, depth] = field_mm;
    let space = ([-width / 2.0, -depth / 2.0, low[2]], [width / 2.0, depth / 2.0, high[2]]);
    let over = over(space, (low, high));
    (!over.is_empty()).then(|| Finding::new(MotionProblem::OutsideField { over, field_mm }))
}

/// By how much bounds leave a space, mm, and where, in words.
fn over(space: ([f64; 3], [f64; 3]), (low, high): ([f64; 3], [f64; 3])) -> Vec<String> {
    /// A thousandth of a nanometre: what adding up a few numbers may lose.
    const ROUNDING_MM: f64 = 1e-9;
    let mut over = Vec::new();
    for (k, axis) in ["X", "Y", "Z"].into_iter().enumerate() {
        for (reach, sign) in [(space.0[k] - low[k], '-'), (high[k] - space.1[k], '+')] {
            if reach > ROUNDING_MM {
                over.push(format!("{reach:.3} mm at {sign}{axis}"));
            }
        }
    }
    over
}

/// A finding if a build has no layer.
pub(crate) fn nothing_to_build(layer_count: u32) -> Option<Finding> {
    (layer_count == 0).then(|| Finding::new(JobProblem::NothingToBuild))
}
