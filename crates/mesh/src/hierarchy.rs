//! Bounding volume hierarchy: which triangles of a mesh may be near a place, or near each other.
//!
//! A binary tree of axis-parallel boxes in one flat array, split by the surface area heuristic
//! over bins (Wald 2007, IEEE Symposium on Interactive Ray Tracing). Boxes are stored in single
//! precision, rounded outwards, so they never miss what lies in them; whatever needs an exact
//! answer takes the candidates and asks [`crate::intersect`].

mod ray;

pub use ray::Hit;

use crate::Mesh;
use crate::intersect::{Crossing, crossing_along_x};
use crate::measures::usable_corners;
use base::{Cancelled, Progress};
use std::ops::{ControlFlow, Range};

/// Triangles that a leaf may hold: fewer cost memory for nodes, more cost tests of boxes.
const LEAF_MAX: usize = 4;

/// Bins per split; more than this gain nothing measurable (Wald 2007, table 1).
const BINS: usize = 16;

/// Below this depth splits go by count, so that no arrangement makes the tree deeper than
/// `HEURISTIC_DEPTH + 32`.
const HEURISTIC_DEPTH: u32 = 64;

/// Triangles beyond this are left out: nodes, twice as many, are named by 32 bits.
const MAX_TRIANGLES: usize = 1 << 31;

/// Steps of a traversal between two looks at the cancel flag; some 10 µs.
const STEPS_PER_CHECK: u32 = 1024;

/// A tree of boxes over the triangles of one mesh. About 60 B per triangle.
///
/// It does not hold the mesh: queries name triangles by index.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hierarchy {
    /// The root first; the children of a node lie side by side.
    nodes: Vec<Node>,
    /// The triangles of each leaf lie side by side.
    items: Vec<Item>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Node {
    bounds: Bounds,
    /// Of a leaf its first item, of an inner node its first child.
    first: u32,
    /// Items of a leaf; 0 for an inner node.
    count: u32,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Item {
    bounds: Bounds,
    triangle: u32,
}

/// A closed box in single precision.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Bounds {
    lo: [f32; 3],
    hi: [f32; 3],
}

impl Bounds {
    const EMPTY: Self = Self { lo: [f32::INFINITY; 3], hi: [f32::NEG_INFINITY; 3] };

    /// The smallest box in single precision that holds these points.
    fn around(points: &[[f64; 3]]) -> Self {
        let mut lo = [f64::INFINITY; 3];
        let mut hi = [f64::NEG_INFINITY; 3];
        for p in points {
            for k in 0..3 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
        Self { lo: lo.map(round_down), hi: hi.map(round_up) }
    }

    #[inline]
    fn join(&mut self, other: &Self) {
        for k in 0..3 {
            self.lo[k] = lesser(self.lo[k], other.lo[k]);
            self.hi[k] = greater(self.hi[k], other.hi[k]);
        }
    }

    /// Without branches: six comparisons are cheaper than a misprediction.
    #[inline]
    #[expect(clippy::needless_bitwise_bool, reason = "see above")]
    fn overlaps(&self, other: &Self) -> bool {
        (self.lo[0] <= other.hi[0])
            & (other.lo[0] <= self.hi[0])
            & (self.lo[1] <= other.hi[1])
            & (other.lo[1] <= self.hi[1])
            & (self.lo[2] <= other.hi[2])
            & (other.lo[2] <= self.hi[2])
    }

    fn holds(&self, other: &Self) -> bool {
        (0..3).all(|k| self.lo[k] <= other.lo[k] && other.hi[k] <= self.hi[k])
    }

    /// Whether the ray from `p` in the direction of +X meets the box.
    fn meets_ray_along_x(&self, p: [f64; 3]) -> bool {
        f64::from(self.hi[0]) >= p[0]
            && (1..3).all(|k| f64::from(self.lo[k]) <= p[k] && p[k] <= f64::from(self.hi[k]))
    }

    /// Half the surface; 0 for an empty box.
    #[inline]
    fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|k| (self.hi[k] - self.lo[k]).max(0.0));
        x * y + y * z + z * x
    }

    /// Twice the centre, as a box of one point.
    #[inline]
    fn twice_centre(&self) -> Self {
        let twice = [0, 1, 2].map(|k| self.lo[k] + self.hi[k]);
        Self { lo: twice, hi: twice }
    }
}

