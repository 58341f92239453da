//! Exact slides of bodies that may touch: down along any slope, until facets meet.
//!
//! How far a closed surface can move in a straight line before it meets another is decided facet by
//! facet (Egeblad, Nielsen & Brazil 2009, Computational Geometry 42, 269–288, measure overlap along
//! an axis the same way): seen along the line, a facet ahead and a facet of the obstacle that faces
//! it overlap in a convex polygon, and over it their distance is linear, so the least is at a
//! corner. Facets that only touch sideways have no overlap and do not hold the body.

use crate::model::{Item, Placed, Space};
use crate::random::Random;
use base::vec3::{Vec3, cross, dot, sub};
use base::{Affine, Cancelled, Progress};
use mesh::flat::common_part;

/// Overlaps thinner than this, mm, are bodies that slide along each other.
const TOUCH_MM: f64 = 1e-9;

/// A slide ends this much before the obstacle, as a fraction of the way plus one unit of it, so that
/// rounding never makes an overlap.
const BACKOFF: f64 = 1e-10;

/// Smallest fall of the top of a build that counts as lower, mm: less is rounding.
const LOWER_MM: f64 = 1e-9;

/// A round in which all bodies together sink by less than this, mm, has come to rest.
const AT_REST_MM: f64 = 1e-6;

/// Rounds that bring nothing after which bodies have come to rest for good. More hardly ever bring
/// anything.
pub(crate) const LAST_PATIENCE: u32 = 12;

/// Most rounds of sinking; nearly always it comes to rest long before.
const MAX_ROUNDS: u32 = 200;

/// Sloping directions per body and round. None leaves bodies on any ledge, many take time. By taste.
const SLOPES: u32 = 3;

/// Least way aside of a sloping direction per mm down, and how much more it may be: from almost straight
/// down to about 17° below the horizontal. By taste.
const MIN_ASIDE: f64 = 0.2;
const MORE_ASIDE: f64 = 3.0;

/// Every so many rounds each body is first moved to a side, or no body would ever leave a flat ledge;
/// in every round it would only wander. By taste.
const ASIDE_EVERY: u32 = 3;

/// Seed of the sloping directions, so that a build always sinks in the same way.
const SEED: u64 = 7;

/// Lets the parts of `movable` sink and slide as far as each other, the parts of `fixed` and the walls
/// allow. Ends after `patience` rounds in which the top does not come down. Only for parts that may
/// touch: with a clearance the surfaces would have to be offset.
///
/// # Errors
/// [`Cancelled`] on request; nothing has moved then.
pub(crate) fn sink_touching(
    items: &[Item],
    fixed: &[Placed],
    movable: &mut [Placed],
    space: &Space,
    patience: u32,
    progress: &Progress,
) -> Result<(), Cancelled> {
    let (corner, room) = space.room();
    let walls = (corner, [0, 1, 2].map(|k| corner[k] + room[k]));
    let facets = |p: &Placed| {
        let mesh = items[p.item].mesh();
        Facets::new((0..mesh.triangles.len()).map(|t| mesh.corners(t).map(|c| p.pose.apply(c))))
    };
    let mut bodies: Vec<Facets> = movable.iter().chain(fixed).map(facets).collect();
    let mut random = Random::new(SEED);
    let top = |bodies: &[Facets]| bodies.iter().map(|s| s.hi[2]).fold(f64::MIN, f64::max);
    let moves = |bodies: &[Facets]| bodies.iter().map(|s| s.moved).collect::<Vec<Vec3>>();
    let mut best = (top(&bodies), moves(&bodies));
    let (mut round, mut idle) = (0, 0);
    while idle < patience {
        idle += 1;
        let sunk = sink_all(&mut bodies, movable.len(), walls, round, &mut random, progress)?;
        round += 1;
        let now = top(&bodies);
        if now < best.0 - LOWER_MM {
            best = (now, moves(&bodies));
            idle = 0;
        } else if sunk > AT_REST_MM {
            // While anything sinks, only every other round counts as idle.
            idle = idle.saturating_sub(u32::from(round.is_multiple_of(2)));
        }
        if round > MAX_ROUNDS {
            break;
        }
    }
    for (p, by) in movable.iter_mut().zip(&best.1) {
        if by.iter().any(|c| *c != 0.0) {
            p.pose = Affine::translation(*by) * p.pose;
        }
    }
    Ok(())
}

