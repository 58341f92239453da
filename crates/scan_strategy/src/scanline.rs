//! The hatch kernel: where parallel lines cross a region.
//!
//! 1. Every corner is turned into the hatch frame and given the index of the first line not
//!    below it (`ceil`). An edge crosses exactly the lines from its lower corner's index up to,
//!    not including, its higher corner's: a corner on a line counts as above it, so every ring
//!    crosses every line an even number of times.
//! 2. Crossings are counted per line with a difference array; along a chain of edges that keep
//!    rising or falling the differences cancel, so only turning points are written.
//! 3. Prefix sums turn counts into places; each edge then costs one division and each crossing
//!    one multiplication, one addition and one scattered store.
//! 4. The few crossings of each line are sorted. Between the first and second, third and fourth …
//!    the line is inside.
//!
//! O(corners + crossings + lines) for any bounded number of crossings per line. Edges are always
//! evaluated from their lower end, so two regions that share an edge are cut at the same places.

use crate::frame::{Frame, ceil};
use base::Point;
use region::Region;

/// Memory that [`hatch_lines`] reuses from call to call.
#[derive(Clone, Debug, Default)]
pub struct HatchScratch {
    corners: Vec<Corner>,
    /// `ends[i]`: end (exclusive) in `crossings` of the crossings of line `first_line + i`.
    ends: Vec<u32>,
    crossings: Vec<f64>,
    first_line: i32,
    crossing_count: usize,
}

#[derive(Clone, Copy, Debug, Default)]
struct Corner {
    /// Along the lines, nm.
    u: f64,
    /// Across the lines, in line numbers.
    f: f64,
    /// First line not below.
    k: i32,
}

/// Marks that fill `region`: on lines `angle_deg` from +X at `(k + ½) · spacing_nm` from the
/// origin of the build space, all running in the scan direction, line by line.
///
/// Appends to `out`. Adds nothing where the spacing is below
/// [`MIN_SPACING_NM`](crate::MIN_SPACING_NM) or a number is not finite. Ends are rounded to the
/// nearest nm and lie within 1 nm of the region.
pub fn hatch_lines(
    region: &Region,
    angle_deg: f64,
    spacing_nm: f64,
    scratch: &mut HatchScratch,
    out: &mut Vec<[Point; 2]>,
) {
    let Some(frame) = Frame::new(angle_deg, spacing_nm) else { return };
    scratch.cross(region, &frame);
    out.reserve(scratch.crossing_count / 2);
    for (k, crossings) in scratch.lines() {
        let line = frame.line(k);
        out.extend(crossings.chunks_exact(2).map(|pair| [line.at(pair[0]), line.at(pair[1])]));
    }
}

impl HatchScratch {
    /// Finds all crossings of `region` with the lines of `frame`; read them with [`Self::lines`].
    pub(crate) fn cross(&mut self, region: &Region, frame: &Frame) {
        self.place_corners(region, frame);
        self.count(region);
        self.scatter(region);
        let mut start = 0;
        for &end in &self.ends {
            sort(&mut self.crossings[start..end as usize]);
            start = end as usize;
        }
    }

    /// Leaves of every line only what lies within the other region, or only what does not; both were crossed
    /// with the same frame.
    pub(crate) fn cut(&mut self, other: &Self, keep_within: bool) {
        let mut theirs = other.lines().peekable();
        let mut left = Vec::with_capacity(self.crossing_count);
        let mut ends = Vec::with_capacity(self.ends.len());
        for (k, ours) in self.lines() {
            while theirs.next_if(|(line, _)| *line < k).is_some() {}
            let theirs = theirs.next_if(|(line, _)| *line == k).map_or(&[][..], |(_, them)| them);
            cut_line(ours, theirs, keep_within, &mut left);
            ends.push(u32::try_from(left.len()).unwrap_or(u32::MAX));
        }
        (self.crossing_count, self.ends, self.crossings) = (left.len(), ends, left);
    }

    /// Line numbers in rising order with their sorted crossings `u`, nm; an even number each.
    pub(crate) fn lines(&self) -> impl Iterator<Item = (i32, &[f64])> {
        let mut start = 0;
        let mut k = self.first_line;
        self.ends.iter().map(move |&end| {
            let line = (k, &self.crossings[start..end as usize]);
            start = end as usize;
            k += 1;
            line
        })
    }

    fn place_corners(&mut self, region: &Region, frame: &Frame) {
        self.corners.clear();
        self.corners.extend(region.points().iter().map(|&p| {
            // divided, not multiplied by a reciprocal: exact where a corner lies on a line
            let f = frame.v(p) / frame.spacing - 0.5;
            Corner { u: frame.u(p), f, k: ceil(f) }
        }));
    }

