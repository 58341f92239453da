//! Cutting a polygon in space into triangles.

use robust::{Coord, orient2d};

/// Polygons with more corners than this that are not convex are cut as a fan: cutting off ears
/// takes quadratic time. A fan around a notch folds over itself, but encloses the same volume.
const MAX_EAR_CORNERS: usize = 1000;

/// Cuts a polygon with `corners.len() ≥ 3` corners into `corners.len() − 2` triangles of indices
/// into `corners`, with the polygon's orientation. No corner is left out, whatever their
/// positions: polygons that cross themselves or have no area are cut as a fan.
pub(super) fn triangulate(corners: &[[f64; 3]], triangles: &mut Vec<[usize; 3]>) {
    let n = corners.len();
    if n > 3
        && let Some(flat) = flatten(corners)
        && !is_convex(&flat)
        && n <= MAX_EAR_CORNERS
    {
        cut_ears(&flat, triangles);
    } else {
        fan(&(0..n).collect::<Vec<_>>(), triangles);
    }
}

fn fan(ring: &[usize], triangles: &mut Vec<[usize; 3]>) {
    triangles.extend(ring.windows(2).skip(1).map(|pair| [ring[0], pair[0], pair[1]]));
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

/// Whether no corner of a ring that turns left as a whole turns right.
fn is_convex(flat: &[Coord<f64>]) -> bool {
    let n = flat.len();
    (0..n).all(|k| orient2d(flat[k], flat[(k + 1) % n], flat[(k + 2) % n]) >= 0.0)
}

/// Cuts off one ear after the other; what has no ear left is cut as a fan.
fn cut_ears(flat: &[Coord<f64>], triangles: &mut Vec<[usize; 3]>) {
    let mut ring: Vec<usize> = (0..flat.len()).collect();
    let mut at = 0;
    let mut tried = 0;
    while ring.len() > 3 && tried < ring.len() {
        let n = ring.len();
        at %= n;
        let (prev, tip, next) = (ring[(at + n - 1) % n], ring[at], ring[(at + 1) % n]);
        if is_ear(flat, &ring, [prev, tip, next]) {
            triangles.push([prev, tip, next]);
            ring.remove(at);
            tried = 0;
        } else {
            tried += 1;
        }
        at += 1; // leave the next corner out: spreads the triangles instead of making a fan
    }
    fan(&ring, triangles);
}

/// Whether a corner turns left and no other corner of the ring lies in its triangle.
fn is_ear(flat: &[Coord<f64>], ring: &[usize], ear: [usize; 3]) -> bool {
    let [a, b, c] = ear.map(|k| flat[k]);
    if orient2d(a, b, c) <= 0.0 {
        return false;
    }
    ring.iter().filter(|k| !ear.contains(k)).map(|&k| flat[k]).all(|p| {
        [a, b, c].contains(&p)
            || orient2d(a, b, p) < 0.0
            || orient2d(b, c, p) < 0.0
            || orient2d(c, a, p) < 0.0
    })
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

    #[test]
    fn polygons_without_area_keep_all_corners() {
        for corners in [[[1.0; 3]; 6], [[f64::MAX; 3]; 6], [[0.0, 1e300, 0.0]; 6]] {
            let mut triangles = Vec::new();
            triangulate(&corners, &mut triangles);
            assert_eq!(triangles.len(), 4);
        }
    }
}
