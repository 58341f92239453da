//! Pieces of hatch lines in an order with short jumps.
//!
//! Pieces on successive lines that lie beside each other are linked into columns: each piece to
//! the one that shares the longest stretch with it, where the choice is mutual. Around a hole a
//! column goes on along one side and another starts on the other. The beam runs a column from
//! line to line, then goes to the nearest end of any remaining column. O(n) for the columns plus
//! O(c log c) for `c` columns in ordinary layers.
//!
//! Where the time of jumps is given, two things become better. A gap in a line that is crossed sooner than the beam
//! turns back joins its pieces, so that a narrow hole parts no column. And columns change places
//! ([`improve`](mod@crate::improve)).

use crate::divide::Piece;
use crate::frame::Frame;
use crate::improve::{Stop, Way, improve};
use crate::nearest::Nearest;
use base::{NM_PER_MM, Point};
use job::recipe::Travel;
use motion::Jumps;
use std::ops::Range;

const NONE: u32 = u32::MAX;

/// How the time of jumps is worked out for one exposure.
pub(crate) type JumpsOf<'a> = (&'a Jumps, u16);

/// Appends the marks of `pieces` to `out` in the order they are run, starting near `beam_at`, and
/// leaves in `beam_at` where the beam ends.
///
/// One-way: every mark runs in the scan direction. Serpentine: within a column every other line
/// runs back; the first runs whichever way is nearest, so the way of a mark depends on the order,
/// not on its line. `pieces` must rise by stripe, line and place. With the time of `jumps` gaps are crossed where
/// that is faster than to turn, and columns follow each other so that jumps are short; without, the nearest
/// is next.
pub(crate) fn order_pieces(
    pieces: &[Piece],
    frame: &Frame,
    travel: Travel,
    jumps: Option<JumpsOf<'_>>,
    beam_at: &mut Option<Point>,
    out: &mut Vec<[Point; 2]>,
) {
    let runs = match jumps {
        Some(jumps) => joined(pieces, frame, travel, jumps),
        None => pieces.iter().enumerate().map(|(i, piece)| (*piece, i..i + 1)).collect(),
    };
    let (lines, members): (Vec<Piece>, Vec<Range<usize>>) = runs.into_iter().unzip();
    let columns = Columns::new(&lines);
    let runs_back = travel == Travel::Serpentine;
    let mut order = nearest_next(&columns, &lines, frame, runs_back, *beam_at);
    if let Some((jumps, exposure)) = jumps {
        let ways: Vec<Vec<Way>> = columns
            .iter()
            .map(|column| ways(column, &lines, frame, runs_back, (jumps, exposure)))
            .collect();
        let from = beam_at.map(|at| jumps.leaving(exposure, at, [0.0; 2]));
        improve(&ways, &mut order, from, jumps);
    }
    out.reserve(pieces.len());
    for (number, corner) in order {
        let column = columns.get(number);
        let mut is_back = corner >= 2;
        let mut run = |line: &u32| {
            let of_line = &pieces[members[*line as usize].clone()];
            let mark = |piece: &Piece| {
                let [a, b] = ends(piece, frame);
                if is_back { [b, a] } else { [a, b] }
            };
            if is_back {
                out.extend(of_line.iter().rev().map(mark));
            } else {
                out.extend(of_line.iter().map(mark));
            }
            is_back ^= runs_back;
        };
        if corner % 2 == 0 {
            column.iter().for_each(&mut run);
        } else {
            column.iter().rev().for_each(&mut run);
        }
    }
    *beam_at = out.last().filter(|_| !pieces.is_empty()).map(|mark| mark[1]).or(*beam_at);
}

fn ends(piece: &Piece, frame: &Frame) -> [Point; 2] {
    let line = frame.line(piece.line);
    [line.at(piece.from), line.at(piece.to)]
}

/// Columns, each with the corner at which it is begun, always the one nearest to where the beam is then.
fn nearest_next(
    columns: &Columns,
    lines: &[Piece],
    frame: &Frame,
    runs_back: bool,
    mut beam_at: Option<Point>,
) -> Vec<Stop> {
    let corners = |column: &[u32]| {
        let ends = [column.first(), column.last()]
            .map(|i| i.map_or([Point::default(); 2], |&i| ends(&lines[i as usize], frame)));
        [ends[0][0], ends[1][0], ends[0][1], ends[1][1]]
    };
    let mut starts = Nearest::default();
    for column in columns.iter() {
        let corners = corners(column);
        starts.push_group(corners.into_iter().take(if runs_back { 4 } else { 2 }));
    }
    let mut starts = starts.build();
    let mut order = Vec::new();
    while let Some((number, corner)) = starts.next(beam_at) {
        starts.remove(number);
        order.push((number, corner));
        let column = columns.get(number);
        let (end, ends_back) = end_of(corner, column.len(), runs_back);
        beam_at = corners(column).get(end + if ends_back { 0 } else { 2 }).copied();
    }
    order
}

