//! A look at a tree for bugs of this module.

use super::boxes::Bounds;
use super::tree::{Hierarchy, Node};
use crate::Mesh;
use crate::measures::usable_corners;

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
}
