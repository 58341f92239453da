//! Pieces of hatch lines in an order with short jumps.
//!
//! Pieces on successive lines that lie beside each other are linked into columns: each piece to
//! the one that shares the longest stretch with it, where the choice is mutual. Around a hole a
//! column goes on along one side and another starts on the other. The beam runs a column from
//! line to line, then goes to the nearest end of any remaining column. O(n) for the columns plus
//! O(c log c) for `c` columns in ordinary layers.

use crate::divide::Piece;
use crate::frame::Frame;
use crate::nearest::Nearest;
use base::Point;
use job::recipe::Travel;

const NONE: u32 = u32::MAX;

/// Appends the marks of `pieces` to `out` in the order they are run, starting near `beam_at`, and
/// leaves in `beam_at` where the beam ends.
///
/// One-way: every mark runs in the scan direction. Serpentine: within a column every other mark
/// runs back; the first runs whichever way is nearest, so the way of a mark depends on the order,
/// not on its line. `pieces` must rise by stripe, line and place.
pub(crate) fn order_pieces(
    pieces: &[Piece],
    frame: &Frame,
    travel: Travel,
    beam_at: &mut Option<Point>,
    out: &mut Vec<[Point; 2]>,
) {
    let ends = |piece: &Piece| {
        let line = frame.line(piece.line);
        [line.at(piece.from), line.at(piece.to)]
    };
    let runs_back = match travel {
        Travel::Serpentine => true,
        Travel::OneWay => false,
    };
    let columns = Columns::new(pieces);
    let mut starts = Nearest::default();
    for column in columns.iter() {
        let [first, last] = [column.first(), column.last()]
            .map(|i| i.map_or([Point::default(); 2], |&i| ends(&pieces[i as usize])));
        if runs_back {
            starts.push_group([first[0], last[0], first[1], last[1]]);
        } else {
            starts.push_group([first[0], last[0]]);
        }
    }
    let mut starts = starts.build();
    out.reserve(pieces.len());
    while let Some((number, corner)) = starts.next(*beam_at) {
        starts.remove(number);
        let column = columns.get(number);
        let mut is_back = corner >= 2;
        let mut mark = |i: &u32| {
            let [a, b] = ends(&pieces[*i as usize]);
            out.push(if is_back { [b, a] } else { [a, b] });
            is_back ^= runs_back;
        };
        if corner % 2 == 0 {
            column.iter().for_each(&mut mark);
        } else {
            column.iter().rev().for_each(&mut mark);
        }
        *beam_at = out.last().map(|mark| mark[1]).or(*beam_at);
    }
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
