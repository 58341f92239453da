//! Taking out the slack that voxels left: exact slides, downwards along any slope.
//!
//! How far a closed surface can move in a straight line before it meets another is decided facet by
//! facet (Egeblad, Nielsen & Brazil 2009, Computational Geometry 42, 269–288, measure overlap along
//! an axis the same way): seen along the line, a facet ahead and a facet of the obstacle that faces
//! it overlap in a convex polygon, and over it their distance is linear, so the least is at a
//! corner. Facets that only touch sideways have no overlap and do not hold the part.

use crate::model::{Item, Placed, Space};
use crate::random::Random;
use crate::shape::inner;
use crate::vector::{Vec3, dot, sub};
use base::{Affine, Cancelled, Progress};
use mesh::flat::common_part;

/// Overlaps thinner than this, mm, are parts that slide along each other.
const TOUCH: f64 = 1e-9;

/// Moves parts of one build down and aside as far as others and walls let them, exactly; true if
/// any moved. Ends after `patience` rounds that lower nothing. For touching parts only: with a clearance the surfaces would have to be offset.
pub(crate) fn compact(
    items: &[Item],
    fixed: &[Placed],
    list: &mut [Placed],
    space: &Space,
    patience: u32,
    progress: &Progress,
) -> Result<bool, Cancelled> {
    if space.clearance_mm > 0.0 {
        return Ok(false);
    }
    let (origin, room) = inner(space);
    let mut solids: Vec<Solid> = list
        .iter()
        .chain(fixed)
        .map(|p| {
            Solid::new(
                (0..items[p.item].mesh.triangles.len())
                    .map(|t| items[p.item].mesh.corners(t).map(|c| p.pose.apply(c))),
            )
        })
        .collect();
    let walls = (origin, [0, 1, 2].map(|k| origin[k] + room[k]));
    let start: Vec<Vec3> = solids.iter().map(|s| s.moved).collect();
    let mut random = Random::new(7);
    let height = |solids: &[Solid]| solids.iter().map(|s| s.hi[2]).fold(f64::MIN, f64::max);
    let mut best = height(&solids);
    let mut best_moves = start.clone();
    let (mut round, mut idle) = (0, 0);
    while idle < patience {
        idle += 1;
        let mut order: Vec<usize> = (0..list.len()).collect();
        order.sort_by(|&a, &b| solids[a].lo[2].total_cmp(&solids[b].lo[2]).then(a.cmp(&b)));
        let mut sunk = 0.0;
        for i in order {
            progress.check()?;
            let before = solids[i].lo[2];
            for direction in directions(round, &mut random) {
                slide(&mut solids, i, direction, walls);
            }
            sunk += before - solids[i].lo[2];
        }
        round += 1;
        let now = height(&solids);
        if now < best - 1e-9 {
            best = now;
            best_moves = solids.iter().map(|s| s.moved).collect();
            idle = 0;
        } else if sunk > 1e-6 {
            idle = idle.saturating_sub(u32::from(round.is_multiple_of(2)));
        }
        if round > 200 {
            break;
        }
    }
    let mut moved = false;
    for (p, m) in list.iter_mut().zip(&best_moves) {
        if m.iter().any(|c| *c != 0.0) {
            p.pose = Affine::translation(*m) * p.pose;
            moved = true;
        }
    }
    Ok(moved)
}

/// Straight down, then down some slopes, then down again; every few rounds to a side first.
fn directions(round: u32, random: &mut Random) -> Vec<Vec3> {
    const DOWN: Vec3 = [0., 0., -1.];
    let mut all = vec![DOWN];
    if round > 0 {
        for _ in 0..3 {
            let turn = random.unit() * std::f64::consts::TAU;
            let slope = 0.2 + 3.0 * random.unit();
            all.push([slope * turn.cos(), slope * turn.sin(), -1.0]);
        }
        if round.is_multiple_of(3) {
            let (sin, cos) = base::affine::sin_cos_deg(90.0 * random.below(4) as f64);
            all.push([cos, sin, 0.0]);
        }
        all.push(DOWN);
    }
    all
}

