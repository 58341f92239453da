//! Contours and centrelines in order, and where each starts.

use crate::improve::{Stop, Way, improve};
use crate::nearest::Nearest;
use crate::order::JumpsOf;
use base::affine::sin_cos_deg;
use base::{NM_PER_MM, Point};
use job::recipe::StartPoint;
use scan_path::Paths;

/// Connected marks, before their start or direction is chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Polyline {
    /// At least two points; of a closed polyline the first is not repeated.
    pub(crate) points: Vec<Point>,
    pub(crate) is_closed: bool,
}

/// Polylines that belong together, in levels that are finished one after the other.
pub(crate) type Group = Vec<Vec<Polyline>>;

/// The golden section's fractional part: steps of it spread evenly over a circle for any number
/// of layers.
const GOLDEN: f64 = 0.618_033_988_749_894_8;

/// Corners this much blunter than the sharpest count as just as sharp: rounding to the grid must
/// not choose between the corners of a square.
const AS_SHARP_RAD: f64 = 0.02;

/// More candidates than this per polyline do not make jumps noticeably shorter.
const MAX_CANDIDATES: usize = 64;

/// Chooses the order of groups, of polylines within each level, and of starts; each time the
/// nearest to where the beam is, or so that all `jumps` take little time. `None` if there is nothing to run.
pub(crate) fn order_polylines(
    groups: &[Group],
    (start, layer): (StartPoint, u32),
    jumps: Option<JumpsOf<'_>>,
    beam_at: &mut Option<Point>,
) -> Option<Paths> {
    let (mut points, mut ends) = (Vec::new(), Vec::new());
    let of_group = |group: &Group| -> Vec<[Entry; 2]> {
        let mut lines = group.iter().flatten();
        if let (Some(only), None) = (lines.next(), lines.next()) {
            return entries(only, start, layer);
        }
        // where a group of several ends is not known before it is run: about where it begins
        let first = group.iter().find(|level| !level.is_empty()).into_iter().flatten();
        let entries = first.flat_map(|line| entries(line, start, layer));
        entries.map(|[enter, _]| [enter, enter]).collect()
    };
    in_order(groups, of_group, jumps, beam_at, |group, beam_at, _| {
        for level in group {
            in_order(
                level,
                |polyline| entries(polyline, start, layer),
                jumps,
                beam_at,
                |polyline, beam_at, towards| {
                    run(polyline, start, layer, towards, &mut points);
                    *beam_at = points.last().copied().or(*beam_at);
                    #[expect(clippy::cast_possible_truncation, reason = "below 2³² points")]
                    ends.push(points.len() as u32);
                },
            );
        }
    });
    (!ends.is_empty()).then_some(Paths::Polylines { points, ends })
}

/// Puts tagged polylines in an order with short jumps, and gives them in runs of the same tag.
pub(crate) fn order_each<T: Copy + PartialEq>(
    lines: &[(T, Polyline)],
    (start, layer): (StartPoint, u32),
    jumps: Option<JumpsOf<'_>>,
    beam_at: &mut Option<Point>,
) -> Vec<(T, Paths)> {
    let mut runs: Vec<(T, Vec<Point>, Vec<u32>)> = Vec::new();
    in_order(
        lines,
        |(_, polyline)| entries(polyline, start, layer),
        jumps,
        beam_at,
        |(tag, polyline), beam_at, towards| {
            if runs.last().is_none_or(|(last, ..)| last != tag) {
                runs.push((*tag, Vec::new(), Vec::new()));
            }
            if let Some((_, points, ends)) = runs.last_mut() {
                run(polyline, start, layer, towards, points);
                *beam_at = points.last().copied().or(*beam_at);
                #[expect(clippy::cast_possible_truncation, reason = "below 2³² points")]
                ends.push(points.len() as u32);
            }
        },
    );
    let paths = |(tag, points, ends)| (tag, Paths::Polylines { points, ends });
    runs.into_iter().map(paths).collect()
}

