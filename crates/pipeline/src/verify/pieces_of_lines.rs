//! How lines of the hatch are divided: not at all, by stripes, by cells.

use super::expected::TOLERANCE_NM;
use job::recipe::Pattern;

/// Bands of equal pitch, nm, that reach into their neighbours by half the overlap on both sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Division {
    Whole,
    Stripes { pitch: f64, overlap: f64 },
    Cells { pitch: f64, overlap: f64 },
}

/// A stretch of a line, from and to, nm.
pub(super) type Stretch = (f64, f64);

const NM: f64 = base::NM_PER_MM;

impl Division {
    pub(super) fn new(pattern: &Pattern) -> Self {
        let bands =
            |width_mm: f64, overlap_mm: f64| ((width_mm - overlap_mm) * NM, overlap_mm * NM);
        match *pattern {
            Pattern::Lines => Self::Whole,
            Pattern::Stripes { width_mm, overlap_mm } => {
                let (pitch, overlap) = bands(width_mm, overlap_mm);
                Self::Stripes { pitch, overlap }
            }
            Pattern::Cells { size_mm, overlap_mm, order: _ } => {
                let (pitch, overlap) = bands(size_mm, overlap_mm);
                Self::Cells { pitch, overlap }
            }
        }
    }

    /// Whether half of the cells are hatched across the scan angle.
    pub(super) fn is_crossed(self) -> bool {
        matches!(self, Self::Cells { .. })
    }

    /// Cuts a stretch of the line at `v` into pieces. `visit` gets each, and whether the line certainly
    /// belongs to the cell.
    pub(super) fn cut(self, (from, to): Stretch, v: f64, mut visit: impl FnMut(Stretch, bool)) {
        match self {
            Self::Whole => visit((from, to), true),
            Self::Stripes { pitch, overlap } => {
                each_band(pitch, overlap, from, to, |_, piece| visit(piece, true));
            }
            Self::Cells { pitch, overlap } => {
                let near = TOLERANCE_NM;
                each_band(pitch, overlap, v - near, v + near, |beside, (low, high)| {
                    let is_certain = high - low > 1.5 * near;
                    each_band(pitch, overlap, from, to, |ahead, piece| {
                        // Cells lie like the fields of a chess board. Seen across the scan angle, rows
                        // are columns, and counted from the other side, −1 − i: what is odd
                        // in the one view is even in the other.
                        if (beside + ahead) % 2 == 0 {
                            visit(piece, is_certain);
                        }
                    });
                });
            }
        }
    }
}

/// The parts of a stretch in each band that it touches: band `i` is
/// `i · pitch − overlap/2 … (i + 1) · pitch + overlap/2`.
fn each_band(pitch: f64, overlap: f64, from: f64, to: f64, mut visit: impl FnMut(i64, Stretch)) {
    let half = overlap / 2.0;
    let mut band = ((from - half) / pitch).floor();
    while band * pitch - half < to {
        let piece = (from.max(band * pitch - half), to.min((band + 1.0) * pitch + half));
        if piece.1 > piece.0 {
            #[expect(clippy::cast_possible_truncation, reason = "the grid over a pitch of 10 µm")]
            visit(band as i64, piece);
        }
        band += 1.0;
    }
}
