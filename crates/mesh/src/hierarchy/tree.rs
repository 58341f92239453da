//! The tree, and what can be asked of it.

use super::boxes::{Bounds, round_down, round_up};
use crate::Mesh;
use crate::intersect::{Crossing, crossing_along_x};
use crate::measures::usable_corners;
use std::ops::Range;

/// A tree of boxes over the triangles of one mesh. About 60 B per triangle.
///
/// It does not hold the mesh: queries name triangles by index.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hierarchy {
    /// The root first; the children of a node lie side by side.
    pub(super) nodes: Vec<Node>,
    /// The triangles of each leaf lie side by side.
    pub(super) items: Vec<Item>,
}

/// A box of the tree, and what lies in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Node {
    pub(super) bounds: Bounds,
    /// Of a leaf its first item, of an inner node its first child.
    pub(super) first: u32,
    /// Items of a leaf; 0 for an inner node.
    pub(super) count: u32,
}

/// A triangle of a leaf.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Item {
    pub(super) bounds: Bounds,
    pub(super) triangle: u32,
}

impl Hierarchy {
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
    pub(super) fn node(&self, i: u32) -> &Node {
        &self.nodes[i as usize]
    }

    #[inline]
    pub(super) fn leaf(&self, node: &Node) -> &[Item] {
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
}

#[expect(clippy::cast_possible_truncation, reason = "below 2 · MAX_TRIANGLES")]
pub(super) fn narrow(i: usize) -> u32 {
    i as u32
}
