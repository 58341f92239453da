//! The nearest of many points, with removal: what the beam goes to next.
//!
//! A balanced k-d tree in place: the node of a range is its middle element, so no links are
//! stored. Every node knows how many points below it remain; emptied branches cost nothing.

use base::Point;

/// Points in groups; a group is removed as a whole.
#[derive(Debug, Default)]
pub(crate) struct Nearest {
    points: Vec<Point>,
    /// `group_ends[g]`: end (exclusive) in `points` of group `g`.
    group_ends: Vec<u32>,
    group_of: Vec<u32>,
    /// Points in tree order.
    tree: Vec<u32>,
    /// Where each point stands in `tree`.
    place: Vec<u32>,
    nodes: Vec<Node>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Node {
    /// Points remaining in the range of which this is the middle.
    remaining: u32,
    /// Whether the range is split by y rather than x.
    by_y: bool,
    removed: bool,
}

#[expect(clippy::cast_possible_truncation, reason = "a region holds fewer than 2³² points")]
fn index(i: usize) -> u32 {
    i as u32
}

impl Nearest {
    /// Adds a group of points; call [`Self::build`] when all are there.
    pub(crate) fn push_group(&mut self, points: impl IntoIterator<Item = Point>) {
        let group = index(self.group_ends.len());
        self.points.extend(points);
        self.group_of.resize(self.points.len(), group);
        self.group_ends.push(index(self.points.len()));
    }

    /// Builds the tree, O(n log n).
    pub(crate) fn build(mut self) -> Self {
        self.tree = (0..index(self.points.len())).collect();
        self.nodes = vec![Node::default(); self.points.len()];
        split(&self.points, &mut self.tree, &mut self.nodes);
        self.place = vec![0; self.points.len()];
        for (place, &point) in self.tree.iter().enumerate() {
            self.place[point as usize] = index(place);
        }
        self
    }

    /// The first point of the first group that remains, or the point nearest to `from`; ties go
    /// to the one pushed first. Returns group and number within the group.
    pub(crate) fn next(&self, from: Option<Point>) -> Option<(usize, usize)> {
        let best = match from {
            Some(from) => {
                let mut best = (u64::MAX, u32::MAX);
                self.visit(0, self.tree.len(), from, &mut best);
                best.1
            }
            None => index((0..self.points.len()).find(|&i| !self.is_removed(i))?),
        };
        let group = *self.group_of.get(best as usize)? as usize;
        Some((group, best as usize - self.start(group)))
    }

    /// Removes a group.
    pub(crate) fn remove(&mut self, group: usize) {
        for point in self.start(group)..self.group_ends[group] as usize {
            let place = self.place[point] as usize;
            let (mut lo, mut hi) = (0, self.tree.len());
            loop {
                let middle = usize::midpoint(lo, hi);
                self.nodes[middle].remaining -= 1;
                match place.cmp(&middle) {
                    std::cmp::Ordering::Less => hi = middle,
                    std::cmp::Ordering::Greater => lo = middle + 1,
                    std::cmp::Ordering::Equal => break,
                }
            }
            self.nodes[place].removed = true;
        }
    }

    fn start(&self, group: usize) -> usize {
        if group == 0 { 0 } else { self.group_ends[group - 1] as usize }
    }

    fn is_removed(&self, point: usize) -> bool {
        self.nodes[self.place[point] as usize].removed
    }

    fn visit(&self, lo: usize, hi: usize, from: Point, best: &mut (u64, u32)) {
        if lo >= hi {
            return;
        }
        let middle = usize::midpoint(lo, hi);
        let node = self.nodes[middle];
        if node.remaining == 0 {
            return;
        }
        let point = self.tree[middle];
        let here = self.points[point as usize];
        if !node.removed {
            *best = (*best).min((squared(from, here), point));
        }
        let (target, plane) = if node.by_y { (from.y, here.y) } else { (from.x, here.x) };
        let beyond = u64::from(target.abs_diff(plane));
        let halves = [(lo, middle), (middle + 1, hi)];
        let near = usize::from(target >= plane);
        self.visit(halves[near].0, halves[near].1, from, best);
        if beyond * beyond <= best.0 {
            self.visit(halves[1 - near].0, halves[1 - near].1, from, best);
        }
    }
}

/// Squared distance, nm²; fits since every difference is below 2³¹.
fn squared(a: Point, b: Point) -> u64 {
    let (dx, dy) = (u64::from(a.x.abs_diff(b.x)), u64::from(a.y.abs_diff(b.y)));
    dx * dx + dy * dy
}

/// Arranges `tree` around its middle, split along its longer side, and its halves likewise.
fn split(points: &[Point], tree: &mut [u32], nodes: &mut [Node]) {
    let (Some(&first), middle) = (tree.first(), tree.len() / 2) else { return };
    let first = points[first as usize];
    let (mut lo, mut hi) = (first, first);
    for &i in &*tree {
        let p = points[i as usize];
        (lo.x, lo.y) = (lo.x.min(p.x), lo.y.min(p.y));
        (hi.x, hi.y) = (hi.x.max(p.x), hi.y.max(p.y));
    }
    let by_y = hi.y.abs_diff(lo.y) > hi.x.abs_diff(lo.x);
    tree.select_nth_unstable_by_key(middle, |&i| {
        let p = points[i as usize];
        if by_y { (p.y, p.x, i) } else { (p.x, p.y, i) }
    });
    nodes[middle] = Node { remaining: index(tree.len()), by_y, removed: false };
    let (tree_below, tree_above) = tree.split_at_mut(middle);
    let (nodes_below, nodes_above) = nodes.split_at_mut(middle);
    split(points, tree_below, nodes_below);
    split(points, &mut tree_above[1..], &mut nodes_above[1..]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_what_a_full_search_finds_while_groups_disappear(
            groups in proptest::collection::vec(
                proptest::collection::vec((-30..30i32, -30..30i32), 1..4), 1..60),
            from in (-40..40i32, -40..40i32),
        ) {
            let groups: Vec<Vec<Point>> = groups
                .into_iter()
                .map(|g| g.into_iter().map(|(x, y)| Point::new(x, y)).collect())
                .collect();
            let mut nearest = Nearest::default();
            for group in &groups {
                nearest.push_group(group.iter().copied());
            }
            let mut nearest = nearest.build();
            let mut remaining: Vec<usize> = (0..groups.len()).collect();
            let mut from = Point::new(from.0, from.1);
            while let Some((group, number)) = nearest.next(Some(from)) {
                let expected = remaining
                    .iter()
                    .flat_map(|&g| (0..groups[g].len()).map(move |n| (g, n)))
                    .min_by_key(|&(g, n)| (squared(from, groups[g][n]), g, n));
                prop_assert_eq!(Some((group, number)), expected);
                prop_assert_eq!(nearest.next(None), Some((remaining[0], 0)));
                from = groups[group][number];
                nearest.remove(group);
                remaining.retain(|&g| g != group);
            }
            prop_assert!(remaining.is_empty());
        }
    }

    #[test]
    fn distances_across_the_whole_grid_do_not_overflow() {
        let m = base::GRID_LIMIT_NM - 1;
        let mut nearest = Nearest::default();
        nearest.push_group([Point::new(m, m)]);
        let nearest = nearest.build();
        assert_eq!(nearest.next(Some(Point::new(-m, -m))), Some((0, 0)));
        assert_eq!(Nearest::default().build().next(None), None);
    }
}
