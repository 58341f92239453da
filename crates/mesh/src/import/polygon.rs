//! Cutting a polygon in space into triangles.

use robust::{Coord, orient2d};

/// Polygons with no more corners than this are cut as a fan if they are convex. Larger ones are halved, or
/// all their triangles would meet in one corner, and whatever looks at neighbours would look at all
/// pairs of them.
const MAX_FAN_CORNERS: usize = 16;

/// Corners that may be looked at to cut ears off a polygon, per corner of it. Nearly always a few dozen do; a comb
/// of 5,000 teeth on one edge wants 2,500. What is left of a polygon that wants more is halved. Its triangles
/// fold over each other there, but enclose the same volume.
const LOOKS_PER_CORNER: usize = 4000;

/// Cuts a polygon with `corners.len() ≥ 3` corners into `corners.len() − 2` triangles of indices
/// into `corners`, with the polygon's orientation. No corner is left out, whatever their
/// positions: polygons that cross themselves or have no area are cut as a fan, or halved. Time in
/// proportion to the corners, but for sorting them.
pub(super) fn triangulate(corners: &[[f64; 3]], triangles: &mut Vec<[usize; 3]>) {
    let n = corners.len();
    let ring: Vec<usize> = (0..n).collect();
    match flatten(corners).filter(|_| n > 3) {
        Some(flat) if n <= MAX_FAN_CORNERS && is_convex(&flat, 0.0) => fan(&ring, triangles),
        Some(flat) if !is_convex(&flat, f64::MIN_POSITIVE) => cut_ears(&flat, triangles),
        _ => cut_plainly(ring, triangles),
    }
}

/// Cuts without a look at the corners' places.
fn cut_plainly(ring: Vec<usize>, triangles: &mut Vec<[usize; 3]>) {
    if ring.len() <= MAX_FAN_CORNERS { fan(&ring, triangles) } else { halve(ring, triangles) }
}

fn fan(ring: &[usize], triangles: &mut Vec<[usize; 3]>) {
    triangles.extend(ring.windows(2).skip(1).map(|pair| [ring[0], pair[0], pair[1]]));
}

/// Cuts off every other corner, again and again.
fn halve(mut ring: Vec<usize>, triangles: &mut Vec<[usize; 3]>) {
    while ring.len() > 3 {
        let n = ring.len();
        let tips = (1..n).step_by(2);
        triangles.extend(tips.map(|tip| [ring[tip - 1], ring[tip], ring[(tip + 1) % n]]));
        ring = ring.into_iter().step_by(2).collect();
    }
    if let [a, b, c] = ring[..] {
        triangles.push([a, b, c]);
    }
}

/// Projects along the axis nearest to the polygon's normal, so that it turns left; `None` if it
/// has no area. The normal is that of Newell: the sum of the cross products around the polygon.
fn flatten(corners: &[[f64; 3]]) -> Option<Vec<Coord<f64>>> {
    let mut normal = [0.0; 3];
    for (p, q) in corners.iter().zip(corners.iter().cycle().skip(1)) {
        for (k, normal) in normal.iter_mut().enumerate() {
            let (i, j) = ((k + 1) % 3, (k + 2) % 3);
            *normal += (p[i] - q[i]) * (p[j] + q[j]);
        }
    }
    let axis = (0..3).max_by(|&a, &b| normal[a].abs().total_cmp(&normal[b].abs()))?;
    let (mut i, mut j) = ((axis + 1) % 3, (axis + 2) % 3);
    if normal[axis] < 0.0 {
        (i, j) = (j, i);
    }
    (normal[axis] != 0.0 && normal[axis].is_finite())
        .then(|| corners.iter().map(|c| Coord { x: c[i], y: c[j] }).collect())
}

/// Whether a ring that turns left as a whole turns by at least this at every corner, as twice the area of
/// the corner's triangle.
fn is_convex(flat: &[Coord<f64>], least: f64) -> bool {
    let n = flat.len();
    (0..n).all(|k| orient2d(flat[k], flat[(k + 1) % n], flat[(k + 2) % n]) >= least)
}

/// Cuts off one ear after the other; what has no ear left, or takes too long, is cut plainly.
fn cut_ears(flat: &[Coord<f64>], triangles: &mut Vec<[usize; 3]>) {
    let mut ring: Vec<usize> = (0..flat.len()).collect();
    let mut obstacles = Obstacles::new(flat);
    let mut looks = LOOKS_PER_CORNER.saturating_mul(flat.len());
    let mut at = 0;
    let mut tried = 0;
    while ring.len() > 3 && tried < ring.len() && looks > 0 {
        let n = ring.len();
        at %= n;
        let ear = [ring[(at + n - 1) % n], ring[at], ring[(at + 1) % n]];
        if obstacles.is_ear(ear, &mut looks) {
            triangles.push(ear);
            obstacles.gone[ear[1]] = true;
            ring.remove(at);
            tried = 0;
        } else {
            tried += 1;
        }
        at += 1; // leave the next corner out: spreads the triangles instead of making a fan
    }
    cut_plainly(ring, triangles);
}