struct Solid {
    triangles: Vec<[Vec3; 3]>,
    lo: Vec3,
    hi: Vec3,
    /// Sum of its moves.
    moved: Vec3,
}

impl Solid {
    fn new(triangles: impl Iterator<Item = [Vec3; 3]>) -> Self {
        let triangles: Vec<_> = triangles.collect();
        let (mut lo, mut hi) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for p in triangles.iter().flatten() {
            for k in 0..3 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
        Self { triangles, lo, hi, moved: [0.0; 3] }
    }

    fn shift(&mut self, by: Vec3) {
        for p in
            self.triangles.iter_mut().flatten().chain([&mut self.lo, &mut self.hi, &mut self.moved])
        {
            for k in 0..3 {
                p[k] += by[k];
            }
        }
    }
}

/// Moves solid `i` along `direction` until it meets a wall or another.
fn slide(solids: &mut [Solid], i: usize, direction: Vec3, (lo, hi): (Vec3, Vec3)) {
    let me = &solids[i];
    let mut far = f64::INFINITY;
    for k in 0..3 {
        if direction[k] > 0.0 {
            far = far.min((hi[k] - me.hi[k]) / direction[k]);
        } else if direction[k] < 0.0 {
            far = far.min((lo[k] - me.lo[k]) / direction[k]);
        }
    }
    for (j, other) in solids.iter().enumerate() {
        if far <= TOUCH {
            return;
        }
        if j != i && swept_boxes_meet(me, other, direction, far) {
            far = far.min(free_way(me, other, direction, far));
        }
    }
    // A hair less than the whole way, so that rounding never makes an overlap.
    let far = far - 1e-10 * (1.0 + far.abs());
    if far.is_finite() && far > TOUCH {
        solids[i].shift(direction.map(|c| c * far));
    }
}

fn swept_boxes_meet(a: &Solid, b: &Solid, d: Vec3, far: f64) -> bool {
    (0..3).all(|k| {
        let way = d[k] * far;
        a.lo[k] + way.min(0.0) < b.hi[k] && a.hi[k] + way.max(0.0) > b.lo[k]
    })
}

/// How far `a` can move along `d`, at most `far`, in lengths of `d`, before it meets `b`.
fn free_way(a: &Solid, b: &Solid, d: Vec3, far: f64) -> f64 {
    let frame = Frame::new(d);
    let ahead = |t: &&[Vec3; 3]| facing(t, d) > 0.0;
    let behind = |t: &&[Vec3; 3]| facing(t, d) < 0.0;
    let mut obstacles: Vec<Flat> =
        b.triangles.iter().filter(behind).map(|t| frame.flat(t)).collect();
    obstacles.sort_by(|p, q| p.lo[0].total_cmp(&q.lo[0]));
    let mut way = far;
    for t in a.triangles.iter().filter(ahead) {
        let own = frame.flat(t);
        for other in &obstacles {
            if other.lo[0] >= own.hi[0] - TOUCH {
                break;
            }
            let apart = other.hi[0] <= own.lo[0] + TOUCH
                || other.hi[1] <= own.lo[1] + TOUCH
                || other.lo[1] >= own.hi[1] - TOUCH
                || other.lo[2] - own.hi[2] >= way
                || other.hi[2] < own.lo[2] - TOUCH;
            if !apart && let Some(gap) = gap(&own, other) {
                way = way.min(gap.max(0.0));
            }
        }
    }
    way
}

fn facing(t: &[Vec3; 3], d: Vec3) -> f64 {
    let (u, v) = (sub(t[1], t[0]), sub(t[2], t[0]));
    let n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    dot(n, d)
}

/// Two axes across the direction and one along it, in which a move by the direction is 1.
struct Frame([Vec3; 3]);

impl Frame {
    fn new(d: Vec3) -> Self {
        let square = dot(d, d);
        let k = (0..3).min_by(|&i, &j| d[i].abs().total_cmp(&d[j].abs())).unwrap_or(0);
        let mut side = d.map(|c| -c * d[k] / square);
        side[k] += 1.0;
        let length = dot(side, side).sqrt();
        let u = side.map(|c| c / length);
        let unit = d.map(|c| c / square.sqrt());
        let v = [
            unit[1] * u[2] - unit[2] * u[1],
            unit[2] * u[0] - unit[0] * u[2],
            unit[0] * u[1] - unit[1] * u[0],
        ];
        Self([u, v, d.map(|c| c / square)])
    }

