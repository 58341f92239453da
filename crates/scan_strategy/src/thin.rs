//! Walls too narrow for two contours: centrelines, and an account of what is lost.

use crate::body::{Body, SHORTEST_STRETCH_NM, length_mm};
use crate::error::ExposeError;
use crate::polyline::Polyline;
use crate::walls::caps::lengthened;
use crate::walls::energy::{energy_factor, step_for};
use crate::walls::line::line_energy;
use crate::walls::melt::Melt;
use crate::walls::rules::UNDECIDED_NM;
use crate::walls::stretches::{Stretch, stretches};
use base::{NM_PER_MM, Point};
use job::Recipe;
use job::recipe::ThinWalls;
use region::{Centreline, CentrelineError, Containment, Region, clip_polyline, inset_with_lost};

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

/// Walls too narrow for contours while the islands of a section are gone through.
pub(crate) struct Rescue<'a> {
    policy: &'a ThinWalls,
    melt: Melt,
    /// Energy per length of the named exposure, J/mm; 0 if there is none.
    energy_j_mm: f64,
    /// Width below which a wall gets one centreline, nm.
    single_below: i32,
    pub(crate) report: ThinReport,
    /// Centrelines with the step of their energy.
    pub(crate) lines: Vec<(i32, Polyline)>,
}

impl<'a> Rescue<'a> {
    pub(crate) fn new(
        recipe: &'a Recipe,
        melt: Melt,
        single_below: i32,
    ) -> Result<Self, ExposeError> {
        let policy = &recipe.thin_walls;
        let energy_j_mm = match policy {
            ThinWalls::Expose { exposure, .. } => line_energy(recipe, exposure)?,
            ThinWalls::Skip => 0.0,
        };
        let (report, lines) = (ThinReport::default(), Vec::new());
        Ok(Self { policy, melt, energy_j_mm, single_below, report, lines })
    }

    /// Finds the centrelines of one island, and accounts for its thin walls. Middles of walls up to
    /// `narrow_below` stay with the body.
    pub(crate) fn add(&mut self, body: &mut Body, narrow_below: i32) -> Result<(), ExposeError> {
        let &ThinWalls::Expose { min_length_mm, min_width_mm, .. } = self.policy else {
            self.lose_all(body);
            return Ok(());
        };
        let least = (min_length_mm, min_width_mm);
        body.find_middles(narrow_below.max(self.single_below), least)?;
        if !body.middles().failures.is_empty() {
            // one island went in, so nothing else was found
            self.report.failures.extend(body.middles().failures.iter().cloned());
            self.lose_all(body);
            return Ok(());
        }
        let pieces = body.narrow(self.single_below / 2).islands();
        let exposed = self.singles(body);
        let found = body.middles();
        let lines: Vec<&Centreline> = exposed.iter().map(|stretch| &stretch.line).collect();
        let shares = shares(&pieces, &lines, &found.too_thin.iter().collect::<Vec<_>>());
        for (piece, [exposed, too_thin]) in pieces.iter().zip(shares) {
            let area = piece.area_mm2();
            let share = if exposed > 0.0 { exposed / (exposed + too_thin) } else { 0.0 };
            self.report.rescued_area_mm2 += area * share;
            self.lose_area(piece, area * (1.0 - share));
        }
        self.report.rescued_length_mm += length_mm(lines);
        self.report.lost_length_mm +=
            length_mm(&found.too_thin) + found.too_short_length_nm / NM_PER_MM;
        Ok(())
    }

    /// The stretches of middles that are too narrow for two contours, each with the step of the energy
    /// that melts its width. Short necks between contours that pass them are none, nor are walls that have
    /// their contours after all.
    fn singles(&mut self, body: &mut Body) -> Vec<Stretch<i32>> {
        let (melt, named) = (self.melt, self.energy_j_mm);
        let below = f64::from(self.single_below) + UNDECIDED_NM;
        let step = |width: f64| {
            let energy = melt.energy_for_width(width / NM_PER_MM);
            (width < below).then(|| step_for(energy / named))
        };
        let too_narrow = body.narrow(self.single_below / 2).clone();
        let mut singles = Vec::new();
        for (line, caps) in body.lines() {
            for Stretch { what, line: stretch } in stretches(line, SHORTEST_STRETCH_NM, step) {
                let Some(step) = what else { continue };
                if clip_polyline(&stretch.points, &too_narrow).is_empty() {
                    continue;
                }
                let reach = melt.reach_beyond_end(named * energy_factor(step)) * NM_PER_MM;
                let points = lengthened(&stretch, line, caps, |width| width / 2.0 - reach);
                self.lines.push((step, Polyline { points, is_closed: stretch.closed }));
                singles.push(Stretch { what: step, line: stretch });
            }
        }
        singles
    }

    /// Accounts for walls without middles: what the inset loses.
    fn lose_all(&mut self, body: &Body) {
        let lost = inset_with_lost(&body.island, self.single_below / 2, body.join).lost;
        for piece in &lost.islands() {
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
fn shares(pieces: &[Region], lines: &[&Centreline], too_thin: &[&Centreline]) -> Vec<[f64; 2]> {
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