/// One round over the first `movable` bodies, the lowest first; by how much they sank together, mm.
fn sink_all(
    bodies: &mut [Facets],
    movable: usize,
    walls: (Vec3, Vec3),
    round: u32,
    random: &mut Random,
    progress: &Progress,
) -> Result<f64, Cancelled> {
    let mut order: Vec<usize> = (0..movable).collect();
    order.sort_by(|&a, &b| bodies[a].lo[2].total_cmp(&bodies[b].lo[2]).then(a.cmp(&b)));
    let mut sunk = 0.0;
    for i in order {
        progress.check()?;
        let before = bodies[i].lo[2];
        for direction in directions(round, random) {
            slide(bodies, i, direction, walls, progress)?;
        }
        sunk += before - bodies[i].lo[2];
    }
    Ok(sunk)
}

/// Straight down, then down some slopes, then down again; every few rounds to a side first.
fn directions(round: u32, random: &mut Random) -> Vec<Vec3> {
    const DOWN: Vec3 = [0., 0., -1.];
    let mut all = vec![DOWN];
    if round > 0 {
        for _ in 0..SLOPES {
            let azimuth = random.unit() * std::f64::consts::TAU;
            let aside = MIN_ASIDE + MORE_ASIDE * random.unit();
            all.push([aside * azimuth.cos(), aside * azimuth.sin(), -1.0]);
        }
        if round.is_multiple_of(ASIDE_EVERY) {
            let (sin, cos) = base::affine::sin_cos_deg(90.0 * random.below(4) as f64);
            all.push([cos, sin, 0.0]);
        }
        all.push(DOWN);
    }
    all
}

/// The triangles of a body at its place, with their box.
struct Facets {
    triangles: Vec<[Vec3; 3]>,
    lo: Vec3,
    hi: Vec3,
    /// Sum of its moves.
    moved: Vec3,
}

impl Facets {
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

/// Moves body `i` along `direction` until it meets a wall or another body.
fn slide(
    bodies: &mut [Facets],
    i: usize,
    direction: Vec3,
    (lo, hi): (Vec3, Vec3),
    progress: &Progress,
) -> Result<(), Cancelled> {
    let me = &bodies[i];
    let mut far = f64::INFINITY;
    for k in 0..3 {
        if direction[k] > 0.0 {
            far = far.min((hi[k] - me.hi[k]) / direction[k]);
        } else if direction[k] < 0.0 {
            far = far.min((lo[k] - me.lo[k]) / direction[k]);
        }
    }
    for (j, other) in bodies.iter().enumerate() {
        if far <= TOUCH_MM {
            return Ok(());
        }
        if j != i && swept_boxes_meet(me, other, direction, far) {
            far = far.min(free_way(me, other, direction, far, progress)?);
        }
    }
    let far = far - BACKOFF * (1.0 + far.abs());
    if far.is_finite() && far > TOUCH_MM {
        bodies[i].shift(direction.map(|c| c * far));
    }
    Ok(())
}

fn swept_boxes_meet(a: &Facets, b: &Facets, d: Vec3, far: f64) -> bool {
    (0..3).all(|k| {
        let way = d[k] * far;
        a.lo[k] + way.min(0.0) < b.hi[k] && a.hi[k] + way.max(0.0) > b.lo[k]
    })
}

/// How far `a` can move along `d`, at most `far`, in lengths of `d`, before it meets `b`.
fn free_way(
    a: &Facets,
    b: &Facets,
    d: Vec3,
    far: f64,
    progress: &Progress,
) -> Result<f64, Cancelled> {
    let frame = Frame::new(d);
    let ahead = |t: &&[Vec3; 3]| facing(t, d) > 0.0;
    let behind = |t: &&[Vec3; 3]| facing(t, d) < 0.0;
    let mut obstacles: Vec<SeenFacet> =
        b.triangles.iter().filter(behind).map(|t| frame.seen(t)).collect();
    obstacles.sort_by(|p, q| p.lo[0].total_cmp(&q.lo[0]));
    let mut way = far;
    for t in a.triangles.iter().filter(ahead) {
        progress.check()?;
        let own = frame.seen(t);
        for other in &obstacles {
            if other.lo[0] >= own.hi[0] - TOUCH_MM {
                break;
            }
            let apart = other.hi[0] <= own.lo[0] + TOUCH_MM
                || other.hi[1] <= own.lo[1] + TOUCH_MM
                || other.lo[1] >= own.hi[1] - TOUCH_MM
                || other.lo[2] - own.hi[2] >= way
                || other.hi[2] < own.lo[2] - TOUCH_MM;
            if !apart && let Some(gap) = distance_along(&own, other) {
                way = way.min(gap.max(0.0));
            }
        }
    }
    Ok(way)
}

/// Positive for a facet whose outside looks along `d`.
fn facing(t: &[Vec3; 3], d: Vec3) -> f64 {
    dot(cross(sub(t[1], t[0]), sub(t[2], t[0])), d)
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
        Self([u, cross(unit, u), d.map(|c| c / square)])
    }

