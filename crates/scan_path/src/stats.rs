//! Counts and lengths of a layer: what the index of a vector file repeats and a check recounts.

use crate::layer::Layer;
use base::{NM_PER_MM, Point};
use serde::{Deserialize, Serialize};

/// Counts and lengths of the vectors of one or more layers.
///
/// Lengths are sums of whole nanometres, so that they are the same in any order, on any machine
/// and in any language. Run-in and run-out stretches are not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PathStats {
    /// Blocks.
    pub blocks: u64,
    /// Connected paths; a single straight mark is a path, too.
    pub paths: u64,
    /// Straight moves with the laser on.
    pub marks: u64,
    /// Points stored.
    pub points: u64,
    /// Summed length of the marks, nm.
    pub mark_length_nm: u64,
    /// Summed length of the jumps from the end of each path to the start of the next path of the
    /// same layer, also from block to block, nm. The way to the first path is not counted.
    pub jump_length_nm: u64,
    /// Smallest x, smallest y, largest x, largest y of all points, nm; absent without points.
    pub bounds_nm: Option<[i32; 4]>,
}

impl PathStats {
    /// Summed length of the marks, mm.
    pub fn mark_length_mm(&self) -> f64 {
        self.mark_length_nm as f64 / NM_PER_MM
    }

    /// Summed length of the jumps, mm.
    pub fn jump_length_mm(&self) -> f64 {
        self.jump_length_nm as f64 / NM_PER_MM
    }

    /// Adds what another layer holds. Saturates, so that numbers from an untrusted file are safe.
    pub fn add(&mut self, other: &Self) {
        self.blocks = self.blocks.saturating_add(other.blocks);
        self.paths = self.paths.saturating_add(other.paths);
        self.marks = self.marks.saturating_add(other.marks);
        self.points = self.points.saturating_add(other.points);
        self.mark_length_nm = self.mark_length_nm.saturating_add(other.mark_length_nm);
        self.jump_length_nm = self.jump_length_nm.saturating_add(other.jump_length_nm);
        self.bounds_nm = match (self.bounds_nm, other.bounds_nm) {
            (Some(a), Some(b)) => {
                Some([a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])])
            }
            (a, b) => a.or(b),
        };
    }
}

/// Counts and measures a layer. O(points).
pub fn stats(layer: &Layer) -> PathStats {
    let mut stats = PathStats { blocks: layer.blocks.len() as u64, ..PathStats::default() };
    let mut last_end = None;
    for block in &layer.blocks {
        for path in block.paths.iter() {
            let (Some(&start), Some(&end)) = (path.first(), path.last()) else { continue };
            stats.paths += 1;
            stats.points += path.len() as u64;
            stats.jump_length_nm += last_end.map_or(0, |from| length_nm(from, start));
            last_end = Some(end);
            for mark in path.windows(2) {
                stats.marks += 1;
                stats.mark_length_nm += length_nm(mark[0], mark[1]);
            }
        }
        if let Some(bounds_nm) = bounds_nm(block.paths.points()) {
            stats.add(&PathStats { bounds_nm: Some(bounds_nm), ..PathStats::default() });
        }
    }
    stats
}

/// Distance of two points, rounded to the nearest nm: ⌊√(Δx² + Δy²) + ½⌋ in IEEE doubles, where
/// Δx² + Δy² is exact before it is rounded to a double. The same bits everywhere, as square root
/// and conversion are correctly rounded; `hypot` would not be.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 ≤ √ < 2³² + 1")]
fn length_nm(a: Point, b: Point) -> u64 {
    let (dx, dy) = (a.x.abs_diff(b.x), a.y.abs_diff(b.y));
    let squared = u128::from(dx).pow(2) + u128::from(dy).pow(2);
    ((squared as f64).sqrt() + 0.5).floor() as u64
}

fn bounds_nm(points: &[Point]) -> Option<[i32; 4]> {
    points.iter().fold(None, |bounds, p| {
        let [x0, y0, x1, y1] = bounds.unwrap_or([p.x, p.y, p.x, p.y]);
        Some([x0.min(p.x), y0.min(p.y), x1.max(p.x), y1.max(p.y)])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layer::{Block, ExposureKind, Paths, RegionKind};

    fn block(paths: Paths) -> Block {
        let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
        Block { placement: 0, exposure: 0, kind, region, paths }
    }

    #[test]
    fn jumps_are_counted_from_path_to_path_and_block_to_block_but_not_to_the_first() {
        let p = Point::new;
        let layer = Layer {
            index: 0,
            blocks: vec![
                block(Paths::Segments(vec![[p(100, 0), p(103, 4)], [p(103, 5), p(103, 9)]])),
                block(Paths::Polylines {
                    points: vec![p(103, 9), p(106, 13), p(106, 14), p(0, 0), p(0, 7)],
                    ends: vec![3, 5],
                }),
            ],
        };
        let found = stats(&layer);
        assert_eq!((found.blocks, found.paths, found.marks, found.points), (2, 4, 5, 9));
        assert_eq!(found.mark_length_nm, 5 + 4 + 5 + 1 + 7);
        assert_eq!(found.jump_length_nm, 1 + 107); // √(106² + 14²) = 106.92
        assert_eq!(found.bounds_nm, Some([0, 0, 106, 14]));
        assert_eq!(stats(&Layer::default()), PathStats::default());
    }

    #[test]
    fn lengths_do_not_overflow_at_the_ends_of_the_number_range() {
        let length = length_nm(Point::new(i32::MIN, i32::MIN), Point::new(i32::MAX, i32::MAX));
        assert_eq!(length, 6_074_000_999); // (2³² − 1)·√2 = 6 074 000 998.54
    }
}
