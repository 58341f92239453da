//! One island of a section: its insets, its narrow walls and what runs along them.

use crate::distance::distance_nm;
use crate::error::ExposeError;
use crate::place::Place;
use crate::polyline::Polyline;
use crate::walls::caps::{has_caps, lengthened};
use crate::walls::rules::Rules;
use crate::walls::stretches::stretches;
use base::{NM_PER_MM, Point};
use region::{
    Centreline, CentrelineOptions, Centrelines, Containment, Join, Region, centrelines, difference,
    inset, intersection, unreached,
};

/// How far a centreline may lie from the true middle, nm: far below any beam's width, and coarse
/// enough to leave out the noise of a triangulated surface.
const CHORD_TOLERANCE_NM: u32 = 5_000;

/// A line changes its energy no sooner than after this, nm: a tenth of a millimetre is below the
/// radius of any beam that sinters powder (common practice, no source).
pub(crate) const SHORTEST_STRETCH_NM: f64 = 100_000.0;

/// One island of the section and what was worked out about it so far.
pub(crate) struct Body {
    pub(crate) island: Region,
    pub(crate) join: Join,
    /// Insets by distance, nm.
    insets: Vec<(i32, Region)>,
    /// Insets less the walls that no disc holds, by distance and radius, nm.
    wide: Vec<((i32, i32), Region)>,
    /// Pieces too narrow for a disc, by its radius, nm.
    narrow: Vec<(i32, Region)>,
    /// Middles of the walls that are narrow for some strategy.
    middles: Centrelines,
    /// For each line of the middles, whether a blunt cap is ahead of its start and end.
    caps: Vec<[bool; 2]>,
}

impl Body {
    pub(crate) fn new(island: Region, join: Join) -> Self {
        Self {
            island,
            join,
            insets: Vec::new(),
            wide: Vec::new(),
            narrow: Vec::new(),
            middles: Centrelines::default(),
            caps: Vec::new(),
        }
    }

    /// The island inset by a distance.
    pub(crate) fn inset(&mut self, distance_nm: i32) -> &Region {
        let known = self.insets.iter().position(|(known, _)| *known == distance_nm);
        let index = known.unwrap_or_else(|| {
            self.insets.push((distance_nm, inset(&self.island, distance_nm, self.join)));
            self.insets.len() - 1
        });
        &self.insets[index].1
    }

    /// The walls of the island that no disc of this radius holds. A wall has a middle; what is left of
    /// corners has none.
    pub(crate) fn narrow(&mut self, radius_nm: i32) -> &Region {
        let known = self.narrow.iter().position(|(known, _)| *known == radius_nm);
        let index = known.unwrap_or_else(|| {
            let nothing_wider =
                |(radius, narrow): &(i32, Region)| *radius >= radius_nm && narrow.is_empty();
            let found = if self.narrow.iter().any(nothing_wider) {
                Region::empty()
            } else {
                self.walls(radius_nm)
            };
            self.narrow.push((radius_nm, found));
            self.narrow.len() - 1
        });
        &self.narrow[index].1
    }

    fn walls(&self, radius_nm: i32) -> Region {
        let all = || self.middles.lines.iter().chain(&self.middles.too_thin);
        if all().all(|middle| middle.half_widths_nm.iter().all(|half| *half >= radius_nm)) {
            return Region::empty();
        }
        let pieces = unreached(&self.island, radius_nm).islands();
        let width = 2.0 * f64::from(radius_nm);
        let mut inside: Vec<Point> = Vec::new();
        for middle in all() {
            for stretch in stretches(middle, 0.0, |w| w < width).into_iter().filter(|s| s.what) {
                inside.extend(&stretch.line.points);
                inside.extend(stretch.line.points.windows(2).map(|ends| {
                    let [a, b] = [ends[0], ends[1]];
                    Point::new(i32::midpoint(a.x, b.x), i32::midpoint(a.y, b.y))
                }));
            }
        }
        let mut walls = Region::empty();
        for piece in &pieces {
            let Some((low, high)) = piece.bounds() else { continue };
            let holds = |p: &Point| {
                (low.x..=high.x).contains(&p.x)
                    && (low.y..=high.y).contains(&p.y)
                    && piece.contains(*p) == Containment::Inside
            };
            if inside.iter().any(holds) {
                walls.append(piece);
            }
        }
        walls
    }

