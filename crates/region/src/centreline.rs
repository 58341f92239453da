//! Centrelines: single exposures along the middle of walls too thin for contours.
//!
//! Boundary (exact integers, [`boundary`]), its edges that may bound thin walls ([`facing`]) → the Voronoi
//! edges between them ([`cells`]: the lower [`envelope`] of what is [`nearby`]) → medial axis below the
//! beam offset ([`axis`], its pieces are [`curve`]s) → twigs removed ([`prune`]) →
//! chained over junctions ([`chain`]) → simplified, cut at the least width, filtered and ordered
//! ([`mod@line`]).

mod axis;
mod boundary;
mod cells;
mod chain;
mod curve;
mod envelope;
mod facing;
mod line;
mod nearby;
mod plane;
mod prune;
mod simplify;
mod types;

use crate::Region;
use boundary::Boundary;
pub use types::{Centreline, CentrelineError, CentrelineOptions, Centrelines};

/// Finds the centrelines of all walls of a proper region that are thinner than twice
/// `max_half_width_nm`.
///
/// | argument | shape, unit                                                                |
/// |----------|----------------------------------------------------------------------------|
/// | `region` | proper, nm; whole islands, so that fins are seen with the body they grow on |
/// | returns  | polylines, nm, with a half width at every point                            |
///
/// The lines follow the medial axis where its clearance is below `max_half_width_nm`.
///
/// * **Ends.** A wall ends in a blunt cap: the line stops where the cap is as far as the sides,
///   so a melt as wide as the wall just reaches it. In a sharp tip (below 70°) the line goes on
///   to the least half width. At a thick body it begins inside the body where the clearance
///   reaches the maximum, which is where the contours' reach begins.
/// * **Twigs** of the medial axis that add little to the shape, such as those into the corners of
///   a body or to the bumps of a noisy boundary, are dropped: a point of the axis absorbs a twig
///   if its disc, enlarged by 1/sin 35° = 1.74, covers it. Hence corners of 70° and more of a
///   body are not thin walls. What little is left of low steps, `min_length_nm` drops.
/// * **Junctions.** The straightest pairs of branches become one line each, a branch without a partner
///   ends on them. Every stretch is in one line only, save bridges between junctions closer
///   than half their clearance, where two lines may share the way.
/// * **Order.** Open lines start at their smaller end (by x, then y); rings at their smallest point,
///   counter-clockwise. Lines are sorted by their points. The result does not depend on the order
///   of the rings, nor on which of its points a ring starts with, except by the rounding and
///   simplification that the tolerance allows.
///
/// Never panics. O(n log n) for n points.
pub fn centrelines(region: &Region, options: &CentrelineOptions) -> Centrelines {
    let mut found = Centrelines::default();
    if options.max_half_width_nm <= 0 {
        return found;
    }
    for island in region.islands() {
        match Boundary::of(&island, options) {
            Ok(boundary) => add_lines(&boundary, options, &mut found),
            Err(failure) => found.failures.push(failure),
        }
    }
    found.lines.sort_unstable();
    found.too_thin.sort_unstable();
    found
}

fn add_lines(boundary: &Boundary, options: &CentrelineOptions, found: &mut Centrelines) {
    let mut axis = axis::medial_axis(boundary, options);
    found.too_short_count += prune::drop_twigs(&mut axis);
    for path in chain::chains(&axis) {
        line::collect(&path, options, found);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::Point;

    /// Lines with and without the edges that are thought not to bound thin walls: slots, teeth and
    /// steps at all angles and distances.
    #[test]
    fn edges_left_out_do_not_change_the_lines() {
        let mut seed = 7_u32;
        let mut random = |below: i32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes
            i32::try_from(seed >> 16).unwrap_or(0) * below / 65_536
        };
        let (mut left_out, mut lines) = (0, 0);
        for round in 0..200 {
            // A body whose upper side goes up and down at random.
            let mut ring = vec![Point::new(0, -5_000), Point::new(40_000, -5_000)];
            let mut x = 40_000;
            while x > 1_000 {
                ring.push(Point::new(x, random(3_000)));
                x -= 50 + random(if round % 2 == 0 { 800 } else { 8_000 });
            }
            let region = Region::from_proper_rings([ring]);
            let options = CentrelineOptions {
                max_half_width_nm: 200 + random(600),
                min_half_width_nm: 50,
                min_length_nm: 300,
                chord_tolerance_nm: 4,
            };
            let mut boundary = Boundary::of(&region, &options).unwrap();
            let mut few = Centrelines::default();
            add_lines(&boundary, &options, &mut few);
            left_out += boundary.rest.len();
            boundary.edges.append(&mut boundary.rest);
            let mut all = Centrelines::default();
            add_lines(&boundary, &options, &mut all);
            all.lines.sort_unstable();
            few.lines.sort_unstable();
            assert_eq!(few.lines, all.lines);
            lines += all.lines.len();
        }
        assert!(left_out > 500 && lines > 1_000, "{left_out} {lines}");
    }
}
