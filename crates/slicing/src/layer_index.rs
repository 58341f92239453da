//! Which triangles cross a layer, for layers asked in any order.
//!
//! Triangles are grouped by how many layers they span: each span below 8 has its own group, above
//! that each power of two has four. Inside a group they are counting-sorted by their first layer,
//! in buckets of a quarter of that power of two. The triangles of a group that may cross a layer
//! then start in a window of buckets as long as the group's longest span: one contiguous run.
//! Short spans, by far the most frequent, are found exactly; of the others a query visits less
//! than twice its hits.
//!
//! The index does not list triangles, it numbers them anew in this order. So what one layer needs
//! lies close together in memory, whatever the order of the mesh; without that, each step along a
//! contour may wait for another page. At most 44 B per layer.

use std::ops::Range;

/// A part may span this many layers at most: 1 m in layers of 60 nm.
pub(crate) const MAX_LAYERS: u32 = 1 << 24;

/// The number of a triangle that crosses no layer.
pub(crate) const NOWHERE: u32 = u32::MAX;

/// Groups by span, and inside them triangles by first layer.
#[derive(Debug, Default)]
pub(crate) struct LayerIndex {
    groups: Vec<Group>,
    /// The first triangle of every bucket of every group, and one end.
    starts: Vec<u32>,
}

/// Triangles of similar span.
#[derive(Debug)]
struct Group {
    /// The group's first bucket in `starts`.
    first_bucket: u32,
    /// Layers in a bucket, as a power of two.
    bucket_log2: u32,
    /// The longest span of its triangles.
    longest: u32,
}

/// Fills a [`LayerIndex`], triangle by triangle in the order of the mesh.
pub(crate) struct LayerIndexBuilder {
    index: LayerIndex,
    /// The bucket of each triangle so far, or [`NOWHERE`].
    buckets: Vec<u32>,
}

impl LayerIndexBuilder {
    /// For a part of `layers` layers and `triangles` triangles.
    pub(crate) fn new(layers: u32, triangles: usize) -> Self {
        let mut groups: Vec<Group> = Vec::new();
        let mut buckets = 0;
        let mut longest = 0;
        while longest < layers {
            // Doubles every four groups: the widths are 1 up to a span of 8, then 2, 4, …
            let bucket_log2 = (longest + 1).ilog2().saturating_sub(2);
            longest += 1 << bucket_log2;
            groups.push(Group { first_bucket: buckets, bucket_log2, longest });
            buckets += ((layers - 1) >> bucket_log2) + 1;
        }
        let starts = vec![0; buckets as usize + 1];
        Self { index: LayerIndex { groups, starts }, buckets: Vec::with_capacity(triangles) }
    }

    /// Adds the next triangle, which crosses layers `first..end` counted from the part's lowest.
    #[inline]
    pub(crate) fn push(&mut self, first: u32, end: u32) {
        let bucket = if first < end {
            let group = &self.index.groups[group_of(end - first)];
            let bucket = group.first_bucket + (first >> group.bucket_log2);
            self.index.starts[bucket as usize] += 1;
            bucket
        } else {
            NOWHERE
        };
        self.buckets.push(bucket);
    }

    /// Sorts what was added: the index, and the new number of each triangle or [`NOWHERE`].
    pub(crate) fn finish(self) -> (LayerIndex, Vec<u32>) {
        let Self { mut index, buckets: mut numbers } = self;
        let mut total = 0;
        for start in &mut index.starts {
            total += std::mem::replace(start, total);
        }
        for number in &mut numbers {
            if *number != NOWHERE {
                let next = &mut index.starts[*number as usize];
                *number = *next;
                *next += 1;
            }
        }
        // Each start has moved to the next one; the last of them, the end, was never used.
        index.starts.rotate_right(1);
        index.starts[0] = 0;
        (index, numbers)
    }
}

impl LayerIndex {
    /// How many triangles cross a layer at all; their numbers are below this.
    pub(crate) fn triangle_count(&self) -> u32 {
        self.starts.last().copied().unwrap_or_default()
    }

    /// The triangles that may cross a layer, counted from the part's lowest. `true` if all of the
    /// range do, `false` if each must still be tested.
    pub(crate) fn candidates(&self, layer: u32) -> impl Iterator<Item = (bool, Range<u32>)> {
        self.groups.iter().map(move |group| {
            let earliest = (layer + 1).saturating_sub(group.longest) >> group.bucket_log2;
            let latest = layer >> group.bucket_log2;
            let from = self.starts[(group.first_bucket + earliest) as usize];
            let to = self.starts[(group.first_bucket + latest) as usize + 1];
            (group.bucket_log2 == 0, from..to)
        })
    }
}

/// The group of a span of at least 1: one for each span below 8, then four for each doubling.
#[inline]
fn group_of(span: u32) -> usize {
    let bucket_log2 = span.ilog2().saturating_sub(2);
    // 4·bucket_log2 groups lie below those of this width, which begin at a span of 4 widths.
    (4 * bucket_log2 + (span >> bucket_log2)) as usize - 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashSet;

    proptest! {
        /// Against a plain scan; also counts what a query visits in vain.
        #[test]
        fn every_layer_finds_exactly_its_triangles(
            ranges in prop::collection::vec((0_u32..300, 0_u32..300), 0..200),
        ) {
            let mut builder = LayerIndexBuilder::new(300, ranges.len());
            for &(first, end) in &ranges {
                builder.push(first, end);
            }
            let (index, numbers) = builder.finish();
            let mut by_number = numbers.clone();
            by_number.sort_unstable();
            by_number.retain(|&number| number != NOWHERE);
            prop_assert!(by_number.into_iter().eq(0..index.triangle_count()));

            let (mut visited, mut hit) = (0, 0);
            for layer in 0..300 {
                let crossing: HashSet<u32> = (0..ranges.len())
                    .filter(|&t| ranges[t].0 <= layer && layer < ranges[t].1)
                    .map(|t| numbers[t])
                    .collect();
                let mut found = HashSet::new();
                for (all, triangles) in index.candidates(layer) {
                    visited += triangles.len();
                    prop_assert!(!all || triangles.clone().all(|t| crossing.contains(&t)));
                    found.extend(triangles.filter(|t| crossing.contains(t)));
                }
                hit += found.len();
                prop_assert_eq!(found, crossing);
            }
            prop_assert!(visited <= 2 * hit, "{} visited for {} hits", visited, hit);
        }
    }

    #[test]
    fn groups_and_buckets_agree_on_every_span() {
        let builder = LayerIndexBuilder::new(5000, 0);
        for span in 1..=5000 {
            let group = group_of(span);
            let groups = &builder.index.groups;
            assert!(span <= groups[group].longest);
            assert!(group == 0 || span > groups[group - 1].longest);
        }
    }
}
