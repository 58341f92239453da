//! Centrelines cut where what they get changes.

use base::Point;
use region::Centreline;

/// A wall's width is looked at in steps of at most this, nm: a twentieth of what a step of the energy
/// is worth.
const WIDTH_STEP_NM: f64 = 2_000.0;

/// Part of a centreline that gets one thing throughout.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stretch<T> {
    pub(crate) what: T,
    pub(crate) line: Centreline,
}

/// A stretch while it is being found: what it gets, its length, nm, its points with half widths.
struct Piece<T> {
    what: T,
    length: f64,
    points: Vec<(Point, i32)>,
}

/// Cuts a centreline into stretches by what its local width asks for. Stretches shorter than
/// `shortest_nm` are joined, so that noise of the surface does not shatter a line; the line as a
/// whole is never cut shorter.
pub(crate) fn stretches<T: Copy + PartialEq>(
    line: &Centreline,
    shortest_nm: f64,
    what: impl Fn(f64) -> T,
) -> Vec<Stretch<T>> {
    let mut pieces: Vec<Piece<T>> = Vec::new();
    let nodes: Vec<(Point, i32)> =
        line.points.iter().copied().zip(line.half_widths_nm.iter().copied()).collect();
    for pair in nodes.windows(2) {
        let mut is_step = false;
        for (from, to) in fine_steps(pair[0], pair[1]) {
            let here = what(f64::from(from.1) + f64::from(to.1));
            let length = from.0.distance(to.0);
            match pieces.last_mut() {
                Some(last) if last.what == here => {
                    last.length += length;
                    last.points.truncate(last.points.len() - usize::from(is_step));
                    last.points.push(to);
                }
                _ => pieces.push(Piece { what: here, length, points: vec![from, to] }),
            }
            is_step = true;
        }
    }
    if line.closed && pieces.len() > 1 && pieces[0].what == pieces[pieces.len() - 1].what {
        // the ring starts within a stretch
        if let Some(mut last) = pieces.pop() {
            last.length += pieces[0].length;
            last.points.extend_from_slice(&pieces[0].points[1..]);
            pieces[0] = last;
        }
    }
    merge_short(&mut pieces, shortest_nm);
    let is_ring = line.closed && pieces.len() == 1;
    let stretch = |Piece { what, points, .. }: Piece<T>| {
        let (points, half_widths_nm) = without_stops(&points).into_iter().unzip();
        Stretch { what, line: Centreline { points, half_widths_nm, closed: is_ring } }
    };
    pieces.into_iter().map(stretch).filter(|stretch| stretch.line.points.len() > 1).collect()
}

