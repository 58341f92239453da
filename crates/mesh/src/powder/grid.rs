//! Voxels around a mesh.

use base::vec3::Vec3;

/// Cubes side by side; a margin around the mesh is wide enough for a ball to pass.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    /// Centre of the first one, mm.
    pub(super) origin_mm: Vec3,
    /// Edge, mm.
    pub(super) step_mm: f64,
    /// How many along X, Y, Z.
    pub(super) size: [usize; 3],
}

/// Parts of a voxel by which the grid is shifted: faces at round numbers do not lie in voxels' centres.
const SHIFT: Vec3 = [0.37, 0.41, 0.43];

impl Grid {
    /// Voxels of at least `step_mm`, larger where there would be more than `most`.
    pub(super) fn around((lo, hi): (Vec3, Vec3), ball_mm: f64, step_mm: f64, most: usize) -> Self {
        let mut step_mm = step_mm;
        loop {
            let margin = (ball_mm / step_mm).ceil() + 3.0;
            let size = [0, 1, 2].map(|k| count((hi[k] - lo[k]) / step_mm + 2.0 * margin + 1.0));
            let all = size.iter().map(|n| *n as f64).product::<f64>();
            if all <= most as f64 {
                let origin_mm = [0, 1, 2].map(|k| lo[k] - (margin + SHIFT[k]) * step_mm);
                return Self { origin_mm, step_mm, size };
            }
            step_mm *= (all / most as f64).cbrt().max(1.01);
        }
    }

    pub(super) fn len(&self) -> usize {
        self.size.iter().product()
    }

    pub(super) fn index(&self, [x, y, z]: [usize; 3]) -> usize {
        (z * self.size[1] + y) * self.size[0] + x
    }

    pub(super) fn place(&self, index: u32) -> [usize; 3] {
        let index = index as usize;
        let [nx, ny, _] = self.size;
        [index % nx, index / nx % ny, index / (nx * ny)]
    }

    /// Centre of a voxel, mm.
    pub(super) fn centre(&self, index: u32) -> Vec3 {
        let place = self.place(index);
        [0, 1, 2].map(|k| self.origin_mm[k] + place[k] as f64 * self.step_mm)
    }

    /// A point in voxels from the first one's centre.
    pub(super) fn seen(&self, p: Vec3) -> Vec3 {
        [0, 1, 2].map(|k| (p[k] - self.origin_mm[k]) / self.step_mm)
    }

    /// The voxels that share a face with one; all exist unless it lies at the rim.
    pub(super) fn beside(&self, index: u32) -> impl Iterator<Item = u32> + use<> {
        let place = self.place(index);
        let size = self.size;
        let steps = [1, size[0], size[0] * size[1]].map(narrow);
        (0..3).flat_map(move |k| {
            let below = (place[k] > 0).then(|| index - steps[k]);
            let above = (place[k] + 1 < size[k]).then(|| index + steps[k]);
            below.into_iter().chain(above)
        })
    }

    /// The next voxel in one of six directions.
    pub(super) fn next(&self, index: u32, direction: usize) -> Option<u32> {
        let (k, up) = (direction / 2, direction % 2 == 1);
        let at = self.place(index)[k];
        let step = narrow([1, self.size[0], self.size[0] * self.size[1]][k]);
        match up {
            true if at + 1 < self.size[k] => Some(index + step),
            false if at > 0 => Some(index - step),
            _ => None,
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "grids have fewer than 2³² voxels")]
pub(super) fn narrow(i: usize) -> u32 {
    i as u32
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
pub(super) fn count(x: f64) -> usize {
    x.ceil() as usize
}
