//! Turns triangles into voxels: every voxel whose inside meets the part is set.
//!
//! A voxel meets the solid if its surface passes through it, which a separating-axis test decides
//! (Akenine-Möller 2001, Journal of Graphics Tools 6(1), "Fast 3D triangle-box overlap testing"),
//! or if it lies inside, which the winding along X through it decides. Hollows that have no way
//! out are filled, so that nothing is ever put into them.

use super::mask::Mask;
use base::vec3::{Vec3, cross, dot, sub};

/// Overlaps thinner than this, voxel edges, are rounding: the part only touches a voxel's face. A larger
/// number would leave out voxels that a thin part meets, a smaller one would set a whole layer of
/// voxels beside every face that lies on the grid.
const NOISE: f64 = 1e-9;

/// A box that is longer by less than this, voxel edges, than a whole number of voxels has no further
/// voxel, since that would hold nothing but rounding.
pub(in crate::search) const ROUNDING: f64 = 1e-7;

/// Most voxels along an axis, so that an absurd ratio of sizes ends in a clamp, not in an overflow.
const MAX_VOXELS: f64 = 1e6;

/// Voxels of edge `h` that cover a length.
pub(super) fn voxels_along(length: f64, h: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    let count = (length / h - ROUNDING).ceil().clamp(1.0, MAX_VOXELS) as usize;
    count
}

/// The voxels of edge `h` that the solid within `triangles` meets, in the box that starts at `lo`.
///
/// A face that lies in the faces of voxels sets only the voxels inside the solid. Where the mesh is not
/// closed, voxels that the surface merely touches count as well.
pub(crate) fn voxelise(triangles: &[[Vec3; 3]], lo: Vec3, hi: Vec3, h: f64) -> Mask {
    let dims = [0, 1, 2].map(|k| voxels_along(hi[k] - lo[k], h));
    let local: Vec<[Vec3; 3]> = triangles
        .iter()
        .map(|t| t.map(|p| [(p[0] - lo[0]) / h, (p[1] - lo[1]) / h, (p[2] - lo[2]) / h]))
        .collect();
    let mut mask = Mask::new(dims);
    for t in &local {
        mark_surface(&mut mask, t, NOISE);
    }
    let closed = fill_inside(&mut mask, &local);
    if !closed || mask.count() == 0 {
        for t in &local {
            mark_surface(&mut mask, t, -NOISE);
        }
    }
    fill_hollows(&mut mask);
    mask
}

/// The voxels of an axis of `n` that a stretch from `lo` to `hi` meets by more than `slack`.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the mask")]
fn voxel_range(lo: f64, hi: f64, n: usize, slack: f64) -> std::ops::Range<usize> {
    let first = (lo + slack).floor().clamp(0.0, n as f64) as usize;
    let last = (hi - slack).ceil().clamp(0.0, n as f64) as usize;
    first..last.max((first + 1).min(n))
}

/// Sets the voxels that a triangle passes through more deeply than `noise`.
fn mark_surface(mask: &mut Mask, t: &[Vec3; 3], noise: f64) {
    let range = |k: usize| {
        let (lo, hi) = (t[0][k].min(t[1][k]).min(t[2][k]), t[0][k].max(t[1][k]).max(t[2][k]));
        voxel_range(lo, hi, mask.dims[k], noise)
    };
    let (xs, ys, zs) = (range(0), range(1), range(2));
    let axes = separating_axes(t);
    for z in zs {
        for y in ys.clone() {
            'voxel: for x in xs.clone() {
                let centre = [x as f64 + 0.5, y as f64 + 0.5, z as f64 + 0.5];
                for axis in &axes {
                    let c = dot(axis.direction, centre);
                    if axis.lo - c >= axis.half_voxel - noise * axis.length
                        || axis.hi - c <= -axis.half_voxel + noise * axis.length
                    {
                        continue 'voxel;
                    }
                }
                mask.set([x, y, z]);
            }
        }
    }
}

/// A direction along which a triangle and a voxel may be apart.
struct SeparatingAxis {
    direction: Vec3,
    length: f64,
    /// The triangle's extent along it.
    lo: f64,
    hi: f64,
    /// Half the voxel's extent along it.
    half_voxel: f64,
}

