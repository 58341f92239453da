//! Two triangles in one plane: what they have in common.

/// The polygon that two triangles have in common, by cutting one along the edges of the other
/// (Sutherland & Hodgman 1974), in the turning sense of `p`.
///
/// | argument | shape, unit                                                            |
/// |----------|------------------------------------------------------------------------|
/// | `p`, `q` | corners, mm, either turning sense                                      |
/// | `least`  | an area up to this × its circumference counts as nothing in common, mm |
///
/// `None` if they have nothing in common, or if one has no area.
pub fn common_part(p: [[f64; 2]; 3], q: [[f64; 2]; 3], least: f64) -> Option<Vec<[f64; 2]>> {
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let sense = turn(q[0], q[1], q[2]);
    if sense == 0.0 || turn(p[0], p[1], p[2]) == 0.0 {
        return None;
    }
    let mut polygon = p.to_vec();
    for i in 0..3 {
        let side = |c: [f64; 2]| sense.signum() * turn(q[i], q[(i + 1) % 3], c);
        let mut cut = Vec::with_capacity(polygon.len() + 1);
        for (k, &c) in polygon.iter().enumerate() {
            let next = polygon[(k + 1) % polygon.len()];
            let (s, t) = (side(c), side(next));
            if s >= 0.0 {
                cut.push(c);
            }
            if (s > 0.0 && t < 0.0) || (s < 0.0 && t > 0.0) {
                let f = s / (s - t);
                cut.push([c[0] + f * (next[0] - c[0]), c[1] + f * (next[1] - c[1])]);
            }
        }
        polygon = cut;
        if polygon.len() < 3 {
            return None;
        }
    }
    let (mut area, mut around) = (0.0, 0.0);
    for (k, &c) in polygon.iter().enumerate() {
        let next = polygon[(k + 1) % polygon.len()];
        area += 0.5 * (c[0] * next[1] - c[1] * next[0]);
        around += (next[0] - c[0]).hypot(next[1] - c[1]);
    }
    (area.abs() > least * around).then_some(polygon)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_common_part_is_that_of_the_drawing() {
        let (p, q) = ([[0., 0.], [4., 0.], [0., 4.]], [[1., 1.], [1., -3.], [5., 1.]]);
        // By hand: 0 ≤ y ≤ 1 and 1 ≤ x ≤ 4 − y, hence an area of 3 − 1/2.
        let common = common_part(p, q, 1e-9).unwrap();
        let twice_area: f64 = (0..common.len())
            .map(|k| (common[k], common[(k + 1) % common.len()]))
            .map(|(a, b)| a[0] * b[1] - a[1] * b[0])
            .sum();
        assert!((twice_area / 2.0 - 2.5).abs() < 1e-12, "{common:?}");
        for (q, why) in [
            ([[5., 5.], [6., 5.], [5., 6.]], "apart"),
            ([[0., 0.], [4., 0.], [0., -4.]], "an edge alone"),
            ([[0., 0.], [1., 1.], [2., 2.]], "no area"),
        ] {
            assert!(common_part(p, q, 1e-9).is_none(), "{why}");
        }
    }
}
