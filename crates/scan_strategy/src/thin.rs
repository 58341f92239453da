//! Walls thinner than twice the beam offset: centrelines, and an account of what is lost.

use crate::error::ExposeError;
use crate::expose::distance_nm;
use crate::polyline::Polyline;
use base::{NM_PER_MM, Point};
use job::recipe::ThinWalls;
use region::{Centreline, CentrelineError, CentrelineOptions, Containment, Region, centrelines};

/// How far a centreline may lie from the true middle, nm: far below any beam's width, and coarse
/// enough to leave out the noise of a triangulated surface.
const CHORD_TOLERANCE_NM: u32 = 5_000;

/// What became of the walls that contours do not reach, in one layer of one placement.
///
/// The areas add up to the area that growing the inset section back does not recover. Where no
/// centreline was sought, lengths are those of rectangles with the same area and perimeter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ThinReport {
    /// Length of the centrelines that are exposed, mm.
    pub rescued_length_mm: f64,
    /// Area of the walls along them, mm².
    pub rescued_area_mm2: f64,
    /// Length of walls left out, too thin, too short or by the recipe, mm.
    pub lost_length_mm: f64,
    /// Area of walls left out, mm².
    pub lost_area_mm2: f64,
    /// A point on the largest piece left out, for people to look at.
    pub largest_lost_at: Option<Point>,
    /// Area of that piece, mm².
    pub largest_lost_mm2: f64,
    /// Why islands have no centrelines, if so; their thin walls count as lost.
    pub failures: Vec<CentrelineError>,
}

/// Pieces of the account while it is being made.
pub(crate) struct Rescue<'a> {
    pub(crate) policy: &'a ThinWalls,
    pub(crate) beam_offset_nm: i32,
    pub(crate) report: ThinReport,
    pub(crate) lines: Vec<Polyline>,
}

impl<'a> Rescue<'a> {
    pub(crate) fn new(policy: &'a ThinWalls, beam_offset_nm: i32) -> Self {
        let (report, lines) = (ThinReport::default(), Vec::new());
        Self { policy, beam_offset_nm, report, lines }
    }

    /// Accounts for one island and what its inset lost.
    pub(crate) fn add(&mut self, island: &Region, lost: &Region) -> Result<(), ExposeError> {
        if lost.is_empty() {
            return Ok(());
        }
        let pieces = lost.islands();
        let &ThinWalls::Expose { min_length_mm, min_width_mm, .. } = self.policy else {
            self.lose(&pieces);
            return Ok(());
        };
        let found = centrelines(
            island,
            &CentrelineOptions {
                max_half_width_nm: self.beam_offset_nm,
                min_half_width_nm: distance_nm("a least width of thin walls", min_width_mm / 2.0)?,
                min_length_nm: distance_nm("a least length of centrelines", min_length_mm)?,
                chord_tolerance_nm: CHORD_TOLERANCE_NM,
            },
        );
        if !found.failures.is_empty() {
            // one island went in, so nothing else was found
            self.report.failures.extend(found.failures);
            self.lose(&pieces);
            return Ok(());
        }
        let shares = shares(&pieces, &found.lines, &found.too_thin);
        for (piece, [exposed, too_thin]) in pieces.iter().zip(shares) {
            let area = piece.area_mm2();
            let share = if exposed > 0.0 { exposed / (exposed + too_thin) } else { 0.0 };
            self.report.rescued_area_mm2 += area * share;
            self.lose_area(piece, area * (1.0 - share));
        }
        let length_mm =
            |lines: &[Centreline]| lines.iter().map(Centreline::length_nm).sum::<f64>() / NM_PER_MM;
        self.report.rescued_length_mm += length_mm(&found.lines);
        self.report.lost_length_mm +=
            length_mm(&found.too_thin) + found.too_short_length_nm / NM_PER_MM;
        self.lines.extend(found.lines.into_iter().map(|line| {
            let mut points = line.points;
            if line.closed {
                points.pop();
            }
            Polyline { points, is_closed: line.closed }
        }));
        Ok(())
    }

    fn lose(&mut self, pieces: &[Region]) {
        for piece in pieces {
            self.report.lost_length_mm += rectangle_length_mm(piece);
            self.lose_area(piece, piece.area_mm2());
        }
    }

    fn lose_area(&mut self, piece: &Region, area_mm2: f64) {
        self.report.lost_area_mm2 += area_mm2;
        if area_mm2 > self.report.largest_lost_mm2 {
            self.report.largest_lost_mm2 = area_mm2;
            self.report.largest_lost_at = piece.points().first().copied();
        }
    }
}

/// The longer side of the rectangle with the same area and perimeter, mm.
fn rectangle_length_mm(piece: &Region) -> f64 {
    let (area, perimeter) = (piece.area_mm2(), piece.perimeter_mm());
    (perimeter + (perimeter * perimeter - 16.0 * area).max(0.0).sqrt()) / 4.0
}

/// For each piece, how much area exposed and too thin lines account for; only the ratio counts.
fn shares(pieces: &[Region], lines: &[Centreline], too_thin: &[Centreline]) -> Vec<[f64; 2]> {
    let bounds: Vec<_> = pieces.iter().map(Region::bounds).collect();
    let mut shares = vec![[0.0; 2]; pieces.len()];
    for (which, lines) in [lines, too_thin].into_iter().enumerate() {
        for line in lines {
            for (ends, widths) in line.points.windows(2).zip(line.half_widths_nm.windows(2)) {
                let (a, b) = (ends[0], ends[1]);
                let area = a.distance(b) * (f64::from(widths[0]) + f64::from(widths[1]));
                let middle = Point::new(i32::midpoint(a.x, b.x), i32::midpoint(a.y, b.y));
                for p in [a, middle, b] {
                    if let Some(i) = piece_at(p, pieces, &bounds) {
                        shares[i][which] += area;
                    }
                }
            }
        }
    }
    shares
}

/// The piece that a point of a centreline belongs to.
fn piece_at(p: Point, pieces: &[Region], bounds: &[Option<(Point, Point)>]) -> Option<usize> {
    let is_near = |b: &Option<(Point, Point)>| {
        b.is_some_and(|(lo, hi)| lo.x <= p.x && p.x <= hi.x && lo.y <= p.y && p.y <= hi.y)
    };
    let mut near = bounds.iter().enumerate().filter(|(_, b)| is_near(b)).map(|(i, _)| i);
    let first = near.next()?;
    match near.next() {
        None => Some(first), // no other comes into question: the exact test is not worth its time
        Some(second) => [first, second]
            .into_iter()
            .chain(near)
            .find(|&i| pieces[i].contains(p) != Containment::Outside),
    }
}