    /// Finds the middles of walls below a width that are at least so long and wide. Call once, before
    /// what needs them.
    pub(crate) fn find_middles(
        &mut self,
        width_nm: i32,
        (min_length_mm, min_width_mm): (f64, f64),
    ) -> Result<(), ExposeError> {
        let found = centrelines(
            &self.island,
            &CentrelineOptions {
                max_half_width_nm: width_nm / 2,
                min_half_width_nm: distance_nm("a least width of thin walls", min_width_mm / 2.0)?,
                min_length_nm: distance_nm("a least length of centrelines", min_length_mm)?,
                chord_tolerance_nm: CHORD_TOLERANCE_NM,
            },
        );
        self.caps = has_caps(&found.lines, &self.island);
        self.middles = found;
        Ok(())
    }

    /// The middles of narrow walls.
    pub(crate) fn middles(&self) -> &Centrelines {
        &self.middles
    }

    /// The lines along the middles, each with whether a blunt cap is ahead of its start and end.
    pub(crate) fn lines(&self) -> impl Iterator<Item = (&Centreline, [bool; 2])> {
        self.middles.lines.iter().zip(self.caps.iter().copied())
    }

    /// The inset by a distance, less the walls that no disc of a radius holds.
    pub(crate) fn wide(&mut self, distance_nm: i32, radius_nm: i32) -> &Region {
        let key = (distance_nm, radius_nm);
        let known = self.wide.iter().position(|(known, _)| *known == key);
        let index = known.unwrap_or_else(|| {
            let within_inset = radius_nm <= distance_nm;
            let walls = if within_inset { Region::empty() } else { self.narrow(radius_nm).clone() };
            let inside = self.inset(distance_nm);
            let wide = if walls.is_empty() { inside.clone() } else { difference(inside, &walls) };
            self.wide.push((key, wide));
            self.wide.len() - 1
        });
        &self.wide[index].1
    }

    /// What lies inside a ring: the inset, less the walls too narrow for this ring.
    pub(crate) fn ring_region(&mut self, ring: usize, rules: &Rules) -> &Region {
        self.wide(rules.depth(ring), rules.ring_from_width(ring) / 2)
    }

    /// The narrow walls of a strategy, in `within` if that is given.
    pub(crate) fn narrow_walls(&mut self, rules: &Rules, within: Option<&Region>) -> Place {
        let walls = self.narrow(rules.narrow_below() / 2);
        let walls = within.map_or_else(|| walls.clone(), |within| intersection(walls, within));
        Place::within(walls)
    }

    /// Rings along narrow walls beyond the contours.
    pub(crate) fn rings_along(&mut self, rules: &Rules, walls: &Place) -> Vec<Polyline> {
        let mut rings = Vec::new();
        for ring in rules.further_rings() {
            let inside = self.ring_region(ring, rules);
            rings.extend(inside.rings().flat_map(|ring| walls.cut_ring(ring)));
        }
        rings
    }

    /// Lines along the middle of narrow walls, each with the share of a hatch line's energy that
    /// it gets, turned into `step`.
    pub(crate) fn lines_along<T: Copy + PartialEq>(
        &mut self,
        rules: &Rules,
        walls: &Place,
        step: impl Fn(f64) -> T,
    ) -> Vec<(T, Polyline)> {
        let what = |width: f64| rules.middle(width).map(|m| (step(m.share), m.without));
        let reach = |width: f64| rules.middle_reach(width);
        let mut found = Vec::new();
        for (line, caps) in self.lines() {
            for stretch in stretches(line, SHORTEST_STRETCH_NM, what) {
                let Some((step, without)) = stretch.what else { continue };
                let points = lengthened(&stretch.line, line, caps, reach);
                found.push((step, without, points, stretch.line.closed));
            }
        }
        let mut bare: Vec<(usize, Place)> = Vec::new();
        let mut lines = Vec::new();
        for (step, without, points, is_closed) in found {
            if !bare.iter().any(|(ring, _)| *ring == without) {
                let place = self.narrow(rules.ring_from_width(without) / 2).clone();
                bare.push((without, Place::within(place)));
            }
            let Some((_, bare)) = bare.iter().find(|(ring, _)| *ring == without) else { continue };
            let pieces = walls.cut(&Polyline { points, is_closed }).into_iter();
            let pieces = pieces.flat_map(|piece| bare.cut(&piece));
            lines.extend(pieces.map(|piece| (step, piece)));
        }
        lines
    }
}

/// Length of lines, mm.
pub(crate) fn length_mm<'a>(lines: impl IntoIterator<Item = &'a Centreline>) -> f64 {
    lines.into_iter().map(Centreline::length_nm).sum::<f64>() / NM_PER_MM
}