/// Of a column begun at a corner: whether its last line is the first one listed, 0, or the last one, 1, and
/// whether that runs back.
fn end_of(corner: usize, lines: usize, runs_back: bool) -> (usize, bool) {
    let is_even = lines.is_multiple_of(2);
    (1 - corner % 2, (corner >= 2) ^ (runs_back && is_even))
}

/// The ways to run a column, by the corner at which it is begun.
fn ways(
    column: &[u32],
    lines: &[Piece],
    frame: &Frame,
    runs_back: bool,
    (jumps, exposure): JumpsOf<'_>,
) -> Vec<Way> {
    let direction = frame.direction();
    let signed = |is_back: bool| direction.map(|x| if is_back { -x } else { x });
    let end = |number: usize, is_last: bool| {
        let line = if number == 0 { column.first() } else { column.last() };
        line.map_or(Point::default(), |i| ends(&lines[*i as usize], frame)[usize::from(is_last)])
    };
    (0..if runs_back { 4 } else { 2 })
        .map(|corner| {
            let is_back = corner >= 2;
            let (last, ends_back) = end_of(corner, column.len(), runs_back);
            Way {
                enter: jumps.entering(exposure, end(corner % 2, is_back), signed(is_back)),
                leave: jumps.leaving(exposure, end(last, !ends_back), signed(ends_back)),
                back: last + if runs_back && !ends_back { 2 } else { 0 },
            }
        })
        .collect()
}

/// Lines of the hatch, each with its pieces: those between which the beam goes straight on, since to come back for
/// the farther one would take longer.
fn joined(
    pieces: &[Piece],
    frame: &Frame,
    travel: Travel,
    (jumps, exposure): JumpsOf<'_>,
) -> Vec<(Piece, Range<usize>)> {
    let along = frame.direction();
    let mm = |nm: f64| nm / NM_PER_MM;
    let by =
        |way: f64, side: f64| [way * along[0] - side * along[1], way * along[1] + side * along[0]];
    let spacing = mm(frame.spacing);
    let leave = jumps.leaving(exposure, Point::default(), along);
    let enter = jumps.entering(exposure, Point::default(), along);
    let back = jumps.entering(exposure, Point::default(), along.map(|x| -x));
    let turn_s = jumps.time_s(&leave, &back.shifted(by(0.0, spacing)));
    // one-way: from the end of a stretch to the start of that beside it
    let return_s = |length: f64| jumps.time_s(&leave, &enter.shifted(by(-length, spacing)));
    let mut runs: Vec<(Piece, Range<usize>)> = Vec::with_capacity(pieces.len());
    for (i, piece) in pieces.iter().enumerate() {
        let Some((run, members)) = runs.last_mut() else {
            runs.push((*piece, i..i + 1));
            continue;
        };
        let ahead = enter.shifted(by(mm(piece.from - run.to), 0.0));
        let pays = |saved_s: &dyn Fn() -> f64| {
            jumps.at_least_s(&leave, &ahead) < saved_s() && jumps.time_s(&leave, &ahead) < saved_s()
        };
        let is_on_line = (run.stripe, run.line) == (piece.stripe, piece.line);
        let pays = is_on_line
            && match travel {
                Travel::Serpentine => pays(&|| turn_s),
                Travel::OneWay => pays(&|| {
                    let apart =
                        return_s(mm(run.to - run.from)) + return_s(mm(piece.to - piece.from));
                    apart - return_s(mm(piece.to - run.from))
                }),
            };
        if pays {
            run.to = piece.to;
            members.end = i + 1;
        } else {
            runs.push((*piece, i..i + 1));
        }
    }
    runs
}

/// Chains of pieces on successive lines.
struct Columns {
    /// Indices of pieces, column by column.
    pieces: Vec<u32>,
    /// End (exclusive) in `pieces` of each column.
    ends: Vec<u32>,
}