    fn seen(&self, t: &[Vec3; 3]) -> SeenFacet {
        let corners = t.map(|p| self.0.map(|axis| dot(axis, p)));
        let pick =
            |k: usize, f: fn(f64, f64) -> f64| f(f(corners[0][k], corners[1][k]), corners[2][k]);
        SeenFacet {
            corners,
            lo: [0, 1, 2].map(|k| pick(k, f64::min)),
            hi: [0, 1, 2].map(|k| pick(k, f64::max)),
        }
    }
}

/// A triangle seen along the direction: two coordinates across, one along.
struct SeenFacet {
    corners: [Vec3; 3],
    lo: Vec3,
    hi: Vec3,
}

/// Least distance along the direction from `a` to `b` where they overlap across it; `None` if they
/// do not, or if `a` is past `b`.
fn distance_along(a: &SeenFacet, b: &SeenFacet) -> Option<f64> {
    let across = |t: &SeenFacet| t.corners.map(|c| [c[0], c[1]]);
    let polygon = common_part(across(a), across(b), TOUCH_MM)?;
    let gaps: Vec<f64> =
        polygon.iter().filter_map(|&c| Some(depth(b, c)? - depth(a, c)?)).collect();
    // Disjoint bodies: the sign is the same all over the overlap, but for rounding.
    let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
    (mean >= -TOUCH_MM).then(|| gaps.iter().copied().fold(f64::INFINITY, f64::min))
}

fn twice_area([a, b, c]: [Vec3; 3]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Coordinate along the direction of the triangle's plane over a point.
fn depth(t: &SeenFacet, [x, y]: [f64; 2]) -> Option<f64> {
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
    use crate::tests::samples;

    fn facets(mesh: &mesh::Mesh) -> Facets {
        Facets::new((0..mesh.triangles.len()).map(|t| mesh.corners(t)))
    }

    #[test]
    fn a_ball_over_a_ball_stops_where_they_touch() {
        let (a, mut b) = (facets(&samples::ball(5.0, 96)), facets(&samples::ball(5.0, 96)));
        b.shift([6.0, 0.0, 30.0]);
        let way = free_way(&b, &a, [0., 0., -1.], 100.0, &Progress::default()).unwrap();
        // Centres 10 apart: 8 above. Chords of 96-gons fall short by at most 5(1 − cos 1.9°).
        assert!((way - 22.0).abs() < 0.02, "{way}");
        assert!(
            (free_way(&b, &a, [0., 0., -2.], 100.0, &Progress::default()).unwrap() - way / 2.0)
                .abs()
                < 1e-9
        );
        b.shift([5.0, 0.0, 0.0]);
        assert!(free_way(&b, &a, [0., 0., -1.], 100.0, &Progress::default()).unwrap() >= 100.0);
    }

    #[test]
    fn boxes_land_on_each_other_and_slide_past_what_they_touch_sideways() {
        let mut stack = [
            facets(&samples::cuboid([0.; 3], [1.; 3])),
            facets(&samples::cuboid([0., 0., 4.], [1., 1., 5.])),
            facets(&samples::cuboid([1., 0., 3.], [2., 1., 4.])),
        ];
        let walls = ([0.; 3], [9.; 3]);
        slide(&mut stack, 1, [0., 0., -1.], walls, &Progress::default()).unwrap();
        slide(&mut stack, 2, [0., 0., -1.], walls, &Progress::default()).unwrap();
        assert!((stack[1].lo[2] - 1.0).abs() < 1e-8);
        assert!(stack[2].lo[2].abs() < 1e-8);
    }
}