/// Like `f32::min`, but one instruction: no coordinate is NaN.
#[inline]
fn lesser(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

#[inline]
fn greater(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

#[expect(clippy::cast_possible_truncation, reason = "rounding is corrected on the next line")]
fn round_down(x: f64) -> f32 {
    let near = x as f32;
    if f64::from(near) > x { near.next_down() } else { near }
}

fn round_up(x: f64) -> f32 {
    -round_down(-x)
}

/// What [`Hierarchy::check`] found amiss: a bug in this module.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum IllFormed {
    /// A box does not hold what lies below it.
    #[error("the box of node {node} does not hold what lies below it")]
    Outside {
        /// Index of the node.
        node: usize,
    },
    /// A triangle has not exactly one leaf.
    #[error("triangle {triangle} lies in {leaves} leaves instead of one")]
    Leaves {
        /// Index of the triangle.
        triangle: usize,
        /// How many leaves hold it.
        leaves: usize,
    },
    /// A node or item is out of range, or more than one way leads to it.
    #[error("node {node} does not have its own children or items")]
    Shape {
        /// Index of the node.
        node: usize,
    },
}

impl Hierarchy {
    /// Builds the tree. O(n log n); 1 M triangles take some 0.4 s.
    ///
    /// Triangles with a corner that does not exist or is not finite are left out.
    pub fn build(mesh: &Mesh) -> Self {
        let items: Vec<Item> = (0..)
            .zip(mesh.triangles.iter().take(MAX_TRIANGLES))
            .filter_map(|(triangle, corners)| {
                let corners = usable_corners(mesh, *corners)?;
                Some(Item { bounds: Bounds::around(&corners), triangle })
            })
            .collect();
        let mut tree = Self { nodes: Vec::with_capacity(items.len()), items };
        if !tree.items.is_empty() {
            tree.split_all();
        }
        tree
    }

    /// Triangles in the tree.
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there is no triangle in the tree.
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// Smallest and largest coordinate, mm, rounded outwards to single precision; `None` for an
    /// empty tree.
    pub fn bounds(&self) -> Option<([f64; 3], [f64; 3])> {
        let Bounds { lo, hi } = self.nodes.first()?.bounds;
        Some((lo.map(f64::from), hi.map(f64::from)))
    }

    /// Visits the pairs of triangles of this tree whose boxes meet, each pair once, in a fixed
    /// order; ends early when `visit` breaks. Credits one step per triangle, for the caller to
    /// announce.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn self_pairs(
        &self,
        progress: &Progress,
        mut visit: impl FnMut(u32, u32) -> ControlFlow<()>,
    ) -> Result<(), Cancelled> {
        let mut stack: Vec<(u32, u32)> = Vec::new();
        stack.extend((!self.is_empty()).then_some((0, 0)));
        let mut steps = 0_u32;
        while let Some((i, j)) = stack.pop() {
            steps += 1;
            if steps.is_multiple_of(STEPS_PER_CHECK) {
                progress.check()?;
            }
            if i != j {
                let (a, b) = (self.node(i), self.node(j));
                if push_children(&mut stack, (self, i), (self, j)) {
                    continue;
                }
                if visit_leaves(self.leaf(a), self.leaf(b), &mut visit).is_break() {
                    return Ok(());
                }
                continue;
            }
            let node = self.node(i);
            if node.count == 0 {
                let (left, right) = (node.first, node.first + 1);
                if self.node(left).bounds.overlaps(&self.node(right).bounds) {
                    stack.push((left, right));
                }
                stack.extend([(right, right), (left, left)]);
                continue;
            }
            let leaf = self.leaf(node);
            for (k, item) in leaf.iter().enumerate() {
                let item = std::slice::from_ref(item);
                if visit_leaves(item, &leaf[k + 1..], &mut visit).is_break() {
                    return Ok(());
                }
            }
            progress.advance(leaf.len() as u64)?;
        }
        Ok(())
    }

    /// Visits the pairs of a triangle of this tree and one of another in the same frame whose
    /// boxes meet, each pair once, in a fixed order; ends early when `visit` breaks.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn pairs(
        &self,
        other: &Self,
        progress: &Progress,
        mut visit: impl FnMut(u32, u32) -> ControlFlow<()>,
    ) -> Result<(), Cancelled> {
        let mut stack: Vec<(u32, u32)> = Vec::new();
        if let (Some(a), Some(b)) = (self.nodes.first(), other.nodes.first()) {
            stack.extend(a.bounds.overlaps(&b.bounds).then_some((0, 0)));
        }
        let mut steps = 0_u32;
        while let Some((i, j)) = stack.pop() {
            steps += 1;
            if steps.is_multiple_of(STEPS_PER_CHECK) {
                progress.check()?;
            }
            if push_children(&mut stack, (self, i), (other, j)) {
                continue;
            }
            let (a, b) = (self.leaf(self.node(i)), other.leaf(other.node(j)));
            if visit_leaves(a, b, &mut visit).is_break() {
                return Ok(());
            }
        }
        Ok(())
    }

    /// Visits the triangles whose boxes meet the box from `lo` to `hi`, mm.
    pub fn in_box(&self, lo: [f64; 3], hi: [f64; 3], visit: impl FnMut(u32)) {
        let query = Bounds { lo: lo.map(round_down), hi: hi.map(round_up) };
        self.descend(|bounds| bounds.overlaps(&query), visit);
    }

    /// Visits the triangles whose boxes meet the ray from `p`, mm, in the direction of +X.
    pub fn along_x(&self, p: [f64; 3], visit: impl FnMut(u32)) {
        self.descend(|bounds| bounds.meets_ray_along_x(p), visit);
    }

    /// How many times the mesh that this tree was built from winds around a point; `None` if the
    /// point lies on the surface. Exact for closed meshes: 1 inside, 0 outside, more where solids
    /// overlap, negative where the triangles face inwards. O(log n + triangles along the ray).
    pub fn winding(&self, mesh: &Mesh, p: [f64; 3]) -> Option<i32> {
        let mut winding = Some(0);
        self.along_x(p, |triangle| {
            let corners = mesh.triangles.get(triangle as usize);
            let Some(corners) = corners.and_then(|t| usable_corners(mesh, *t)) else { return };
            winding = match crossing_along_x(&corners, p) {
                Crossing::Miss => winding,
                Crossing::Origin => None,
                Crossing::Leaves => winding.map(|w| w + 1),
                Crossing::Enters => winding.map(|w| w - 1),
            };
        });
        winding
    }

    /// Checks that every box holds what lies below it and every usable triangle has its one leaf.
    ///
    /// # Errors
    /// The first thing found amiss.
    pub fn check(&self, mesh: &Mesh) -> Result<(), IllFormed> {
        let mut leaves = vec![0_usize; mesh.triangles.len()];
        let mut seen = vec![false; self.nodes.len()];
        let mut stack: Vec<u32> = Vec::new();
        stack.extend((!self.nodes.is_empty()).then_some(0));
        while let Some(i) = stack.pop() {
            let node = i as usize;
            let Some(false) = seen.get(node) else { return Err(IllFormed::Shape { node }) };
            seen[node] = true;
            let Node { bounds, first, count } = self.nodes[node];
            if count == 0 {
                for child in [first, first + 1] {
                    let Some(below) = self.nodes.get(child as usize) else {
                        return Err(IllFormed::Shape { node });
                    };
                    if !bounds.holds(&below.bounds) {
                        return Err(IllFormed::Outside { node });
                    }
                    stack.push(child);
                }
                continue;
            }
            let range = first as usize..(first + count) as usize;
            for item in self.items.get(range).ok_or(IllFormed::Shape { node })? {
                let corners = mesh.triangles.get(item.triangle as usize);
                let corners = corners.and_then(|t| usable_corners(mesh, *t));
                let corners = corners.ok_or(IllFormed::Shape { node })?;
                if !bounds.holds(&item.bounds) || !item.bounds.holds(&Bounds::around(&corners)) {
                    return Err(IllFormed::Outside { node });
                }
                leaves[item.triangle as usize] += 1;
            }
        }
        for (triangle, &leaves) in leaves.iter().enumerate() {
            let expected = usize::from(usable_corners(mesh, mesh.triangles[triangle]).is_some());
            if leaves != expected {
                return Err(IllFormed::Leaves { triangle, leaves });
            }
        }
        Ok(())
    }

    /// Smallest and largest coordinate of the root; `None` for an empty tree.
    pub(crate) fn root(&self) -> Option<([f32; 3], [f32; 3])> {
        self.nodes.first().map(|root| (root.bounds.lo, root.bounds.hi))
    }

    /// Smallest and largest coordinate of a node.
    #[inline]
    pub(crate) fn bounds_of(&self, node: u32) -> ([f32; 3], [f32; 3]) {
        let Bounds { lo, hi } = self.node(node).bounds;
        (lo, hi)
    }

    /// The first of the two children of an inner node, which lie side by side.
    #[inline]
    pub(crate) fn children(&self, node: u32) -> Option<u32> {
        let node = self.node(node);
        (node.count == 0).then_some(node.first)
    }

    /// Nodes in the tree; each comes before its children.
    pub(crate) fn node_count(&self) -> u32 {
        narrow(self.nodes.len())
    }

    /// Where the triangles of a leaf are listed; those of an inner node are listed side by side.
    pub(crate) fn listed(&self, leaf: u32) -> Range<usize> {
        let Node { first, count, .. } = *self.node(leaf);
        first as usize..(first + count) as usize
    }

    pub(crate) fn triangles_listed(&self, range: Range<usize>) -> impl Iterator<Item = u32> {
        self.items[range].iter().map(|item| item.triangle)
    }

    /// The triangles of a leaf.
    pub(crate) fn triangles_of(&self, leaf: u32) -> impl Iterator<Item = u32> {
        self.triangles_listed(self.listed(leaf))
    }

    #[inline]
    fn node(&self, i: u32) -> &Node {
        &self.nodes[i as usize]
    }

    #[inline]
    fn leaf(&self, node: &Node) -> &[Item] {
        &self.items[node.first as usize..(node.first + node.count) as usize]
    }

    fn descend(&self, meets: impl Fn(&Bounds) -> bool, mut visit: impl FnMut(u32)) {
        let mut stack: Vec<u32> = Vec::new();
        stack.extend((!self.is_empty()).then_some(0));
        while let Some(i) = stack.pop() {
            let node = self.node(i);
            if !meets(&node.bounds) {
                continue;
            }
            if node.count == 0 {
                stack.extend([node.first + 1, node.first]);
            } else {
                for item in self.leaf(node).iter().filter(|item| meets(&item.bounds)) {
                    visit(item.triangle);
                }
            }
        }
    }

    /// Splits from the root down until every leaf is small.
    fn split_all(&mut self) {
        let count = narrow(self.items.len());
        self.nodes.push(Node { bounds: Bounds::EMPTY, first: 0, count });
        let mut stack = vec![(0_usize, 0_u32)];
        while let Some((i, depth)) = stack.pop() {
            let Node { first, count, .. } = self.nodes[i];
            let items = &mut self.items[first as usize..(first + count) as usize];
            let mut bounds = Bounds::EMPTY;
            let mut centres = Bounds::EMPTY;
            for item in &*items {
                bounds.join(&item.bounds);
                centres.join(&item.bounds.twice_centre());
            }
            self.nodes[i].bounds = bounds;
            if items.len() <= LEAF_MAX {
                continue;
            }
            let left = narrow(split(items, &centres, depth));
            let child = self.nodes.len();
            let node = |first, count| Node { bounds: Bounds::EMPTY, first, count };
            self.nodes.extend([node(first, left), node(first + left, count - left)]);
            self.nodes[i].first = narrow(child);
            self.nodes[i].count = 0;
            stack.extend([(child + 1, depth + 1), (child, depth + 1)]);
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "below 2 · MAX_TRIANGLES")]
fn narrow(i: usize) -> u32 {
    i as u32
}

