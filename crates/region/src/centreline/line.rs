//! From paths to centrelines: simplified, cut at the least width, rounded, filtered, oriented.

use super::chain::Path;
use super::simplify::mark_kept;
use super::types::{Centreline, CentrelineOptions, Centrelines};
use base::Point;

/// Adds the centrelines on one path to what was found.
pub(super) fn collect(path: &Path, options: &CentrelineOptions, found: &mut Centrelines) {
    let tolerance = f64::from(options.chord_tolerance_nm) / 4.0;
    let points = simplify(path, tolerance.max(0.5));
    // Half widths come in halves of nm: a wall of exactly the least width is wide enough.
    let least = f64::from(options.min_half_width_nm) - 0.25;
    for (is_wide, piece, closed) in cut(&points, path.closed, least) {
        let Some(line) = rounded(&piece, closed) else { continue };
        let length = line.length_nm();
        if length < f64::from(options.min_length_nm) {
            found.too_short_count += 1;
            found.too_short_length_nm += length;
        } else if is_wide {
            found.lines.push(line);
        } else {
            found.too_thin.push(line);
        }
    }
}

/// Leaves out points, in place and clearance, within the tolerance.
fn simplify(path: &Path, tolerance: f64) -> Vec<[f64; 3]> {
    let mut points = path.points.clone();
    if points.len() < 3 {
        return points;
    }
    let mut keep = vec![false; points.len()];
    let last = points.len() - 1;
    if path.closed {
        // Anchored at the smallest point and the one farthest from it.
        points.pop();
        let smaller = |&a: &usize, &b: &usize| {
            points[a][0].total_cmp(&points[b][0]).then(points[a][1].total_cmp(&points[b][1]))
        };
        let first = (0..last).min_by(smaller).unwrap_or(0);
        points.rotate_left(first);
        points.push(points[0]);
        let from_first =
            |i: usize| (points[i][0] - points[0][0]).hypot(points[i][1] - points[0][1]);
        let far = (0..last).max_by(|&a, &b| from_first(a).total_cmp(&from_first(b))).unwrap_or(0);
        mark_kept(&points, 0, far, tolerance, &mut keep);
        mark_kept(&points, far, last, tolerance, &mut keep);
    } else {
        mark_kept(&points, 0, last, tolerance, &mut keep);
    }
    let mut keep = keep.into_iter();
    points.retain(|_| keep.next().unwrap_or(true));
    points
}

/// Cuts a polyline where its clearance passes a level: whether a piece lies above, its points,
/// whether it is closed.
fn cut(points: &[[f64; 3]], closed: bool, level: f64) -> Vec<(bool, Vec<[f64; 3]>, bool)> {
    let Some(&first) = points.first() else { return Vec::new() };
    let is_wide = |p: [f64; 3]| p[2] >= level;
    let mut pieces = vec![(is_wide(first), vec![first], false)];
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if is_wide(a) != is_wide(b) {
            let t = (level - a[2]) / (b[2] - a[2]);
            let crossing = std::array::from_fn(|k| a[k] + t * (b[k] - a[k]));
            if let Some((_, piece, _)) = pieces.last_mut() {
                piece.push(crossing);
            }
            pieces.push((is_wide(b), vec![crossing], false));
        }
        if let Some((_, piece, _)) = pieces.last_mut() {
            piece.push(b);
        }
    }
    if closed && pieces.len() == 1 {
        pieces[0].2 = true;
    } else if closed && let Some((_, mut joined, _)) = pieces.pop() {
        // The ring begins and ends within one piece.
        joined.extend_from_slice(&pieces[0].1[1..]);
        pieces[0].1 = joined;
    }
    pieces
}

/// Rounds to the grid and orients; none if but one point is left.
fn rounded(piece: &[[f64; 3]], closed: bool) -> Option<Centreline> {
    let mut points: Vec<Point> = Vec::with_capacity(piece.len());
    let mut half_widths_nm: Vec<i32> = Vec::with_capacity(piece.len());
    for &[x, y, clearance] in piece {
        #[expect(clippy::cast_possible_truncation, reason = "inside a region, hence on the grid")]
        let [x, y, clearance] = [x, y, clearance].map(|c| c.round() as i32);
        if points.last() != Some(&Point::new(x, y)) {
            points.push(Point::new(x, y));
            half_widths_nm.push(clearance);
        }
    }
    if points.len() < 2 || closed && points.len() < 3 {
        return None;
    }
    if closed {
        points.pop();
        half_widths_nm.pop();
        let smallest = (0..points.len()).min_by_key(|&i| points[i])?;
        points.rotate_left(smallest);
        half_widths_nm.rotate_left(smallest);
        points.push(points[0]);
        half_widths_nm.push(half_widths_nm[0]);
        let twice_area: i128 =
            points.windows(2).map(|pair| i128::from(points[0].cross(pair[0], pair[1]))).sum();
        if twice_area < 0 {
            points.reverse();
            half_widths_nm.reverse();
        }
    } else if points.last() < points.first() {
        points.reverse();
        half_widths_nm.reverse();
    }
    Some(Centreline { points, half_widths_nm, closed })
}
