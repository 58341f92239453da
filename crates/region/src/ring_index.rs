//! A tree of boxes over the edges of a region, for the proof that nothing touches and for rays.
//!
//! Edges are taken in ring order and cut into *runs* that are monotone in x and in y. Such a run
//! cannot meet itself, and its box is that of its two ends, so the tree is cheap to build and most
//! of a smooth boundary is dismissed by a few box tests.

use base::Point;

use crate::region::{Region, crossing};

/// Edges in a run at most. Longer runs mean fewer boxes but more edges to compare where two boxes
/// overlap; 8 to 16 measured alike.
const RUN_EDGES: u32 = 12;
/// Children of a tree node.
const FAN: usize = 4;
/// Box tests per run before the proof gives up. Smooth sections need about 10; bundles of long
/// parallel diagonals would need a number that grows with their count, and go to the engine.
const TESTS_PER_RUN: usize = 400;

#[derive(Clone, Copy)]
pub(crate) struct Bounds {
    min_x: i32,
    min_y: i32,
    max_x: i32,
    max_y: i32,
}

impl Bounds {
    pub(crate) fn of(a: Point, b: Point) -> Self {
        Self { min_x: a.x.min(b.x), min_y: a.y.min(b.y), max_x: a.x.max(b.x), max_y: a.y.max(b.y) }
    }

    fn join(self, o: Self) -> Self {
        Self {
            min_x: self.min_x.min(o.min_x),
            min_y: self.min_y.min(o.min_y),
            max_x: self.max_x.max(o.max_x),
            max_y: self.max_y.max(o.max_y),
        }
    }

    /// Whether the closed boxes share a point.
    #[expect(clippy::needless_bitwise_bool, reason = "unpredictable: one branch beats four")]
    #[inline]
    pub(crate) fn meets(&self, o: &Self) -> bool {
        (self.min_x <= o.max_x)
            & (o.min_x <= self.max_x)
            & (self.min_y <= o.max_y)
            & (o.min_y <= self.max_y)
    }
}

/// Consecutive edges of one ring, monotone in x and y.
#[derive(Clone, Copy)]
struct Run {
    /// First point, an index into `RingIndex::points`.
    start: u32,
    /// Last point; `end - start` edges.
    end: u32,
    ring: u32,
    /// Signs of direction: bit 0 x does not fall, bit 1 y does not fall.
    class: u8,
}

/// What [`RingIndex::contact`] found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Contact {
    /// No two edges share a point, but for the ends of consecutive edges.
    None,
    /// Two edges do, or there is an edge without length.
    Found,
    /// Too many boxes overlap to tell cheaply.
    Unproven,
}

/// The tree.
pub(crate) struct RingIndex {
    /// Points of all rings, the first point of each repeated at its end.
    points: Vec<Point>,
    /// Where each ring starts in `points`, and one past the last.
    ring_starts: Vec<u32>,
    runs: Vec<Run>,
    /// Boxes of the runs, then of groups of [`FAN`] of them, and so on up to one.
    levels: Vec<Vec<Bounds>>,
    /// Whether some edge has no length.
    has_empty_edge: bool,
}

impl RingIndex {
    /// Builds the tree in O(n).
    #[expect(clippy::cast_possible_truncation, reason = "4 G points exceed any memory")]
    pub(crate) fn new(region: &Region) -> Self {
        let mut index = Self {
            points: Vec::with_capacity(region.points().len() + region.ring_count()),
            ring_starts: Vec::with_capacity(region.ring_count() + 1),
            runs: Vec::with_capacity(region.points().len() / 8 + 4 * region.ring_count()),
            levels: Vec::new(),
            has_empty_edge: false,
        };
        for (ring_nr, ring) in region.rings().enumerate() {
            let start = index.points.len() as u32;
            index.ring_starts.push(start);
            index.points.extend_from_slice(ring);
            index.points.extend_from_slice(&ring[..1]);
            index.cut_into_runs(start, ring_nr as u32);
        }
        index.ring_starts.push(index.points.len() as u32);
        index.build_levels();
        index
    }

    fn cut_into_runs(&mut self, first: u32, ring: u32) {
        let points = &self.points[first as usize..];
        let class_of = |a: Point, b: Point| u8::from(b.x >= a.x) | (u8::from(b.y >= a.y) << 1);
        let mut run = Run { start: first, end: first, ring, class: class_of(points[0], points[1]) };
        let mut empty = false;
        for w in points.windows(2) {
            empty |= w[0] == w[1];
            let class = class_of(w[0], w[1]);
            if class != run.class || run.end - run.start == RUN_EDGES {
                self.runs.push(run);
                run = Run { start: run.end, end: run.end, ring, class };
            }
            run.end += 1;
        }
        self.runs.push(run);
        self.has_empty_edge |= empty;
    }

    fn build_levels(&mut self) {
        let of_run =
            |r: &Run| Bounds::of(self.points[r.start as usize], self.points[r.end as usize]);
        let mut level: Vec<Bounds> = self.runs.iter().map(of_run).collect();
        while level.len() > 1 {
            let up = level
                .chunks(FAN)
                .map(|group| group[1..].iter().fold(group[0], |a, &b| a.join(b)))
                .collect();
            self.levels.push(level);
            level = up;
        }
        self.levels.push(level);
    }

    fn children(&self, level: usize, node: usize) -> std::ops::Range<usize> {
        node * FAN..((node + 1) * FAN).min(self.levels[level - 1].len())
    }