/// A straight piece divided so that its width hardly changes within a part.
fn fine_steps(
    from: (Point, i32),
    to: (Point, i32),
) -> impl Iterator<Item = ((Point, i32), (Point, i32))> {
    let change = 2.0 * (f64::from(to.1) - f64::from(from.1)).abs();
    let length = from.0.distance(to.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    let count = (change / WIDTH_STEP_NM).min(length).ceil().clamp(1.0, 10_000.0) as u32;
    let at = move |i: u32| {
        let t = f64::from(i) / f64::from(count);
        #[expect(clippy::cast_possible_truncation, reason = "between two grid points")]
        let mix =
            |a: i32, b: i32| (f64::from(a) + t * (f64::from(b) - f64::from(a))).round() as i32;
        (Point::new(mix(from.0.x, to.0.x), mix(from.0.y, to.0.y)), mix(from.1, to.1))
    };
    (0..count).map(move |i| (at(i), at(i + 1)))
}

/// Joins stretches that are too short with those after them until they are long enough, and gives them what
/// the middle of all asks for: in a tapering wall every one is short, and each has to stay near what its own
/// width wants. What is left over before a long one, or at the end, goes to a neighbour.
fn merge_short<T: Copy + PartialEq>(pieces: &mut Vec<Piece<T>>, shortest_nm: f64) {
    let mut merged: Vec<Piece<T>> = Vec::new();
    let mut short: Vec<Piece<T>> = Vec::new();
    for piece in pieces.drain(..) {
        if piece.length < shortest_nm {
            short.push(piece);
            if short.iter().map(|piece| piece.length).sum::<f64>() >= shortest_nm {
                merged.extend(joined(&mut short));
            }
        } else {
            let left_over = joined(&mut short);
            merged.push(piece);
            if let Some(left_over) = left_over {
                give_to_longer(&mut merged, left_over);
            }
        }
    }
    if let Some(left_over) = joined(&mut short) {
        match merged.last_mut() {
            Some(last) => last.append(&left_over),
            None => merged.push(left_over),
        }
    }
    for piece in merged {
        match pieces.last_mut() {
            Some(last) if last.what == piece.what => last.append(&piece),
            _ => pieces.push(piece),
        }
    }
}

/// Gives what lies between the last piece and the one before it to the longer one.
fn give_to_longer<T: Copy>(merged: &mut Vec<Piece<T>>, between: Piece<T>) {
    let Some(mut last) = merged.pop() else { return };
    match merged.last_mut() {
        Some(before) if before.length >= last.length => before.append(&between),
        _ => {
            let what = last.what;
            last = Piece { what, ..between.followed_by(&last) };
        }
    }
    merged.push(last);
}

/// One piece of several that follow each other, with what the one in the middle of their length gets.
fn joined<T: Copy>(pieces: &mut Vec<Piece<T>>) -> Option<Piece<T>> {
    let half = pieces.iter().map(|piece| piece.length).sum::<f64>() / 2.0;
    let mut so_far = 0.0;
    let middle = pieces.iter().find(|piece| {
        so_far += piece.length;
        so_far >= half
    });
    let what = middle?.what;
    let all = pieces.drain(..).reduce(|all, next| all.followed_by(&next))?;
    Some(Piece { what, ..all })
}

impl<T> Piece<T> {
    fn append(&mut self, next: &Self) {
        self.length += next.length;
        self.points.extend_from_slice(&next.points[1..]);
    }

    fn followed_by(mut self, next: &Self) -> Self {
        self.append(next);
        self
    }
}

/// Leaves out points where stretches were joined on a straight piece: those that change neither way nor
/// width beyond a few nanometres.
fn without_stops(points: &[(Point, i32)]) -> Vec<(Point, i32)> {
    let mut kept: Vec<(Point, i32)> = Vec::new();
    for (i, &here) in points.iter().enumerate() {
        if kept.last().is_some_and(|last| last.0 == here.0) {
            continue;
        }
        let is_on_the_way = kept.last().zip(points.get(i + 1)).is_some_and(|(&before, &after)| {
            let whole = before.0.distance(after.0);
            if whole < 1.0 {
                return false;
            }
            #[expect(clippy::cast_precision_loss, reason = "an area of a few mm²")]
            let aside = before.0.cross(after.0, here.0).abs() as f64 / whole;
            let t = before.0.distance(here.0) / whole;
            let width = f64::from(before.1) + t * (f64::from(after.1) - f64::from(before.1));
            aside < 2.0 && (width - f64::from(here.1)).abs() < 20.0
        });
        if !is_on_the_way {
            kept.push(here);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wedge() -> Centreline {
        let points = vec![Point::new(0, 0), Point::new(10_000_000, 0)];
        Centreline { points, half_widths_nm: vec![100_000, 300_000], closed: false }
    }

    #[test]
    fn a_wedge_is_cut_where_its_width_says() {
        let cut = stretches(&wedge(), 100_000.0, |width| width >= 400_000.0);
        assert_eq!(cut.iter().map(|s| s.what).collect::<Vec<_>>(), [false, true]);
        assert_eq!(cut[0].line.points.len(), 2);
        assert!((f64::from(cut[0].line.points[1].x) - 5e6).abs() < 60_000.0);
        assert_eq!(cut[0].line.points[1], cut[1].line.points[0]);
    }

    /// Where a wall tapers so fast that every step is short, each stretch is about as long as it must be, and no
    /// width gets what one farther away than that wants.
    #[test]
    fn a_steep_taper_gets_what_its_own_width_wants() {
        let points = vec![Point::new(0, 0), Point::new(1_000_000, 0), Point::new(3_000_000, 0)];
        let taper =
            Centreline { points, half_widths_nm: vec![100_000, 300_000, 300_000], closed: false };
        #[expect(clippy::cast_possible_truncation, reason = "steps of a width")]
        let step = |width: f64| (width / 10_000.0).round() as i32; // 0.025 mm along the line
        let cut = stretches(&taper, 100_000.0, step);
        assert!(cut.len() > 8, "{}", cut.len());
        for Stretch { what, line } in cut {
            for half in line.half_widths_nm {
                let apart = f64::from(2 * half) - f64::from(what) * 10_000.0;
                assert!(apart.abs() < 45_000.0, "{half} gets {what}"); // 0.1 mm of the line
            }
        }
    }

    #[test]
    fn short_stretches_join_their_neighbours_and_nothing_is_lost() {
        let blips = |width: f64| ((400_000.0..404_000.0).contains(&width), width > 500_000.0);
        let cut = stretches(&wedge(), 300_000.0, blips);
        assert_eq!(cut.len(), 2);
        let length: f64 = cut.iter().map(|stretch| stretch.line.length_nm()).sum();
        assert!((length - 1e7).abs() < 10.0, "{length}");
        assert_eq!(stretches(&wedge(), 1e9, f64::to_bits).len(), 1);
    }
}