impl Columns {
    #[expect(clippy::cast_possible_truncation, reason = "fewer than 2³² pieces in a layer")]
    fn new(pieces: &[Piece]) -> Self {
        // the piece on the next / previous line that shares the longest stretch
        let mut next = vec![NONE; pieces.len()];
        let mut previous = vec![NONE; pieces.len()];
        let mut longest_next = vec![0.0; pieces.len()];
        let mut longest_previous = vec![0.0; pieces.len()];
        let line_end = |start: usize| {
            let here = pieces[start];
            let same = |p: &&Piece| p.line == here.line && p.stripe == here.stripe;
            start + pieces[start..].iter().take_while(same).count()
        };
        let (mut start, mut middle) = (0, 0);
        while middle < pieces.len() {
            let end = line_end(middle);
            let follows = start < middle
                && pieces[start].stripe == pieces[middle].stripe
                && pieces[start].line + 1 == pieces[middle].line;
            let (mut i, mut j) = (if follows { start } else { middle }, middle);
            while i < middle && j < end {
                let (a, b) = (pieces[i], pieces[j]);
                let shared = a.to.min(b.to) - a.from.max(b.from);
                if shared > longest_next[i] {
                    (longest_next[i], next[i]) = (shared, j as u32);
                }
                if shared > longest_previous[j] {
                    (longest_previous[j], previous[j]) = (shared, i as u32);
                }
                if a.to < b.to { i += 1 } else { j += 1 }
            }
            (start, middle) = (middle, end);
        }
        let mut columns = Self { pieces: Vec::with_capacity(pieces.len()), ends: Vec::new() };
        for first in 0..pieces.len() {
            let before = previous[first];
            if before != NONE && next[before as usize] as usize == first {
                continue; // not the first of its column
            }
            let mut at = first as u32;
            loop {
                columns.pieces.push(at);
                let after = next[at as usize];
                if after == NONE || previous[after as usize] != at {
                    break;
                }
                at = after;
            }
            columns.ends.push(columns.pieces.len() as u32);
        }
        columns
    }

    fn get(&self, number: usize) -> &[u32] {
        let start = if number == 0 { 0 } else { self.ends[number - 1] as usize };
        &self.pieces[start..self.ends[number] as usize]
    }

    fn iter(&self) -> impl Iterator<Item = &[u32]> {
        (0..self.ends.len()).map(|number| self.get(number))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motion::{Corners, Head};
    use scan_path::{ExposureRow, Header};

    /// Ten lines of 10 mm, 0.2 mm apart, with a gap in the middle.
    fn marks(gap_mm: f64, travel: Travel, with_jumps: bool) -> Vec<[Point; 2]> {
        let row = ExposureRow {
            speed_mm_s: 4000.0,
            path_run_in_mm: 0.8,
            path_run_out_mm: 0.8,
            ..ExposureRow::default()
        };
        let header = Header { jump_speed_mm_s: 8000.0, exposures: vec![row], ..Header::default() };
        let head = Head {
            acceleration_mm_s2: [1e7, 1e7],
            jerk_mm_s3: None,
            settle_s: 0.0,
            corners: Corners::SlowDown,
            corner_tolerance_mm: 0.01,
        };
        let jumps = Jumps::new(&header, Some(&head));
        let frame = Frame::new(0.0, 0.2 * NM_PER_MM).unwrap();
        let piece = |line, from: f64, to: f64| Piece {
            stripe: 0,
            line,
            from: from * NM_PER_MM,
            to: to * NM_PER_MM,
        };
        let pieces: Vec<_> = (0..10)
            .flat_map(|k| [piece(k, 0.0, 5.0), piece(k, 5.0 + gap_mm, 10.0 + gap_mm)])
            .collect();
        let (mut out, mut beam_at) = (Vec::new(), None);
        let jumps = with_jumps.then_some((&jumps, 0));
        order_pieces(&pieces, &frame, travel, jumps, &mut beam_at, &mut out);
        assert_eq!(beam_at, out.last().map(|mark| mark[1]));
        out
    }

    /// How many marks lie on the line of the one before.
    fn crossed(marks: &[[Point; 2]]) -> usize {
        marks.windows(2).filter(|pair| pair[0][0].y == pair[1][0].y).count()
    }

    #[test]
    fn gaps_are_crossed_where_that_is_faster_than_to_turn() {
        // to turn back takes 2v/a = 0.8 ms; in 0.8 ms the beam gets 4000·0.8e-3 + 1e7·0.8e-3²/4 = 4.8 mm on
        // (beyond that once, from the one column of lines to the other)
        for (gap_mm, lines) in [(0.3, 10), (4.7, 10), (4.9, 1)] {
            let marks = marks(gap_mm, Travel::Serpentine, true);
            assert_eq!((marks.len(), crossed(&marks)), (20, lines), "{gap_mm} mm");
            let ways: Vec<bool> = marks.iter().map(|mark| mark[0].x < mark[1].x).collect();
            if lines > 1 {
                // every other line runs back, both its pieces
                assert!(ways.chunks(2).all(|line| line[0] == line[1]));
                assert!(ways.chunks(2).zip(ways.chunks(2).skip(1)).all(|(a, b)| a != b));
            }
        }
        assert!(crossed(&marks(0.3, Travel::Serpentine, false)) <= 1, "nearest next");
        let one_way = marks(2.0, Travel::OneWay, true);
        assert_eq!(crossed(&one_way), 10);
        assert!(one_way.iter().all(|mark| mark[0].x < mark[1].x));
    }
}