/// Reorders the items into two parts and returns the size of the first; neither is empty.
/// `centres` is the box of twice their centres.
fn split(items: &mut [Item], centres: &Bounds, depth: u32) -> usize {
    let extent = [0, 1, 2].map(|k| centres.hi[k] - centres.lo[k]);
    let axis = (1..3).fold(0, |best, k| if extent[k] > extent[best] { k } else { best });
    let centre = |item: &Item| item.bounds.lo[axis] + item.bounds.hi[axis];
    if depth < HEURISTIC_DEPTH {
        let left = if items.len() <= 2 * LEAF_MAX {
            // Becomes two leaves, mostly: the middle is as good and cheaper to find.
            let middle = centres.lo[axis] + 0.5 * extent[axis];
            partition(items, |item| centre(item) < middle)
        } else {
            split_by_area(items, axis, centres.lo[axis], extent[axis])
        };
        if left > 0 && left < items.len() {
            return left;
        }
    }
    let half = items.len() / 2;
    items.select_nth_unstable_by(half, |a, b| {
        centre(a).total_cmp(&centre(b)).then(a.triangle.cmp(&b.triangle))
    });
    half
}

/// Splits between two bins where the sum of area × count is least; returns the size of the first
/// part, 0 if all centres fall into one bin.
fn split_by_area(items: &mut [Item], axis: usize, lo: f32, extent: f32) -> usize {
    let scale = BINS as f32 / extent;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the cast saturates, also for NaN from an extent of zero or infinity"
    )]
    let bin_of = |item: &Item| {
        let centre = item.bounds.lo[axis] + item.bounds.hi[axis];
        (((centre - lo) * scale) as usize).min(BINS - 1)
    };

    let mut bins = [(Bounds::EMPTY, 0_u32); BINS];
    for item in &*items {
        let (bounds, count) = &mut bins[bin_of(item)];
        bounds.join(&item.bounds);
        *count += 1;
    }

    // cost_below[i]: area × count of the bins up to and including i.
    let mut cost_below = [0.0_f32; BINS];
    let (mut bounds, mut count) = (Bounds::EMPTY, 0);
    for (cost, bin) in cost_below.iter_mut().zip(&bins) {
        bounds.join(&bin.0);
        count += bin.1;
        *cost = bounds.half_area() * count as f32;
    }
    let (mut bounds, mut count) = (Bounds::EMPTY, 0);
    let (mut best, mut best_cost) = (0, f32::INFINITY);
    for i in (1..BINS).rev() {
        bounds.join(&bins[i].0);
        count += bins[i].1;
        let cost = cost_below[i - 1] + bounds.half_area() * count as f32;
        let is_proper = count > 0 && (count as usize) < items.len();
        if is_proper && cost < best_cost {
            (best, best_cost) = (i, cost);
        }
    }
    partition(items, |item| bin_of(item) < best)
}

