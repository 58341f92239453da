//! Ends of lines along walls, and whether a line was cut there: its energy may then be that of what lies beyond.

use super::along::{Lines, Place, SAME_NM, Widths};
use super::grid::{Xy, length};
use super::narrow::{is_surely_narrow, is_surely_wide};
use super::tracks::Mark;
use scan_path::RegionKind;

/// Energies may follow what lies beyond the end of a line that was cut, as far as this, nm.
const BEYOND_NM: f64 = 200_000.0;

/// An end of a line with the direction in which it would go on.
pub(super) struct End {
    pub(super) place: Place,
    ahead: Xy,
}

impl Lines<'_> {
    /// Both ends of an open line.
    pub(super) fn ends(&self, marks: &[Mark]) -> Vec<End> {
        let forth: Vec<Xy> = marks.iter().map(|mark| mark.ends.1).collect();
        let back: Vec<Xy> = marks.iter().rev().map(|mark| mark.ends.0).collect();
        let first = marks.first().map(|mark| mark.ends.0);
        let last = marks.last().map(|mark| mark.ends.1);
        let end = |at: Option<Xy>, inwards: &[Xy]| {
            let place = self.place(at?);
            // the last few points may bend on a nanometre's account
            let far = place.depth / 2.0;
            let away = |p: &&Xy| length([p[0] - place.at[0], p[1] - place.at[1]]) > far;
            let back = inwards.iter().find(away).or(inwards.last())?;
            let way = [place.at[0] - back[0], place.at[1] - back[1]];
            let long = length(way).max(1.0);
            Some(End { place, ahead: way.map(|c| c / long) })
        };
        [end(first, &forth), end(last, &back)].into_iter().flatten().collect()
    }

    /// Whether a line may have been cut at its end: where kinds of region meet, or where a wider place begins.
    pub(super) fn is_cut(&self, end: &End, region: RegionKind) -> bool {
        let p = end.place.at;
        if self.facing.is_border(p, SAME_NM) {
            return true;
        }
        // what of the middle of a thin wall lies where contours come in has none
        let single = self.required.half_single;
        if end.place.depth < single + 6_000.0 && !is_surely_narrow(self.walls, p, single) {
            return true;
        }
        self.required.walls(region).is_some_and(|rule| {
            (1..=rule.depths.len()).any(|ring| {
                let half = rule.half_from(ring);
                !is_surely_wide(self.walls, p, half) && !is_surely_narrow(self.walls, p, half)
            })
        })
    }

    /// Adds how wide the wall is further on.
    pub(super) fn add_beyond(&self, end: &End, widths: &mut Widths) {
        for part in [0.25, 0.5, 0.75, 1.0] {
            let at = [0, 1].map(|k| end.place.at[k] + part * BEYOND_NM * end.ahead[k]);
            widths.add(self.place(at).depth);
        }
    }
}
