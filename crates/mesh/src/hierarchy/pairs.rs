//! Pairs of triangles whose boxes meet, of one tree or of two.

use super::tree::{Hierarchy, Item};
use base::{Cancelled, Progress};
use std::ops::ControlFlow;

/// Steps of a traversal between two looks at the cancel flag; some 10 µs.
const STEPS_PER_CHECK: u32 = 1024;

impl Hierarchy {
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