/// The corners that may lie in the triangle of an ear: those that did not turn left in the first place.
/// Cutting ears off only makes corners turn left more.
struct Obstacles<'a> {
    flat: &'a [Coord<f64>],
    /// By rising x.
    corners: Vec<usize>,
    /// Per corner whether it was cut off.
    gone: Vec<bool>,
}

impl<'a> Obstacles<'a> {
    fn new(flat: &'a [Coord<f64>]) -> Self {
        let n = flat.len();
        let turns_left =
            |k: usize| orient2d(flat[(k + n - 1) % n], flat[k], flat[(k + 1) % n]) > 0.0;
        let mut corners: Vec<usize> = (0..n).filter(|k| !turns_left(*k)).collect();
        corners.sort_by(|p, q| flat[*p].x.total_cmp(&flat[*q].x));
        Self { flat, corners, gone: vec![false; n] }
    }

    /// Whether a corner turns left and no other corner lies in its triangle. Every corner that is looked at
    /// costs one of `looks`; without any left the answer is no.
    fn is_ear(&self, ear: [usize; 3], looks: &mut usize) -> bool {
        let [a, b, c] = ear.map(|k| self.flat[k]);
        if orient2d(a, b, c) <= 0.0 {
            return false;
        }
        let (left, right) = (a.x.min(b.x).min(c.x), a.x.max(b.x).max(c.x));
        let (low, high) = (a.y.min(b.y).min(c.y), a.y.max(b.y).max(c.y));
        let from = self.corners.partition_point(|k| self.flat[*k].x < left);
        for &k in &self.corners[from..] {
            let p = self.flat[k];
            if p.x > right {
                break;
            }
            *looks = looks.saturating_sub(1);
            if *looks == 0 {
                return false;
            }
            let elsewhere = self.gone[k] || p.y < low || p.y > high || [a, b, c].contains(&p);
            if !elsewhere
                && orient2d(a, b, p) >= 0.0
                && orient2d(b, c, p) >= 0.0
                && orient2d(c, a, p) >= 0.0
            {
                return false;
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check_area(ring: &[[f64; 2]], expected: f64) {
        // tilted, so that the projection is not along an axis of the polygon
        let corners: Vec<_> = ring.iter().map(|&[x, y]| [x, y, 0.5 * x - 0.25 * y]).collect();
        for reversed in [false, true] {
            let mut corners = corners.clone();
            if reversed {
                corners.reverse();
            }
            let mut triangles = Vec::new();
            triangulate(&corners, &mut triangles);
            assert_eq!(triangles.len(), ring.len() - 2);
            let areas = triangles.iter().map(|t| {
                let [a, b, c] = t.map(|k| corners[k]);
                0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
            });
            let sign = if reversed { -1.0 } else { 1.0 };
            assert!(areas.clone().all(|area| area * sign >= 0.0), "a triangle is turned over");
            assert!((areas.sum::<f64>() * sign - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn triangles_cover_the_polygon_once_with_its_orientation() {
        check_area(&[[0., 0.], [1., 0.], [1., 1.], [0., 1.]], 1.0);
        check_area(&[[0., 0.], [4., 0.], [1., 1.], [0., 4.]], 4.0); // arrow head
        check_area(
            &[[0., 0.], [3., 0.], [3., 3.], [2., 3.], [2., 1.], [1., 1.], [1., 3.], [0., 3.]],
            7.0,
        );
        check_area(&[[0., 0.], [2., 0.], [4., 0.], [4., 1.], [2., 1.], [2., 0.5], [0., 0.5]], 3.0);
    }

    /// A comb of 5,000 teeth, and a circle of 20,000 corners: cut within few looks, no corner in many
    /// triangles.
    #[test]
    fn large_polygons_are_cut_without_a_corner_common_to_all() {
        let tooth = |k: u32| [[f64::from(k), 0.], [f64::from(k) + 0.5, 3.]];
        let mut comb: Vec<[f64; 2]> = (0..5000).flat_map(tooth).collect();
        comb.extend([[5000., -1.], [0., -1.]]);
        comb.reverse();
        let area: f64 = comb.windows(2).map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1]).sum();
        let close = comb[comb.len() - 1][0] * comb[0][1] - comb[0][0] * comb[comb.len() - 1][1];
        check_area(&comb, 0.5 * (area + close).abs());
        let corner = |k: u32| {
            let angle = f64::from(k) / 20_000.0 * std::f64::consts::TAU;
            [angle.cos(), angle.sin(), 0.0]
        };
        let circle: Vec<_> = (0..20_000).map(corner).collect();
        let mut triangles = Vec::new();
        triangulate(&circle, &mut triangles);
        assert_eq!(triangles.len(), 19_998);
        let mut uses = vec![0; circle.len()];
        triangles.iter().flatten().for_each(|k| uses[*k] += 1);
        assert!(uses.iter().all(|uses| *uses < 40));
    }

    #[test]
    fn polygons_without_area_keep_all_corners() {
        for corners in [[[1.0; 3]; 20], [[f64::MAX; 3]; 20], [[0.0, 1e300, 0.0]; 20]] {
            let mut triangles = Vec::new();
            triangulate(&corners, &mut triangles);
            assert_eq!(triangles.len(), 18);
        }
    }
}