/// Moves the items that fulfil the condition to the front; returns their number.
fn partition(items: &mut [Item], goes_first: impl Fn(&Item) -> bool) -> usize {
    let (mut left, mut right) = (0, items.len());
    loop {
        while left < right && goes_first(&items[left]) {
            left += 1;
        }
        while left < right && !goes_first(&items[right - 1]) {
            right -= 1;
        }
        if left >= right {
            return left;
        }
        items.swap(left, right - 1);
    }
}

/// Replaces a pair of nodes by the pairs of children that meet, dividing the larger node; `false`
/// for a pair of leaves.
#[inline]
fn push_children(
    stack: &mut Vec<(u32, u32)>,
    (tree_a, i): (&Hierarchy, u32),
    (tree_b, j): (&Hierarchy, u32),
) -> bool {
    let (a, b) = (tree_a.node(i), tree_b.node(j));
    if a.count != 0 && b.count != 0 {
        return false;
    }
    let divide_a = b.count != 0 || (a.count == 0 && a.bounds.half_area() >= b.bounds.half_area());
    if divide_a {
        for child in [a.first + 1, a.first] {
            if tree_a.node(child).bounds.overlaps(&b.bounds) {
                stack.push((child, j));
            }
        }
    } else {
        for child in [b.first + 1, b.first] {
            if tree_b.node(child).bounds.overlaps(&a.bounds) {
                stack.push((i, child));
            }
        }
    }
    true
}

#[inline]
fn visit_leaves(
    a: &[Item],
    b: &[Item],
    visit: &mut impl FnMut(u32, u32) -> ControlFlow<()>,
) -> ControlFlow<()> {
    for p in a {
        for q in b {
            if p.bounds.overlaps(&q.bounds) {
                visit(p.triangle, q.triangle)?;
            }
        }
    }
    ControlFlow::Continue(())
}