    /// Leaves in `ends` where each line's crossings start.
    fn count(&mut self, region: &Region) {
        let (lo, hi) = self
            .corners
            .iter()
            .fold((i32::MAX, i32::MIN), |(lo, hi), corner| (lo.min(corner.k), hi.max(corner.k)));
        self.ends.clear();
        self.crossing_count = 0;
        if lo >= hi {
            return; // no line is crossed
        }
        self.first_line = lo;
        self.ends.resize(lo.abs_diff(hi) as usize + 1, 0);
        let slot = |k: i32| k.abs_diff(lo) as usize;
        for ring in rings(region, &self.corners) {
            // `+1` where a chain starts, `−1` where it ends, in terms of rising lines. Wrapping
            // arithmetic: a difference may be negative, every prefix sum is a count.
            let mut from = ring[ring.len() - 1].k;
            let mut rising = None;
            for corner in ring {
                let to = corner.k;
                if to == from {
                    continue;
                }
                let now = to > from;
                if rising != Some(now) {
                    // the chain before ended at `from`, this one starts there: both count the
                    // same way (two tops meet or two bottoms)
                    let step = if now { 1u32 } else { 1u32.wrapping_neg() };
                    let chains = if rising.is_none() { 1 } else { 2 };
                    let difference = &mut self.ends[slot(from)];
                    *difference = difference.wrapping_add(step.wrapping_mul(chains));
                    rising = Some(now);
                }
                from = to;
            }
            if let Some(rising) = rising {
                let step = if rising { 1u32.wrapping_neg() } else { 1 };
                let difference = &mut self.ends[slot(from)];
                *difference = difference.wrapping_add(step);
            }
        }
        self.ends.pop(); // the line above the highest corner: nothing crosses it
        let (mut crossing, mut total) = (0u32, 0u32);
        for end in &mut self.ends {
            crossing = crossing.wrapping_add(*end);
            *end = total;
            total += crossing;
        }
        self.crossing_count = total as usize;
    }

    /// Stores every crossing at its line's place and moves `ends` from starts to ends.
    fn scatter(&mut self, region: &Region) {
        if self.crossings.len() < self.crossing_count {
            self.crossings.resize(self.crossing_count, 0.0);
        }
        let crossings = &mut self.crossings[..self.crossing_count];
        for ring in rings(region, &self.corners) {
            let mut from = ring[ring.len() - 1];
            for &to in ring {
                if from.k != to.k {
                    let (low, high) = if from.k < to.k { (from, to) } else { (to, from) };
                    let slope = (high.u - low.u) / (high.f - low.f);
                    let first = low.u + (f64::from(low.k) - low.f) * slope;
                    let range = low.k.abs_diff(self.first_line) as usize
                        ..high.k.abs_diff(self.first_line) as usize;
                    let mut steps = 0.0;
                    for place in &mut self.ends[range] {
                        crossings[*place as usize] = first + steps * slope;
                        *place += 1;
                        steps += 1.0;
                    }
                }
                from = to;
            }
        }
    }
}

/// Appends where `ours` within `theirs`, or outside of it, starts and ends; all rise, and every pair has a length.
fn cut_line(ours: &[f64], theirs: &[f64], keep_within: bool, left: &mut Vec<f64>) {
    let (mut i, mut j) = (0, 0);
    let mut is_kept = false;
    while i < ours.len() {
        let at = theirs.get(j).map_or(ours[i], |&other| other.min(ours[i]));
        i += ours[i..].iter().take_while(|&&u| u <= at).count();
        j += theirs[j..].iter().take_while(|&&u| u <= at).count();
        let is_kept_now = i % 2 == 1 && (j % 2 == 1) == keep_within;
        if is_kept != is_kept_now {
            left.push(at);
            is_kept = is_kept_now;
        }
    }
}

/// The corners of each ring.
fn rings<'a>(region: &Region, corners: &'a [Corner]) -> impl Iterator<Item = &'a [Corner]> {
    let mut start = 0;
    region.rings().map(move |ring| {
        let here = &corners[start..start + ring.len()];
        start += ring.len();
        here
    })
}

/// Sorts rising. Two and four crossings, by far the most frequent, without branches.
#[inline]
fn sort(values: &mut [f64]) {
    match values {
        [a, b] => order(a, b),
        [a, b, c, d] => {
            order(a, b);
            order(c, d);
            order(a, c);
            order(b, d);
            order(b, c);
        }
        _ if values.len() > 24 => values.sort_unstable_by(f64::total_cmp),
        _ => {
            for i in 1..values.len() {
                let value = values[i];
                let mut hole = i;
                while hole > 0 && values[hole - 1] > value {
                    values[hole] = values[hole - 1];
                    hole -= 1;
                }
                values[hole] = value;
            }
        }
    }
}

/// The smaller into `a`, the larger into `b`.
#[inline]
fn order(a: &mut f64, b: &mut f64) {
    let (x, y) = (*a, *b);
    *a = if x < y { x } else { y };
    *b = if x < y { y } else { x };
}
