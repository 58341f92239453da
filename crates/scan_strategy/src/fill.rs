//! One region filled with hatch, divided and ordered.

use crate::divide::{self, Bands};
use crate::error::ExposeError;
use crate::frame::Frame;
use crate::order::{JumpsOf, order_pieces};
use crate::scanline::HatchScratch;
use base::{NM_PER_MM, Point};
use job::recipe::{Hatch, Pattern};
use region::Region;

/// What is to be filled: what the ends of lines may touch, gaps to contours already taken off.
///
/// Lines are cut at three regions, which is far cheaper than to make one of them.
#[derive(Clone, Copy, Debug)]
pub struct Area<'a> {
    /// Nothing beyond this.
    pub region: &'a Region,
    /// Nothing in here.
    pub without: Option<&'a Region>,
    /// Nothing beyond this either.
    pub within: Option<&'a Region>,
}

impl<'a> From<&'a Region> for Area<'a> {
    fn from(region: &'a Region) -> Self {
        Self { region, without: None, within: None }
    }
}

/// Memory that [`fill`] reuses from call to call.
#[derive(Clone, Debug, Default)]
pub struct FillScratch {
    along: HatchScratch,
    across: HatchScratch,
    other: HatchScratch,
}

/// Crosses an area with the lines of a frame.
fn cross(area: &Area<'_>, frame: &Frame, lines: &mut HatchScratch, other: &mut HatchScratch) {
    lines.cross(area.region, frame);
    for (cut_at, keep_within) in [(area.without, false), (area.within, true)] {
        if let Some(region) = cut_at {
            other.cross(region, frame);
            lines.cut(other, keep_within);
        }
    }
}

/// Marks that fill an area as `hatch` says, in the order they are run, on lines at an angle, degrees
/// from +X, and of a spacing, mm, which passes may have otherwise than `hatch`.
///
/// Starts near `beam_at` and leaves there where the beam ends. Lines, stripes and cells are
/// anchored to the origin of the build space and rotated with the scan angle.
///
/// # Errors
/// [`ExposeError::Spacing`], [`ExposeError::Division`] or [`ExposeError::Angle`] if the recipe's
/// numbers cannot be used.
pub fn fill<'a>(
    area: impl Into<Area<'a>>,
    hatch: &Hatch,
    lines: (f64, f64),
    beam_at: &mut Option<Point>,
    scratch: &mut FillScratch,
) -> Result<Vec<[Point; 2]>, ExposeError> {
    fill_by(area.into(), hatch, lines, None, beam_at, scratch)
}

/// The same as [`fill`], in an order whose jumps take little time.
pub(crate) fn fill_by(
    area: Area<'_>,
    hatch: &Hatch,
    (angle_deg, spacing_mm): (f64, f64),
    jumps: Option<JumpsOf<'_>>,
    beam_at: &mut Option<Point>,
    scratch: &mut FillScratch,
) -> Result<Vec<[Point; 2]>, ExposeError> {
    if !angle_deg.is_finite() {
        return Err(ExposeError::Angle { angle_deg });
    }
    let frame_at = |angle_deg| {
        Frame::new(angle_deg, spacing_mm * NM_PER_MM).ok_or(ExposeError::Spacing { spacing_mm })
    };
    let frame = frame_at(angle_deg)?;
    let min_length = hatch.min_length_mm * NM_PER_MM;
    let bands = |width_mm: f64, overlap_mm: f64| {
        Bands::new(width_mm * NM_PER_MM, overlap_mm * NM_PER_MM)
            .ok_or(ExposeError::Division { width_mm, overlap_mm })
    };
    let mut marks = Vec::new();
    cross(&area, &frame, &mut scratch.along, &mut scratch.other);
    match hatch.pattern {
        Pattern::Lines => {
            let pieces = divide::whole(&scratch.along, min_length);
            order_pieces(&pieces, &frame, hatch.travel, jumps, beam_at, &mut marks);
        }
        Pattern::Stripes { width_mm, overlap_mm } => {
            let bands = bands(width_mm, overlap_mm)?;
            let pieces = divide::stripes(&scratch.along, bands, min_length);
            order_pieces(&pieces, &frame, hatch.travel, jumps, beam_at, &mut marks);
        }
        Pattern::Cells { size_mm, overlap_mm, order } => {
            let bands = bands(size_mm, overlap_mm)?;
            let across = frame_at(angle_deg + 90.0)?;
            cross(&area, &across, &mut scratch.across, &mut scratch.other);
            let pieces = divide::cells(
                (&scratch.along, &frame),
                (&scratch.across, &across),
                bands,
                min_length,
            );
            let groups: Vec<_> = pieces.chunk_by(|a, b| a.0 == b.0).collect();
            let cells: Vec<_> = groups.iter().filter_map(|g| Some(g.first()?.0)).collect();
            for i in divide::cell_sequence(&cells, order) {
                let frame = if cells[i].is_along() { &frame } else { &across };
                let pieces: Vec<_> = groups[i].iter().map(|(_, piece)| *piece).collect();
                order_pieces(&pieces, frame, hatch.travel, jumps, beam_at, &mut marks);
            }
        }
    }
    Ok(marks)
}
