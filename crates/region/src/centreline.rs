//! Centrelines: single exposures along the middle of walls too thin for contours.
//!
//! Outline (exact integers), its edges that may bound thin walls ([`facing`]) → medial axis below the beam offset ([`axis`]) → twigs removed
//! ([`prune`]) → chained over junctions ([`chain`]) → simplified, cut at the least width, filtered
//! and ordered ([`mod@line`]).

mod axis;
mod chain;
mod facing;
mod line;
mod outline;
mod prune;

use crate::Region;
use base::Point;
use outline::Outline;

/// Which walls get a centreline, and how exact it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CentrelineOptions {
    /// Half width from which on contours do the work, nm: the beam offset. Only where a wall's
    /// half width is below this is there a centreline.
    pub max_half_width_nm: i32,
    /// Walls with a smaller half width are not exposed but reported, nm.
    pub min_half_width_nm: i32,
    /// Shorter lines are not exposed but counted, nm.
    pub min_length_nm: i32,
    /// How far a line and its half widths may lie from the medial axis of the outline, nm. Half
    /// of it is spent on the outline (detail below it is noise, and costs time), a quarter each
    /// on parabolic arcs and on leaving out points.
    pub chord_tolerance_nm: u32,
}

/// The middle of one wall.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Centreline {
    /// The polyline; at least two points, neighbours differ.
    pub points: Vec<Point>,
    /// Distance from each point to the boundary, nm; one per point. Linear in between.
    pub half_widths_nm: Vec<i32>,
    /// Whether this is a ring; then the last point equals the first.
    pub closed: bool,
}

impl Centreline {
    /// Length along the polyline, nm.
    pub fn length_nm(&self) -> f64 {
        self.points.windows(2).map(|pair| pair[0].distance(pair[1])).sum()
    }
}

/// What [`centrelines`] found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Centrelines {
    /// To be exposed.
    pub lines: Vec<Centreline>,
    /// Stretches of at least the least length that are narrower than the least half width: the
    /// part is there, the exposure is not.
    pub too_thin: Vec<Centreline>,
    /// Stretches that were left out because they are shorter than the least length: ends of sharp
    /// wedges, and dots, which have no length at all.
    pub too_short_count: usize,
    /// Length of these together, nm.
    pub too_short_length_nm: f64,
    /// Islands without centrelines, because their outline could not be worked on.
    pub failures: Vec<CentrelineError>,
}

/// Why an island has no centrelines.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CentrelineError {
    /// The island is not proper.
    #[error(
        "two edges cross near ({x}, {y}) nm, so the walls there have no middle; unite the region \
         first",
        x = at.x, y = at.y
    )]
    EdgesCross {
        /// An end of one of the edges.
        at: Point,
    },
    /// The Voronoi diagram of a proper outline could not be built.
    #[error("the medial axis of the {edges} edges around ({x}, {y}) nm was not found: {why}",
        x = at.x, y = at.y
    )]
    NoDiagram {
        /// A point of the island.
        at: Point,
        /// Number of edges.
        edges: usize,
        /// The words of the diagram's builder.
        why: String,
    },
}

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
///   a body or to the bumps of a noisy outline, are dropped: a point of the axis absorbs a twig
///   if its disc, enlarged by 1/sin 35° = 1.74, covers it. Hence corners of 70° and more of a
///   body are not thin walls. What little is left of low steps, `min_length_nm` drops.
/// * **Junctions.** The straightest pairs of branches become one line each, a branch left over
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
        let outline = outline::outline(&island, options);
        if let Err(failure) = outline.and_then(|outline| add_lines(&outline, options, &mut found)) {
            found.failures.push(failure);
        }
    }
    found.lines.sort_unstable();
    found.too_thin.sort_unstable();
    found
}

fn add_lines(
    outline: &Outline,
    options: &CentrelineOptions,
    found: &mut Centrelines,
) -> Result<(), CentrelineError> {
    let mut axis = axis::medial_axis(outline, options)?;
    found.too_short_count += prune::drop_twigs(&mut axis);
    for path in chain::chains(&axis) {
        line::collect(&path, options, found);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines with and without the edges that are thought not to bound thin walls: slots, teeth and
    /// steps at all angles and distances.
    #[test]
    fn edges_left_away_do_not_change_the_lines() {
        let mut seed = 7_u32;
        let mut random = |below: i32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes
            i32::try_from(seed >> 16).unwrap_or(0) * below / 65_536
        };
        let (mut left_away, mut lines) = (0, 0);
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
            let mut outline = outline::outline(&region, &options).unwrap();
            let mut few = Centrelines::default();
            add_lines(&outline, &options, &mut few).unwrap();
            left_away += outline.rest.len();
            outline.edges.append(&mut outline.rest);
            let mut all = Centrelines::default();
            add_lines(&outline, &options, &mut all).unwrap();
            all.lines.sort_unstable();
            few.lines.sort_unstable();
            assert_eq!(few.lines, all.lines);
            lines += all.lines.len();
        }
        assert!(left_away > 500 && lines > 1_000, "{left_away} {lines}");
    }
}
