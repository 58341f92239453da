//! A cage of thin bars around small parts, so that none is lost in the powder.

use crate::model::NestError;
use base::Affine;
use mesh::Mesh;

/// Most bars along an edge; the error names the number.
const MAX_BARS: f64 = 1000.0;

/// An opening too wide by less than this part of itself is so by rounding.
const ROUNDING: f64 = 1e-9;

/// How a cage is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CageShape {
    /// Widest opening between two bars, mm: what may not fall through.
    pub opening_mm: f64,
    /// Width and depth of the square bars, mm.
    pub bar_mm: f64,
    /// Distance from the contents to the bars, mm.
    pub clearance_mm: f64,
}

/// The smallest cage around a box of contents: bars along all three axes in each of the six faces,
/// evenly spaced, no opening wider than asked for.
///
/// `contents_mm` is the smallest and largest coordinate of what goes in, build space, mm. The cage
/// is one closed surface, counter-clockwise outside, in the same frame: what lies between the bars
/// was removed cell by cell from a lattice, so bars meet without overlapping.
///
/// # Errors
/// [`NestError::BadMeasure`] for an opening or bar that is not positive, a clearance below 0, a box
/// that is not one, or more than 1000 bars along an edge.
pub fn cage(contents_mm: ([f64; 3], [f64; 3]), shape: &CageShape) -> Result<Mesh, NestError> {
    let bad = |what, value, need| Err(NestError::BadMeasure { what, value, need });
    for (what, value) in [("the opening", shape.opening_mm), ("the bar", shape.bar_mm)] {
        if !(value.is_finite() && value > 0.0) {
            return bad(what, value, "above 0");
        }
    }
    if !(shape.clearance_mm.is_finite() && shape.clearance_mm >= 0.0) {
        return bad("the clearance", shape.clearance_mm, "of at least 0");
    }
    let mut lines: [Vec<f64>; 3] = [const { Vec::new() }; 3];
    for (k, line) in lines.iter_mut().enumerate() {
        let (lo, hi) =
            (contents_mm.0[k] - shape.clearance_mm, contents_mm.1[k] + shape.clearance_mm);
        let inner = hi - lo;
        if !(inner.is_finite() && inner > 0.0) {
            return bad("the box of the contents", inner, "above 0 on every side");
        }
        // n openings and n − 1 bars between them.
        let openings =
            ((inner + shape.bar_mm) / (shape.opening_mm + shape.bar_mm) - ROUNDING).ceil();
        let openings = openings.max(1.0);
        if openings > MAX_BARS {
            return bad(
                "the opening",
                shape.opening_mm,
                "that gives at most 1000 bars along an edge",
            );
        }
        let opening = (inner - (openings - 1.0) * shape.bar_mm) / openings;
        let mut at = lo - shape.bar_mm;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 1000")]
        for _ in 0..openings as usize {
            line.extend([at, at + shape.bar_mm]);
            at += shape.bar_mm + opening;
        }
        line.extend([hi, hi + shape.bar_mm]);
    }
    Ok(lattice(&lines))
}