/// Lets open paths begin just where the beam is if they begin next to it: two regions cut a line at the same
/// place but for rounding.
pub(crate) fn go_on_from(beam_at: Option<Point>, paths: &mut Paths) {
    const ROUNDING_NM: f64 = 10.0;
    let Paths::Polylines { points, ends } = paths else { return };
    let end = ends.first().map_or(0, |end| *end as usize);
    let is_open = end > 2 && points[0] != points[end - 1] || end == 2;
    if let Some(beam_at) = beam_at
        && is_open
        && points[0].distance(beam_at) <= ROUNDING_NM
        && points[1] != beam_at
    {
        points[0] = beam_at;
    }
}

/// A point at which the beam may come in or go out, with the direction of the mark there.
type Entry = (Point, [f64; 2]);

/// Visits every item, each time one with a way in nearest to the beam, or in an order in which all jumps take
/// little time; the visitor is told towards which point it is best begun.
fn in_order<T>(
    items: &[T],
    entries: impl Fn(&T) -> Vec<[Entry; 2]>,
    jumps: Option<JumpsOf<'_>>,
    beam_at: &mut Option<Point>,
    mut visit: impl FnMut(&T, &mut Option<Point>, Option<Point>),
) {
    if let [only] = items {
        return visit(only, beam_at, *beam_at);
    }
    let entries: Vec<_> = items.iter().map(entries).collect();
    let mut remaining = Nearest::default();
    for entries in &entries {
        remaining.push_group(entries.iter().map(|[enter, _]| enter.0));
    }
    let mut remaining = remaining.build();
    let Some((jumps, exposure)) = jumps else {
        while let Some((item, _)) = remaining.next(*beam_at) {
            remaining.remove(item);
            visit(&items[item], beam_at, *beam_at);
        }
        return;
    };
    let mut order: Vec<Stop> = Vec::with_capacity(items.len());
    let mut at = *beam_at;
    while let Some((item, way)) = remaining.next(at) {
        remaining.remove(item);
        order.push((item, way));
        at = entries[item].get(way).map(|[_, leave]| leave.0);
    }
    let ways: Vec<Vec<Way>> = entries
        .iter()
        .map(|entries| {
            let way = |(number, [enter, leave]): (usize, &[Entry; 2])| Way {
                enter: jumps.entering(exposure, enter.0, enter.1),
                leave: jumps.leaving(exposure, leave.0, leave.1),
                // an open line has two ends, and comes back from the other one
                back: if entries.len() == 2 && enter.0 != leave.0 { 1 - number } else { number },
            };
            entries.iter().enumerate().map(way).collect()
        })
        .collect();
    let from = beam_at.map(|at| jumps.leaving(exposure, at, [0.0; 2]));
    improve(&ways, &mut order, from, jumps);
    for (item, way) in order {
        let towards = entries[item].get(way).map(|[enter, _]| enter.0);
        visit(&items[item], beam_at, towards);
    }
}

/// Where the beam may come in, and where it then goes out.
fn entries(polyline: &Polyline, start: StartPoint, layer: u32) -> Vec<[Entry; 2]> {
    let points = &polyline.points;
    let count = points.len();
    let Some(last) = count.checked_sub(1).filter(|last| *last > 0) else { return Vec::new() };
    let towards = |a: usize, b: usize| {
        let (from, to) = (points[a].to_mm(), points[b].to_mm());
        let length_mm = (points[a].distance(points[b]) / NM_PER_MM).max(f64::MIN_POSITIVE);
        [0, 1].map(|i| (to[i] - from[i]) / length_mm)
    };
    if !polyline.is_closed {
        let forth = [(points[0], towards(0, 1)), (points[last], towards(last - 1, last))];
        let back = [(points[last], towards(last, last - 1)), (points[0], towards(1, 0))];
        return vec![forth, back];
    }
    let around = |i: usize| {
        let before = (i + count - 1) % count;
        [(points[i], towards(i, (i + 1) % count)), (points[i], towards(before, i))]
    };
    match start {
        StartPoint::Nearest => {
            let step = count.div_ceil(MAX_CANDIDATES).max(1);
            (0..count).step_by(step).map(around).collect()
        }
        StartPoint::SharpestCorner | StartPoint::Towards(_) | StartPoint::Spread => {
            vec![around(start_index(points, start, layer, None))]
        }
    }
}

