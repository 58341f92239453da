//! Walls of many widths, from a mesh to the predicted outline: melted through, on size, not burnt.
//!
//! The dose is that of a Gaussian beam in closed form, which `estimate` checks against the literature and
//! scipy. The whole ladder is an example, `wall_ladder`; this is every few rungs of it.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod ladder;

use ladder::{Rung, Shape, climb, recipe};

/// Nowhere does a wall get more than this, as a multiple of the hatch's mean dose.
const MOST: f64 = 1.85;

#[test]
fn walls_are_melted_through_on_size_and_not_burnt() {
    let shapes = [0.0, 22.5, 82.5].map(Shape::Straight).into_iter().chain([Shape::Curved(3.0)]);
    let shapes: Vec<Shape> = shapes.collect();
    for name in ["pa12", "pa11", "tpu"] {
        let recipe = recipe(name);
        for width in [0.2, 0.25, 0.35, 0.5, 0.6, 0.75, 0.95, 1.0, 1.15, 1.4, 1.7, 2.15, 3.0] {
            for &shape in &shapes {
                let Rung { melted_mm: [narrow, wide], least, most, core } =
                    climb(&recipe, shape, width);
                let what = format!("{name}, {width} mm, {shape:?}");
                assert!(least >= 1.0, "{what}: {least} of the threshold");
                assert!(narrow > width - 0.02 && wide < width + 0.02, "{what}: {narrow} … {wide}");
                assert!(most < MOST, "{what}: {most} times the hatch's mean");
                if width >= 1.0 {
                    assert!(core[0] > 0.8 && core[1] < 1.2, "{what}: {core:?} of the mean");
                }
            }
        }
    }
}
