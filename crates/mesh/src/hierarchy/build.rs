//! Building the tree: boxes divided from the root down.

use super::boxes::Bounds;
use super::tree::{Hierarchy, Item, Node, narrow};
use crate::Mesh;
use crate::measures::usable_corners;

/// Triangles that a leaf may hold: fewer cost memory for nodes, more cost tests of boxes.
const LEAF_MAX: usize = 4;

/// Bins per split; more than this gain nothing measurable (Wald 2007, table 1).
const BINS: usize = 16;

/// Below this depth splits go by count, so that no arrangement makes the tree deeper than
/// `HEURISTIC_DEPTH + 32`.
const HEURISTIC_DEPTH: u32 = 64;

/// Triangles beyond this are left out: nodes, twice as many, are named by 32 bits.
const MAX_TRIANGLES: usize = 1 << 31;

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