/// Appends the points of a polyline: a closed one from its start on, an open one from its nearer end.
fn run(
    polyline: &Polyline,
    start: StartPoint,
    layer: u32,
    from: Option<Point>,
    out: &mut Vec<Point>,
) {
    let points = &polyline.points;
    if polyline.is_closed {
        let first = start_index(points, start, layer, from);
        out.extend(&points[first..]);
        out.extend(&points[..first]);
        out.extend(points.get(first));
    } else {
        let is_nearer_back = from.zip(points.first().zip(points.last()));
        if is_nearer_back.is_some_and(|(p, (a, b))| p.distance(*b) < p.distance(*a)) {
            out.extend(points.iter().rev());
        } else {
            out.extend(points);
        }
    }
}

/// Where a closed polyline starts; 0 if it has no points.
fn start_index(points: &[Point], start: StartPoint, layer: u32, from: Option<Point>) -> usize {
    // equal choices go to the lowest, then leftmost point, however the ring is stored
    let best = |score: &dyn Fn(usize) -> f64| -> usize {
        let key = |i: usize| (points[i].y, points[i].x);
        let better = |&a: &usize, &b: &usize| {
            score(a).total_cmp(&score(b)).then_with(|| key(b).cmp(&key(a)))
        };
        (0..points.len()).max_by(better).unwrap_or(0)
    };
    let towards = |deg: f64| {
        let (sin, cos) = sin_cos_deg(deg);
        best(&|i| cos * f64::from(points[i].x) + sin * f64::from(points[i].y))
    };
    match start {
        StartPoint::Nearest => {
            from.map_or_else(|| best(&|_| 0.0), |from| best(&|i| -points[i].distance(from)))
        }
        StartPoint::SharpestCorner => {
            let bends: Vec<f64> = (0..points.len()).map(|i| bend(points, i)).collect();
            let sharpest = bends.iter().fold(0.0_f64, |a, &b| a.max(b));
            best(&|i| f64::from(u8::from(bends[i] >= sharpest - AS_SHARP_RAD)))
        }
        StartPoint::Towards(deg) => towards(deg),
        StartPoint::Spread => {
            let first = towards(0.0);
            let n = points.len();
            let edge = |i: usize| points[(first + i) % n].distance(points[(first + i + 1) % n]);
            let whole: f64 = (0..n).map(edge).sum();
            let wanted = (f64::from(layer) * GOLDEN).fract() * whole;
            let mut past = 0.0;
            for i in 0..n {
                let after = past + edge(i);
                if after >= wanted {
                    let step = usize::from(after - wanted < wanted - past);
                    return (first + i + step) % n;
                }
                past = after;
            }
            first
        }
    }
}

