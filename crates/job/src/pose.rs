//! From the part frame to the build space.

use crate::Placement;
use base::Affine;

impl Placement {
    /// The map of a part's points into the build space: turned about the part's origin, then scaled
    /// against shrinkage along the build axes about the centre of the turned part's bounding box,
    /// then moved so that this centre lies at [`Self::location_mm`].
    ///
    /// | argument   | shape, unit                                                     |
    /// |------------|-----------------------------------------------------------------|
    /// | `vertices` | the part's points, mm, part frame; only their extent is used    |
    /// | `scale`    | factor along X, Y, Z of the build space; [`crate::Recipe::scale`] |
    ///
    /// The centre of no points at all is taken to be the origin. O(n) time.
    pub fn pose(&self, vertices: impl IntoIterator<Item = [f64; 3]>, scale: [f64; 3]) -> Affine {
        let turned = Affine::rotation_deg(self.rotation_deg);
        let centre = centre(vertices.into_iter().map(|vertex| turned.apply(vertex)));
        Affine::translation(self.location_mm)
            * (Affine::scaling(scale) * (Affine::translation(centre.map(|c| -c)) * turned))
    }
}

/// Centre of the bounding box.
fn centre(points: impl Iterator<Item = [f64; 3]>) -> [f64; 3] {
    let bounds = points.fold(None, |bounds, p| {
        let (mut low, mut high) = bounds.unwrap_or((p, p));
        for k in 0..3 {
            low[k] = p[k].min(low[k]);
            high[k] = p[k].max(high[k]);
        }
        Some((low, high))
    });
    let (low, high) = bounds.unwrap_or_default();
    [0, 1, 2].map(|k| f64::midpoint(low[k], high[k]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Corners of a box from `(1, 2, 3)` with edges 20, 10, 4.
    const BOX: [[f64; 3]; 8] = [
        [1., 2., 3.],
        [21., 2., 3.],
        [1., 12., 3.],
        [21., 12., 3.],
        [1., 2., 7.],
        [21., 2., 7.],
        [1., 12., 7.],
        [21., 12., 7.],
    ];

    #[track_caller]
    fn check(placement: Placement, scale: [f64; 3], low: [f64; 3], high: [f64; 3]) {
        let pose = placement.pose(BOX, scale);
        let placed = BOX.map(|p| pose.apply(p));
        for k in 0..3 {
            let column = placed.map(|p| p[k]);
            let (a, b) = (
                column.iter().copied().fold(f64::MAX, f64::min),
                column.iter().copied().fold(f64::MIN, f64::max),
            );
            assert!((a - low[k]).abs() < 1e-12 && (b - high[k]).abs() < 1e-12, "axis {k}: {a} {b}");
        }
    }

    /// Part location after ISO 17295: centre of the bounding box, from the centre of the platform.
    #[test]
    fn the_bounding_box_centre_comes_to_the_location() {
        let flat = Placement { location_mm: [-125., -110., 15.], rotation_deg: [0.; 3] };
        check(flat, [1.; 3], [-135., -115., 13.], [-115., -105., 17.]);
        let upright = Placement { rotation_deg: [0., 90., 0.], ..flat }; // its X lies along −Z
        check(upright, [1.; 3], [-127., -115., 5.], [-123., -105., 25.]);
    }

    #[test]
    fn scaling_follows_the_axes_of_the_build_and_keeps_the_centre() {
        let quarter = Placement { location_mm: [0., 0., 50.], rotation_deg: [0., 0., 90.] };
        check(quarter, [2., 1., 0.5], [-10., -10., 49.], [10., 10., 51.]);
    }

    #[test]
    fn a_part_without_points_stays_finite() {
        let placement = Placement { location_mm: [1., 2., 3.], rotation_deg: [10., 20., 30.] };
        let pose = placement.pose([], [1.0; 3]);
        assert!(pose.is_finite());
    }

    proptest! {
        /// Volumes grow by the product of the factors whatever the turn, and nothing is mirrored.
        #[test]
        fn turning_neither_mirrors_nor_changes_the_volume(
            rotation_deg in prop::array::uniform3(-360.0..360.0_f64),
            location_mm in prop::array::uniform3(-100.0..100.0_f64),
            scale in prop::array::uniform3(0.9..1.2_f64),
        ) {
            let pose = Placement { location_mm, rotation_deg }.pose(BOX, scale);
            let factor = scale[0] * scale[1] * scale[2];
            prop_assert!((pose.determinant() - factor).abs() < 1e-12);
        }
    }
}
