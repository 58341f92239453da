//! How far the beam marks and how far it jumps.

use base::Point;
use scan_path::{Layer, Paths};

/// Lengths and numbers of marks and jumps.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PathStats {
    /// Length run with the laser on, mm.
    pub mark_length_mm: f64,
    /// Length run with the laser off between the first and the last mark, mm.
    pub jump_length_mm: f64,
    /// Straight moves with the laser on.
    pub marks: u64,
    /// Moves with the laser off; a path that starts where the one before ended needs none.
    pub jumps: u64,
}

impl std::ops::AddAssign for PathStats {
    fn add_assign(&mut self, other: Self) {
        self.mark_length_mm += other.mark_length_mm;
        self.jump_length_mm += other.jump_length_mm;
        self.marks += other.marks;
        self.jumps += other.jumps;
    }
}

/// Measures a layer, jumps between blocks included, run-in and run-out not.
pub fn stats(layer: &Layer) -> PathStats {
    let mut stats = PathStats::default();
    let mut beam_at = None;
    for block in &layer.blocks {
        match &block.paths {
            Paths::Segments(marks) => {
                for mark in marks {
                    stats.add_path(&mut beam_at, mark);
                }
            }
            Paths::Polylines { points, ends } => {
                let mut start = 0;
                for &end in ends {
                    stats.add_path(&mut beam_at, points.get(start..end as usize).unwrap_or(&[]));
                    start = end as usize;
                }
            }
        }
    }
    stats
}

impl PathStats {
    fn add_path(&mut self, beam_at: &mut Option<Point>, path: &[Point]) {
        let (Some(&first), Some(&last)) = (path.first(), path.last()) else { return };
        if let Some(from) = beam_at.filter(|&from| from != first) {
            self.jumps += 1;
            self.jump_length_mm += from.distance(first) / base::NM_PER_MM;
        }
        self.marks += path.len() as u64 - 1;
        self.mark_length_mm +=
            path.windows(2).map(|p| p[0].distance(p[1])).sum::<f64>() / base::NM_PER_MM;
        *beam_at = Some(last);
    }
}