/// The angle between the two marks at a corner, either way, rad; 0 where they run straight on.
fn bend(points: &[Point], i: usize) -> f64 {
    let n = points.len();
    let (a, b, c) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
    let d = |p: Point, q: Point| (f64::from(q.x) - f64::from(p.x), f64::from(q.y) - f64::from(p.y));
    let ((ux, uy), (vx, vy)) = (d(a, b), d(b, c));
    (ux * vy - uy * vx).atan2(ux * vx + uy * vy).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn polygon(sides: u32, radius: f64) -> Polyline {
        let corner = |i: u32| {
            let a = std::f64::consts::TAU * f64::from(i) / f64::from(sides);
            Point::from_mm(radius * a.cos(), radius * a.sin()).unwrap()
        };
        Polyline { points: (0..sides).map(corner).collect(), is_closed: true }
    }

    fn polyline(points: &[(i32, i32)], is_closed: bool) -> Polyline {
        Polyline { points: points.iter().map(|&(x, y)| Point::new(x, y)).collect(), is_closed }
    }

    #[track_caller]
    fn starts_at(o: &Polyline, start: StartPoint, from: Option<(i32, i32)>, expected: (i32, i32)) {
        let mut beam_at = from.map(|(x, y)| Point::new(x, y));
        let groups = [vec![vec![o.clone()]]];
        let Some(Paths::Polylines { points, ends }) =
            order_polylines(&groups, (start, 0), None, &mut beam_at)
        else {
            panic!("nothing to run")
        };
        assert_eq!(points[0], Point::new(expected.0, expected.1));
        assert_eq!(ends, [u32::try_from(points.len()).unwrap()]);
        assert_eq!(points.len(), o.points.len() + usize::from(o.is_closed));
        assert_eq!(points[0] == points[points.len() - 1], o.is_closed);
        assert_eq!(beam_at, points.last().copied());
    }

    #[test]
    fn each_policy_starts_where_it_says() {
        let square = polyline(&[(10, 10), (0, 10), (0, 0), (10, 0)], true);
        starts_at(&square, StartPoint::Nearest, Some((12, 9)), (10, 10));
        starts_at(&square, StartPoint::Nearest, None, (0, 0));
        starts_at(&square, StartPoint::SharpestCorner, Some((12, 9)), (0, 0)); // all equal
        starts_at(&square, StartPoint::Towards(0.0), None, (10, 0)); // lower of two
        starts_at(&square, StartPoint::Towards(135.0), None, (0, 10));
        starts_at(&square, StartPoint::Spread, None, (10, 0));
        let drop = polyline(&[(0, 0), (100, -30), (130, 0), (100, 30)], true);
        starts_at(&drop, StartPoint::SharpestCorner, None, (0, 0));
        let line = polyline(&[(0, 0), (5, 1), (9, 0)], false);
        starts_at(&line, StartPoint::Nearest, Some((8, 0)), (9, 0));
        starts_at(&line, StartPoint::Nearest, None, (0, 0));
    }

    #[test]
    fn spread_starts_leave_no_wide_gap() {
        let circle = polygon(1000, 20.0);
        let layers = 50_u32;
        let mut angles: Vec<f64> = (0..layers)
            .map(|layer| {
                let p = circle.points[start_index(&circle.points, StartPoint::Spread, layer, None)];
                f64::from(p.y).atan2(f64::from(p.x)).to_degrees().rem_euclid(360.0)
            })
            .collect();
        let successive = (angles[1] - angles[0]).rem_euclid(360.0);
        assert!((successive - 222.49).abs() < 0.5, "{successive}"); // 360° less the golden angle
        angles.sort_by(f64::total_cmp);
        let widest = angles.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
        assert!(widest < 2.0 * 360.0 / f64::from(layers), "{widest}"); // three-gap theorem
    }

    #[test]
    fn levels_are_finished_in_order_and_groups_by_distance() {
        let at = |x: i32| polyline(&[(x, 0), (x + 2, 0), (x + 2, 2), (x, 2)], true);
        let groups = [vec![vec![at(100)], vec![at(110)]], vec![vec![at(0)], vec![at(10), at(5)]]];
        let mut beam_at = Some(Point::new(-5, 0));
        let paths = order_polylines(&groups, (StartPoint::Nearest, 0), None, &mut beam_at);
        let Some(Paths::Polylines { points, ends }) = paths else { panic!() };
        let starts: Vec<_> = [0].iter().chain(&ends[..4]).map(|&e| points[e as usize].x).collect();
        assert_eq!(starts, [0, 5, 10, 100, 110]);
        assert_eq!(
            order_polylines(&[vec![vec![]]], (StartPoint::Nearest, 0), None, &mut beam_at),
            None
        );
    }
}