    /// Looks for two edges that share a point; ends of consecutive edges aside, which must not
    /// fold back onto each other. Exact. O(n log n) on boundaries that keep some distance.
    pub(crate) fn contact(&self) -> Contact {
        if self.has_empty_edge {
            return Contact::Found;
        }
        let mut budget = TESTS_PER_RUN * (self.runs.len() + FAN);
        match self.within(self.levels.len() - 1, 0, &mut budget) {
            _ if self.runs.is_empty() => Contact::None,
            Some(false) => Contact::None,
            Some(true) => Contact::Found,
            None => Contact::Unproven,
        }
    }

    /// Whether two runs below one node meet; `None` when the budget is used up.
    fn within(&self, level: usize, node: usize, budget: &mut usize) -> Option<bool> {
        if level == 0 {
            return Some(false);
        }
        let children = self.children(level, node);
        for a in children.clone() {
            if self.within(level - 1, a, budget)? {
                return Some(true);
            }
            for b in a + 1..children.end {
                if self.between(level - 1, a, b, budget)? {
                    return Some(true);
                }
            }
        }
        Some(false)
    }

    /// Whether a run below `a` meets one below `b`.
    fn between(&self, level: usize, a: usize, b: usize, budget: &mut usize) -> Option<bool> {
        let boxes = &self.levels[level];
        if !boxes[a].meets(&boxes[b]) {
            return Some(false);
        }
        if level == 0 {
            *budget = budget.checked_sub(8)?;
            return Some(self.runs_meet(a, b));
        }
        *budget = budget.checked_sub(1)?;
        let below = &self.levels[level - 1];
        for i in self.children(level, a) {
            if below[i].meets(&boxes[b]) {
                for j in self.children(level, b) {
                    if self.between(level - 1, i, j, budget)? {
                        return Some(true);
                    }
                }
            }
        }
        Some(false)
    }

    fn runs_meet(&self, a: usize, b: usize) -> bool {
        let (r, s) = (self.runs[a], self.runs[b]);
        let follows = r.ring == s.ring && r.end == s.start;
        if follows && r.class == s.class {
            return false; // one monotone chain
        }
        let closes = r.ring == s.ring
            && r.start == self.ring_starts[r.ring as usize]
            && s.end + 1 == self.ring_starts[s.ring as usize + 1];
        let box_s = self.levels[0][b];
        for i in r.start..r.end {
            let (p, q) = (self.points[i as usize], self.points[i as usize + 1]);
            let edge_box = Bounds::of(p, q);
            if !edge_box.meets(&box_s) {
                continue;
            }
            for j in s.start..s.end {
                let (u, v) = (self.points[j as usize], self.points[j as usize + 1]);
                let other_box = Bounds::of(u, v);
                if !other_box.meets(&edge_box) {
                    continue;
                }
                let meet = if follows && i + 1 == j {
                    folds_back(p, q, v)
                } else if closes && i == r.start && j + 1 == s.end {
                    folds_back(u, v, q)
                } else {
                    segments_meet(p, q, u, v)
                };
                if meet {
                    return true;
                }
            }
        }
        false
    }

    /// Reports, ring by ring, what each edge met by the ray from `p` to +X adds to the winding
    /// number. Wrong for rings that pass through `p` itself.
    pub(crate) fn ray(&self, p: Point, mut hit: impl FnMut(u32, i32)) {
        if !self.runs.is_empty() {
            self.ray_below(self.levels.len() - 1, 0, p, &mut hit);
        }
    }

    fn ray_below(&self, level: usize, node: usize, p: Point, hit: &mut impl FnMut(u32, i32)) {
        let b = self.levels[level][node];
        if b.min_y > p.y || b.max_y <= p.y || b.max_x < p.x {
            return;
        }
        if level > 0 {
            for child in self.children(level, node) {
                self.ray_below(level - 1, child, p, hit);
            }
            return;
        }
        let run = self.runs[node];
        let points = &self.points[run.start as usize..=run.end as usize];
        if b.min_x > p.x {
            // Monotone and spanning the ray: exactly one crossing, up or down.
            hit(run.ring, if run.class & 2 == 0 { -1 } else { 1 });
            return;
        }
        for w in points.windows(2) {
            if let Some(step @ (1 | -1)) = crossing(w[0], w[1], p) {
                hit(run.ring, step);
            }
        }
    }

    /// Calls `found` with every edge whose box meets `window`, in ring order.
    pub(crate) fn edges_in(&self, window: Bounds, mut found: impl FnMut(Point, Point)) {
        if !self.runs.is_empty() {
            self.edges_below(self.levels.len() - 1, 0, window, &mut found);
        }
    }

    fn edges_below(
        &self,
        level: usize,
        node: usize,
        window: Bounds,
        found: &mut impl FnMut(Point, Point),
    ) {
        if !self.levels[level][node].meets(&window) {
            return;
        }
        if level > 0 {
            for child in self.children(level, node) {
                self.edges_below(level - 1, child, window, found);
            }
            return;
        }
        let run = self.runs[node];
        for w in self.points[run.start as usize..=run.end as usize].windows(2) {
            if Bounds::of(w[0], w[1]).meets(&window) {
                found(w[0], w[1]);
            }
        }
    }
}

/// Whether the edge `q` to `r` runs back over the edge `p` to `q`.
fn folds_back(p: Point, q: Point, r: Point) -> bool {
    let along =
        |a: i32, b: i32, c: i32| (i64::from(b) - i64::from(a)) * (i64::from(c) - i64::from(b));
    p.cross(q, r) == 0 && along(p.x, q.x, r.x) + along(p.y, q.y, r.y) < 0
}

/// Whether two closed segments, whose boxes meet, share a point.
pub(crate) fn segments_meet(p: Point, q: Point, u: Point, v: Point) -> bool {
    let same_side = |a: i64, b: i64| (a > 0 && b > 0) || (a < 0 && b < 0);
    !same_side(p.cross(q, u), p.cross(q, v)) && !same_side(u.cross(v, p), u.cross(v, q))
}
