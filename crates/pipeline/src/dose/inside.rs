//! The edges of a region, and which points of a row lie inside them.

use region::Region;

/// The boundary of a region, crossed by rows from the bottom up.
pub(super) struct Crossings {
    /// Edges by their lower end, mm: the lower end first.
    edges: Vec<[[f64; 2]; 2]>,
    /// Edges before this have begun.
    next: usize,
    /// Edges that have begun and not ended.
    here: Vec<usize>,
}

impl Crossings {
    /// The crossings of a proper region.
    pub(super) fn of(region: &Region) -> Self {
        let rising = |[a, b]: [[f64; 2]; 2]| if a[1] <= b[1] { [a, b] } else { [b, a] };
        let mut edges: Vec<_> = edges_mm(region).map(rising).collect();
        edges.sort_by(|a, b| a[0][1].total_cmp(&b[0][1]));
        Self { edges, next: 0, here: Vec::new() }
    }

    /// The stretches of X, mm, inside the region at a Y that no earlier call was above. A boundary that
    /// just touches the row counts as above it.
    pub(super) fn stretches(&mut self, y: f64) -> Vec<[f64; 2]> {
        while self.edges.get(self.next).is_some_and(|edge| edge[0][1] <= y) {
            self.here.push(self.next);
            self.next += 1;
        }
        let edges = &self.edges;
        self.here.retain(|&edge| edges[edge][1][1] > y);
        let crossing = |&edge: &usize| {
            let [[ax, ay], [bx, by]] = edges[edge];
            ax + (bx - ax) * ((y - ay) / (by - ay))
        };
        let mut crossings: Vec<f64> = self.here.iter().map(crossing).collect();
        crossings.sort_by(f64::total_cmp);
        crossings.chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect()
    }
}

/// The edges of a region, mm.
pub(super) fn edges_mm(region: &Region) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
    let ends = region.rings().flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)));
    ends.map(|(a, b)| [a.to_mm(), b.to_mm()])
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::Point;

    #[test]
    fn rows_are_inside_between_outline_and_hole() {
        let ring = |corners: &[[f64; 2]]| -> Vec<Point> {
            corners.iter().map(|p| Point::from_mm(p[0], p[1]).unwrap()).collect()
        };
        let triangle = ring(&[[0.0, 0.0], [8.0, 0.0], [0.0, 8.0]]);
        let hole = ring(&[[1.0, 1.0], [1.0, 3.0], [2.0, 3.0], [2.0, 1.0]]);
        let mut rows = Crossings::of(&Region::from_proper_rings([triangle, hole]));
        assert_eq!(rows.stretches(-1.0), Vec::<[f64; 2]>::new());
        assert_eq!(rows.stretches(0.0), [[0.0, 8.0]]);
        assert_eq!(rows.stretches(2.0), [[0.0, 1.0], [2.0, 6.0]]);
        assert_eq!(rows.stretches(3.0), [[0.0, 5.0]]);
        assert_eq!(rows.stretches(8.0), Vec::<[f64; 2]>::new());
    }
}