    fn flat(&self, t: &[Vec3; 3]) -> Flat {
        let corners = t.map(|p| self.0.map(|axis| dot(axis, p)));
        let pick =
            |k: usize, f: fn(f64, f64) -> f64| f(f(corners[0][k], corners[1][k]), corners[2][k]);
        Flat {
            corners,
            lo: [0, 1, 2].map(|k| pick(k, f64::min)),
            hi: [0, 1, 2].map(|k| pick(k, f64::max)),
        }
    }
}

/// A triangle seen along the direction: two coordinates across, one along.
struct Flat {
    corners: [Vec3; 3],
    lo: Vec3,
    hi: Vec3,
}

/// Least distance along the direction from `a` to `b` where they overlap across it; `None` if they
/// do not, or if `a` is past `b`.
fn gap(a: &Flat, b: &Flat) -> Option<f64> {
    let across = |t: &Flat| t.corners.map(|c| [c[0], c[1]]);
    let polygon = common_part(across(a), across(b), TOUCH)?;
    let gaps: Vec<f64> =
        polygon.iter().filter_map(|&c| Some(depth(b, c)? - depth(a, c)?)).collect();
    // Disjoint solids: the sign is the same all over the overlap, but for rounding.
    let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
    (mean >= -TOUCH).then(|| gaps.iter().copied().fold(f64::INFINITY, f64::min))
}

fn twice_area([a, b, c]: [Vec3; 3]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Coordinate along the direction of the triangle's plane over a point.
fn depth(t: &Flat, [x, y]: [f64; 2]) -> Option<f64> {
    let [a, b, c] = t.corners;
    let area = twice_area([a, b, c]);
    let p = [x, y, 0.0];
    let (u, v) = (twice_area([p, b, c]) / area, twice_area([a, p, c]) / area);
    let z = u * a[2] + v * b[2] + (1.0 - u - v) * c[2];
    z.is_finite().then_some(z.clamp(t.lo[2], t.hi[2]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    fn solid(mesh: &mesh::Mesh) -> Solid {
        Solid::new((0..mesh.triangles.len()).map(|t| mesh.corners(t)))
    }

    #[test]
    fn a_ball_over_a_ball_stops_where_they_touch() {
        let (a, mut b) = (solid(&samples::ball(5.0, 96)), solid(&samples::ball(5.0, 96)));
        b.shift([6.0, 0.0, 30.0]);
        let way = free_way(&b, &a, [0., 0., -1.], 100.0);
        // Centres 10 apart: 8 above. Chords of 96-gons fall short by at most 5(1 − cos 1.9°).
        assert!((way - 22.0).abs() < 0.02, "{way}");
        assert!((free_way(&b, &a, [0., 0., -2.], 100.0) - way / 2.0).abs() < 1e-9);
        b.shift([5.0, 0.0, 0.0]);
        assert!(free_way(&b, &a, [0., 0., -1.], 100.0) >= 100.0);
    }

    #[test]
    fn boxes_land_on_each_other_and_slide_past_what_they_touch_sideways() {
        let mut stack = [
            solid(&samples::cuboid([0.; 3], [1.; 3])),
            solid(&samples::cuboid([0., 0., 4.], [1., 1., 5.])),
            solid(&samples::cuboid([1., 0., 3.], [2., 1., 4.])),
        ];
        let walls = ([0.; 3], [9.; 3]);
        slide(&mut stack, 1, [0., 0., -1.], walls);
        slide(&mut stack, 2, [0., 0., -1.], walls);
        assert!((stack[1].lo[2] - 1.0).abs() < 1e-8);
        assert!(stack[2].lo[2].abs() < 1e-8);
    }
}
