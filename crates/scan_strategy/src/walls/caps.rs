//! How far a line along the middle of a wall goes on towards the wall's end.
//!
//! A centreline stops where the cap of its wall is as far as the sides. What a Gaussian beam melts
//! reaches less far beyond the end of a line than to its sides, so lines go on.

use base::Point;
use region::{Centreline, Containment, Region};

/// A line that ends this near to another one ends on it, nm: twice the tolerance of centrelines.
const MEETS_NM: i32 = 10_000;

/// For each line, whether a blunt cap lies ahead of its start and its end, as far as the sides of
/// the wall.
pub(crate) fn has_caps(lines: &[Centreline], island: &Region) -> Vec<[bool; 2]> {
    let is_cap = |i: usize, at_end: bool| {
        let Some(end) = End::of(&lines[i], at_end) else { return false };
        let is_inside = |part: f64| {
            end.ahead(part * end.half_width)
                .is_some_and(|p| island.contains(p) != Containment::Outside)
        };
        is_inside(0.9) && !is_inside(1.15) && !meets_another(lines, i, end.at)
    };
    (0..lines.len())
        .map(|i| if lines[i].closed { [false; 2] } else { [is_cap(i, false), is_cap(i, true)] })
        .collect()
}

/// The points of a stretch of `line`, lengthened at caps: `reach` tells how far towards the cap, of the
/// distance to it, from the width there.
pub(crate) fn lengthened(
    stretch: &Centreline,
    line: &Centreline,
    caps: [bool; 2],
    reach: impl Fn(f64) -> f64,
) -> Vec<Point> {
    let mut points = stretch.points.clone();
    if stretch.closed {
        points.pop();
        return points;
    }
    for (at_end, cap) in [false, true].into_iter().zip(caps) {
        let (end, line_end) = (End::of(stretch, at_end), End::of(line, at_end));
        let (Some(end), Some(line_end)) = (end.filter(|_| cap), line_end) else { continue };
        let further = reach(2.0 * end.half_width).min(0.98 * end.half_width);
        if end.at == line_end.at
            && further >= 1.0
            && let Some(point) = line_end.ahead(further)
        {
            if at_end { points.push(point) } else { points.insert(0, point) }
        }
    }
    points
}

/// The end of a line with the direction it has there.
struct End {
    at: Point,
    direction: [f64; 2],
    half_width: f64,
}

impl End {
    fn of(line: &Centreline, at_end: bool) -> Option<Self> {
        let last = line.points.len().checked_sub(1)?;
        let index = |i: usize| if at_end { last - i } else { i };
        let at = line.points[index(0)];
        let half_width = f64::from(line.half_widths_nm[index(0)]);
        // the last few points may bend on a nanometre's account
        let is_far = |&i: &usize| line.points[index(i)].distance(at) > half_width / 2.0;
        let back = line.points[index((1..=last).find(is_far).unwrap_or(last))];
        let length = back.distance(at);
        let direction = [at.x - back.x, at.y - back.y].map(|d| f64::from(d) / length);
        (length > 0.0).then_some(Self { at, direction, half_width })
    }

    fn ahead(&self, by: f64) -> Option<Point> {
        let [x, y] = self.direction;
        let mm = |c: i32, d: f64| (f64::from(c) + d * by) / base::NM_PER_MM;
        Point::from_mm(mm(self.at.x, x), mm(self.at.y, y)).ok()
    }
}

fn meets_another(lines: &[Centreline], own: usize, at: Point) -> bool {
    let others = lines.iter().enumerate().filter(|(i, _)| *i != own);
    others.flat_map(|(_, line)| line.points.windows(2)).any(|pair| {
        let (a, b) = (pair[0], pair[1]);
        let near = |f: fn(Point) -> i32| {
            let (low, high) = (f(a).min(f(b)), f(a).max(f(b)));
            (low.saturating_sub(MEETS_NM)..=high.saturating_add(MEETS_NM)).contains(&f(at))
        };
        near(|p| p.x) && near(|p| p.y) && distance_to_segment(at, a, b) <= f64::from(MEETS_NM)
    })
}

fn distance_to_segment(p: Point, a: Point, b: Point) -> f64 {
    let of = |p: Point| [f64::from(p.x), f64::from(p.y)];
    let ([px, py], [ax, ay], [bx, by]) = (of(p), of(a), of(b));
    let (dx, dy) = (bx - ax, by - ay);
    let squared = dx * dx + dy * dy;
    let t = if squared > 0.0 { ((px - ax) * dx + (py - ay) * dy) / squared } else { 0.0 };
    let t = t.clamp(0.0, 1.0);
    (px - ax - t * dx).hypot(py - ay - t * dy)
}
