//! Filled regions: rings on the nanometre grid, filled by winding number in the stencil.
//!
//! Each ring becomes a fan of triangles about its first point; the stencil counts the fans that
//! cover a pixel, those of turned triangles down. What is left above or below zero is inside
//! (Newman & Sproull's parity fill, with counts instead of bits). No triangulation is needed, and
//! rings may cross.

/// Rings ready to be uploaded.
#[derive(Debug, Default)]
pub struct FillSet {
    pub(super) points: Vec<[i32; 2]>,
    pub(super) indices: Vec<u32>,
    /// End index (exclusive) in `points` of each ring, rising.
    ends: Vec<usize>,
}

impl FillSet {
    /// Takes rings, nm; outer rings one way round, holes the other. The closing edge is implied.
    /// Rings of fewer than three points are left out. O(points).
    pub fn new<R: IntoIterator<Item = [i32; 2]>>(rings: impl IntoIterator<Item = R>) -> Self {
        let mut fill = Self::default();
        for ring in rings {
            let first = fill.points.len();
            fill.points.extend(ring);
            if fill.points.len() < first + 3 || u32::try_from(fill.points.len()).is_err() {
                fill.points.truncate(first);
                continue;
            }
            fill.ends.push(fill.points.len());
            fill.indices.extend(fan(first, fill.points.len()));
        }
        fill
    }

    /// Whether there is nothing to fill.
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    fn rings(&self) -> impl Iterator<Item = &[[i32; 2]]> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(&self.ends).map(|(start, &end)| &self.points[start..end])
    }

    /// The same, cut off outside a rectangle (nm). Single precision on the card cannot place
    /// edges that begin a build space away when a pixel is a few nanometres.
    pub(super) fn clipped(&self, low: [f64; 2], high: [f64; 2]) -> Self {
        Self::new(self.rings().map(|ring| {
            let mut ring: Vec<_> = ring.iter().map(|p| p.map(f64::from)).collect();
            for (axis, sign, limit) in
                [(0, 1.0, -low[0]), (0, -1.0, high[0]), (1, 1.0, -low[1]), (1, -1.0, high[1])]
            {
                ring = cut(&ring, |p| sign * p[axis] + limit);
            }
            #[expect(clippy::cast_possible_truncation, reason = "inside a ring of i32 points")]
            let rounded = |p: [f64; 2]| p.map(|c| c.round() as i32);
            ring.into_iter().map(rounded)
        }))
    }
}

/// The part of a ring where `side` is not negative (Sutherland & Hodgman 1974, CACM 17(1)).
fn cut(ring: &[[f64; 2]], side: impl Fn([f64; 2]) -> f64) -> Vec<[f64; 2]> {
    let mut kept = Vec::with_capacity(ring.len().min(64));
    let Some(&last) = ring.last() else { return kept };
    let (mut before, mut before_side) = (last, side(last));
    for &point in ring {
        let here = side(point);
        if (here < 0.0) != (before_side < 0.0) {
            let t = before_side / (before_side - here);
            kept.push([0, 1].map(|axis| before[axis] + t * (point[axis] - before[axis])));
        }
        if here >= 0.0 {
            kept.push(point);
        }
        (before, before_side) = (point, here);
    }
    kept
}

/// Indices of the triangles about the first of a ring's points.
#[expect(clippy::cast_possible_truncation, reason = "the caller checked the end")]
fn fan(first: usize, end: usize) -> impl Iterator<Item = u32> {
    (first + 1..end - 1).flat_map(move |i| [first as u32, i as u32, i as u32 + 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ring_of_n_points_has_n_minus_two_triangles_and_short_rings_none() {
        let square = vec![[0, 0], [9, 0], [9, 9], [0, 9]];
        let fill = FillSet::new([vec![[1, 1], [2, 2]], square.clone(), vec![], square]);
        assert_eq!(fill.indices, [0, 1, 2, 0, 2, 3, 4, 5, 6, 4, 6, 7]);
        assert!(FillSet::new([vec![[1, 1]]]).is_empty());
    }

    #[test]
    fn clipping_leaves_what_lies_in_the_rectangle() {
        let big = vec![[-1_000, -1_000], [1_000, -1_000], [1_000, 1_000], [-1_000, 1_000]];
        let far = vec![[500, 500], [600, 500], [600, 600]];
        let triangle = vec![[0, 0], [40, 0], [0, 40]];
        let fill = FillSet::new([big, far, triangle]).clipped([-5.0; 2], [20.0; 2]);
        let twice_area = |ring: &[[i32; 2]]| -> i32 {
            let next = ring.iter().cycle().skip(1);
            ring.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum()
        };
        let areas: Vec<_> = fill.rings().map(twice_area).collect();
        assert_eq!(areas, [2 * 25 * 25, 2 * 20 * 20]); // the hypotenuse passes through (20, 20)
    }
}