/// The boundary of the cells that are part of a bar. `lines` are the cell boundaries per axis;
/// even cells are as wide as a bar, odd ones as an opening.
fn lattice(lines: &[Vec<f64>; 3]) -> Mesh {
    let cells = [0, 1, 2].map(|k| lines[k].len() - 1);
    let solid = |c: [Option<usize>; 3]| {
        let [Some(x), Some(y), Some(z)] = c else { return false };
        let c = [x, y, z];
        if (0..3).any(|k| c[k] >= cells[k]) {
            return false;
        }
        // In a face of the box, and in a bar along one of the two axes of that face.
        (0..3).any(|k| {
            (c[k] == 0 || c[k] + 1 == cells[k])
                && (c[(k + 1) % 3].is_multiple_of(2) || c[(k + 2) % 3].is_multiple_of(2))
        })
    };
    let mut mesh = Mesh::default();
    let mut numbers = std::collections::BTreeMap::new();
    for z in 0..cells[2] {
        for y in 0..cells[1] {
            for x in 0..cells[0] {
                let c = [x, y, z];
                if !solid(c.map(Some)) {
                    continue;
                }
                for k in 0..3 {
                    for up in [false, true] {
                        let mut next = c.map(Some);
                        next[k] = if up { Some(c[k] + 1) } else { c[k].checked_sub(1) };
                        if solid(next) {
                            continue;
                        }
                        let corner = |i: usize, j: usize| {
                            let mut p = c;
                            p[k] += usize::from(up);
                            p[(k + 1) % 3] += i;
                            p[(k + 2) % 3] += j;
                            p
                        };
                        let quad =
                            [corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)].map(|p| {
                                *numbers.entry(p).or_insert_with(|| {
                                    mesh.vertices.push([0, 1, 2].map(|a| lines[a][p[a]]));
                                    u32::try_from(mesh.vertices.len() - 1).unwrap_or(u32::MAX)
                                })
                            });
                        let [a, b, c, d] = quad;
                        let two = if up { [[a, b, c], [a, c, d]] } else { [[a, c, b], [a, d, c]] };
                        mesh.triangles.extend(two);
                    }
                }
            }
        }
    }
    mesh
}

/// Smallest and largest coordinate of meshes in their poses, mm: what a cage goes around. `None`
/// without a vertex.
pub fn bounds_of<'a>(
    parts: impl IntoIterator<Item = (&'a Mesh, Affine)>,
) -> Option<([f64; 3], [f64; 3])> {
    let mut bounds: Option<([f64; 3], [f64; 3])> = None;
    for (mesh, pose) in parts {
        for p in mesh.vertices.iter().map(|v| pose.apply(*v)) {
            let (lo, hi) = bounds.get_or_insert((p, p));
            for k in 0..3 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
    }
    bounds
}

/// Adds the twelve triangles of a box.
#[cfg(test)]
pub(crate) fn push_box(mesh: &mut Mesh, lo: [f64; 3], hi: [f64; 3]) {
    let lines = [0, 1, 2].map(|k| vec![lo[k], hi[k]]);
    let one = lattice(&lines);
    let base = u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX);
    mesh.vertices.extend(one.vertices);
    mesh.triangles.extend(one.triangles.iter().map(|t| t.map(|v| v + base)));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cage_is_closed_has_the_volume_of_its_bars_and_no_opening_too_wide() {
        let shape = CageShape { opening_mm: 4.0, bar_mm: 1.0, clearance_mm: 2.0 };
        let cage = cage(([0.; 3], [5., 10., 15.]), &shape).unwrap();
        let measures = mesh::measures(&cage);
        assert_eq!(measures.bounds_mm, Some(([-3.; 3], [8., 13., 18.])));
        // Openings per axis: 9 → 2 of 4; 14 → 3 of 4; 19 → 4 of 4. Counted by hand: every face is a
        // bar-deep plate less its openings, edges of the box counted once.
        let (x, y, z) = (11.0, 16.0, 21.0);
        let shell = x * y * z - 9.0 * 14.0 * 19.0;
        let holes = 2.0 * 16.0 * f64::from(2 * 3 + 3 * 4 + 2 * 4);
        assert!((measures.volume_mm3 - (shell - holes)).abs() < 1e-9, "{measures:?}");
        let report = mesh::health(&cage, &base::Progress::default()).unwrap();
        assert_eq!((report.open_edges.count, report.inconsistent_edges.count), (0, 0));
        assert_eq!(report.over_shared_edges.count, 0);
    }

    #[test]
    fn impossible_cages_are_refused() {
        for (opening_mm, bar_mm, clearance_mm) in
            [(0., 1., 0.), (1., f64::NAN, 0.), (1., 1., -1.), (1e-6, 1e-6, 0.)]
        {
            let shape = CageShape { opening_mm, bar_mm, clearance_mm };
            assert!(cage(([0.; 3], [5.; 3]), &shape).is_err());
        }
        let shape = CageShape { opening_mm: 1., bar_mm: 1., clearance_mm: 0. };
        assert!(cage(([0.; 3], [5., -1., 5.]), &shape).is_err());
    }
}