/// The 13 directions along which a triangle and a box that do not overlap can be told apart.
fn separating_axes(t: &[Vec3; 3]) -> Vec<SeparatingAxis> {
    let edges = [sub(t[1], t[0]), sub(t[2], t[1]), sub(t[0], t[2])];
    let longest = edges.iter().map(|e| dot(*e, *e)).fold(0.0, f64::max);
    let units = [[1., 0., 0.], [0., 1., 0.], [0., 0., 1.]];
    let mut axes = Vec::with_capacity(13);
    let mut push = |direction: Vec3, least: f64| {
        let square = dot(direction, direction);
        if square > least {
            let along = t.map(|p| dot(direction, p));
            axes.push(SeparatingAxis {
                direction,
                length: square.sqrt(),
                lo: along[0].min(along[1]).min(along[2]),
                hi: along[0].max(along[1]).max(along[2]),
                half_voxel: 0.5 * direction.iter().map(|c| c.abs()).sum::<f64>(),
            });
        }
    };
    for u in units {
        push(u, 0.0);
    }
    push(cross(edges[0], edges[1]), 1e-20 * longest * longest);
    for e in edges {
        // An edge along the unit vector gives a direction of noise; others decide then.
        for u in units {
            push(cross(u, e), 1e-18 * dot(e, e));
        }
    }
    axes
}

/// Where a row of voxels is followed through the solid, in voxel edges from the voxel's lowest corner.
/// Slightly off the middle, so that rows miss the corners and edges of parts on round numbers.
const ROW_Y: f64 = 0.501_37;
const ROW_Z: f64 = 0.502_91;

/// Where rows of voxels cross the surface: x, and +1 or −1 for the two directions.
type Crossings = Vec<Vec<(f64, i32)>>;

/// The crossings of all rows, row (y, z) at `z · dims[1] + y`.
fn crossings(mask: &Mask, triangles: &[[Vec3; 3]]) -> Crossings {
    let [_, ny, nz] = mask.dims;
    let mut crossings: Crossings = vec![Vec::new(); ny * nz];
    for t in triangles {
        let [a, b, c] = *t;
        let area = (b[1] - a[1]) * (c[2] - a[2]) - (b[2] - a[2]) * (c[1] - a[1]);
        if area == 0.0 {
            continue;
        }
        let range = |k: usize| {
            let (lo, hi) = (a[k].min(b[k]).min(c[k]), a[k].max(b[k]).max(c[k]));
            voxel_range(lo, hi, mask.dims[k], 0.0)
        };
        for z in range(2) {
            for y in range(1) {
                let (py, pz) = (y as f64 + ROW_Y, z as f64 + ROW_Z);
                // The same expression for an edge, whichever of its two triangles it is computed for:
                // a row that passes an edge is counted for exactly one of them.
                let side = |p: Vec3, q: Vec3| {
                    let (flip, p, q) =
                        if (p[1], p[2]) <= (q[1], q[2]) { (1.0, p, q) } else { (-1.0, q, p) };
                    flip * ((q[1] - p[1]) * (pz - p[2]) - (q[2] - p[2]) * (py - p[1]))
                };
                let (u, v, w) = (side(b, c), side(c, a), side(a, b));
                if (u > 0.0 && v > 0.0 && w > 0.0) || (u < 0.0 && v < 0.0 && w < 0.0) {
                    let x = (u * a[0] + v * b[0] + w * c[0]) / (u + v + w);
                    crossings[z * ny + y].push((x, if area > 0.0 { 1 } else { -1 }));
                }
            }
        }
    }
    crossings
}

/// Sets the voxels whose middle lies inside; false if the winding did not close everywhere.
fn fill_inside(mask: &mut Mask, triangles: &[[Vec3; 3]]) -> bool {
    let [nx, ny, nz] = mask.dims;
    let mut crossings = crossings(mask, triangles);
    let mut closed = true;
    for z in 0..nz {
        for y in 0..ny {
            let row = &mut crossings[z * ny + y];
            row.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
            if row.iter().map(|c| c.1).sum::<i32>() != 0 {
                closed = false;
                continue;
            }
            let (mut winding, mut next) = (0, 0);
            for x in 0..nx {
                while next < row.len() && row[next].0 < x as f64 + 0.5 {
                    winding += row[next].1;
                    next += 1;
                }
                if winding != 0 {
                    mask.set([x, y, z]);
                }
            }
        }
    }
    closed
}

/// Sets every voxel that cannot be reached from outside through faces of unset voxels.
pub(crate) fn fill_hollows(mask: &mut Mask) {
    let dims = mask.dims;
    let mut outside = Mask::new(dims);
    let mut stack = Vec::new();
    let reach = |p: [usize; 3], outside: &mut Mask, stack: &mut Vec<[usize; 3]>| {
        if !mask.get(p) && !outside.get(p) {
            outside.set(p);
            stack.push(p);
        }
    };
    for z in 0..dims[2] {
        for y in 0..dims[1] {
            let rim = z == 0 || z + 1 == dims[2] || y == 0 || y + 1 == dims[1];
            let step = if rim { 1 } else { (dims[0] - 1).max(1) };
            for x in (0..dims[0]).step_by(step) {
                reach([x, y, z], &mut outside, &mut stack);
            }
        }
    }
    while let Some(p) = stack.pop() {
        for k in 0..3 {
            let mut q = p;
            if p[k] > 0 {
                q[k] = p[k] - 1;
                reach(q, &mut outside, &mut stack);
            }
            if p[k] + 1 < dims[k] {
                q[k] = p[k] + 1;
                reach(q, &mut outside, &mut stack);
            }
        }
    }
    for z in 0..dims[2] {
        for y in 0..dims[1] {
            for x in 0..dims[0] {
                if !outside.get([x, y, z]) {
                    mask.set([x, y, z]);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tests::samples;
    use proptest::prelude::*;

    fn corners(mesh: &mesh::Mesh) -> Vec<[Vec3; 3]> {
        (0..mesh.triangles.len()).map(|i| mesh.corners(i)).collect()
    }

    #[test]
    fn a_box_on_the_grid_fills_its_own_voxels_and_a_shell_its_hollow() {
        let cube = corners(&samples::cuboid([0.; 3], [3., 2., 4.]));
        assert_eq!(voxelise(&cube, [0.; 3], [3., 2., 4.], 1.0).count(), 24);
        let mut shell = cube;
        let hole = corners(&samples::cuboid([1.0, 0.5, 1.0], [2.0, 1.5, 2.0]));
        shell.extend(hole.into_iter().map(|[a, b, c]| [a, c, b]));
        let mask = voxelise(&shell, [0.; 3], [3., 2., 4.], 0.25);
        assert_eq!(mask.count(), 24 * 64);
    }

    /// Expected count of conservative voxels of a ball of radius 10 at voxel edge 1: 5192.268
    /// (Steiner's formula for the sum with a cube), with a spread over grid offsets of some 30.
    #[test]
    fn a_ball_takes_as_many_voxels_as_steiner_says() {
        let ball = corners(&samples::ball(10.0, 48));
        let mut total = 0.0;
        for i in 0..8 {
            let o =
                [0.13 + 0.11 * f64::from(i), 0.5 - 0.07 * f64::from(i), 0.29 * f64::from(i % 3)];
            let lo = o.map(|c| c - 11.0);
            total += voxelise(&ball, lo, [11.0; 3], 1.0).count() as f64 / 8.0;
        }
        assert!((total - 5192.268).abs() < 60.0, "{total}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(40))]
        /// Random points of a random tetrahedron always lie in a set voxel: on its faces and inside.
        #[test]
        fn no_point_of_the_solid_lies_in_an_unset_voxel(
            p in prop::array::uniform4(prop::array::uniform3(-5.0..5.0_f64)),
            weights in prop::collection::vec(prop::array::uniform4(0.0..1.0_f64), 60),
            on_grid: bool,
        ) {
            let p = if on_grid { p.map(|v| v.map(f64::round)) } else { p };
            let tet = [[p[0], p[2], p[1]], [p[0], p[1], p[3]], [p[1], p[2], p[3]], [p[2], p[0], p[3]]];
            let lo = [0, 1, 2].map(|k| p.iter().map(|v| v[k]).fold(f64::MAX, f64::min));
            let hi = [0, 1, 2].map(|k| p.iter().map(|v| v[k]).fold(f64::MIN, f64::max));
            let h = 0.5;
            let mask = voxelise(&tet, lo, hi, h);
            for (i, mut w) in weights.into_iter().enumerate() {
                if i % 2 == 0 { w[i / 2 % 4] = 0.0; }
                let sum: f64 = w.iter().sum();
                prop_assume!(sum > 1e-6);
                let at = [0, 1, 2].map(|k| ((0..4).map(|j| w[j] * p[j][k]).sum::<f64>() / sum - lo[k]) / h);
                // Within noise of a voxel's face either neighbour may hold it.
                if at.iter().any(|c| (c - c.round()).abs() < 1e-6) { continue; }
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small, positive")]
                let voxel = at.map(|c| c.floor().max(0.0) as usize);
                prop_assert!(mask.get(voxel), "{at:?}");
            }
        }
    }
}
