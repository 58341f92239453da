//! Bounding boxes in rows and layers: an arrangement at once, however many copies there are.
//!
//! Shelves, next fit (Coffman, Garey, Johnson & Tarjan 1980, "Performance bounds for level-oriented
//! two-dimensional packing algorithms", SIAM J. Computing 9(4), 808–826), once for the rows of a layer and
//! once for the layers of a build. [`crate::boxes`] packs closer, in time that grows with the square of the
//! copies.

use crate::boxes::{NOISE_MM, all_boxes};
use crate::fill_order::CopyToPlace;
use crate::model::{Item, Locked, NestError, Placed, Space};
use base::Affine;
use base::vec3::Vec3;

/// Puts the copies into builds, at most `max_builds`, by due date and then the highest first, each as flat as
/// its allowed orientations let it lie: the placements of each build, and the copies that have none, by
/// their index. In the first build all lie above what is locked. Boxes keep the clearance along an axis,
/// and can be lifted out one after the other, the highest layer first.
///
/// # Errors
/// [`NestError::UnusableMesh`] for a part without vertices.
pub(crate) fn shelves(
    items: &[Item],
    locked: &[Locked],
    copies: &[CopyToPlace],
    space: &Space,
    max_builds: usize,
) -> Result<(Vec<Vec<Placed>>, Vec<usize>), NestError> {
    let room = space.room().1;
    let fits = |size: &Vec3| (0..3).all(|k| size[k] <= room[k] + NOISE_MM);
    let flattest = |boxes: Vec<(Affine, Vec3)>| {
        let fitting = boxes.into_iter().filter(|(_, size)| fits(size));
        fitting.min_by(|a, b| a.1[2].total_cmp(&b.1[2]).then(a.1[1].total_cmp(&b.1[1])))
    };
    let flat: Vec<_> = all_boxes(items)?.into_iter().map(flattest).collect();
    let size = |copy: usize| flat[copies[copy].item].map_or([0.0; 3], |(_, size)| size);
    let mut order: Vec<usize> = (0..copies.len()).collect();
    order.sort_by(|&a, &b| {
        let (p, q) = (size(a), size(b));
        let higher = q[2].total_cmp(&p[2]).then(q[1].total_cmp(&p[1]));
        copies[a].due.cmp(&copies[b].due).then(higher).then(a.cmp(&b))
    });
    let locked_top = crate::cage::bounds_of(locked.iter().map(|l| (items[l.item].mesh(), l.pose)))
        .map_or(0.0, |(_, hi)| hi[2] - space.room().0[2] + space.clearance_mm);
    let mut shelf = Shelf {
        room,
        gap: space.clearance_mm,
        at: [0.0, 0.0, locked_top.max(0.0)],
        deep: 0.0,
        high: 0.0,
    };
    let (mut builds, mut unplaced) = (vec![Vec::new()], Vec::new());
    for index in order {
        let CopyToPlace { item, copy, .. } = copies[index];
        // What fits no build is left out; nothing goes into a build that is due after something left over.
        let Some((map, size)) = flat[item] else {
            unplaced.push(index);
            continue;
        };
        let mut at = shelf.place(size);
        if at.is_none() && builds.len() < max_builds {
            builds.push(Vec::new());
            shelf = Shelf { at: [0.0; 3], deep: 0.0, high: 0.0, ..shelf };
            at = shelf.place(size);
        }
        let (Some(at), Some(build)) = (at, builds.last_mut()) else {
            unplaced.push(index);
            continue;
        };
        let origin = space.room().0;
        let pose = Affine::translation([0, 1, 2].map(|k| origin[k] + at[k])) * map;
        build.push(Placed { item, copy, pose, locked: false });
    }
    unplaced.sort_unstable();
    Ok((builds, unplaced))
}

/// Where the next box of a build goes.
struct Shelf {
    room: Vec3,
    gap: f64,
    at: Vec3,
    /// Depth of the row, and height of the layer, so far.
    deep: f64,
    high: f64,
}

impl Shelf {
    /// A place for a box that fits an empty room; `None` if the rest of this one is too small.
    fn place(&mut self, size: Vec3) -> Option<Vec3> {
        let fits = |at: Vec3| (0..3).all(|k| at[k] + size[k] <= self.room[k] + NOISE_MM);
        let row = [0.0, self.at[1] + self.deep + self.gap, self.at[2]];
        let layer = [0.0, 0.0, self.at[2] + self.high + self.gap];
        let begun = |k: usize| self.at[k] > 0.0;
        let at = if fits(self.at) {
            self.at
        } else if begun(0) && fits(row) {
            self.deep = 0.0;
            row
        } else if (begun(0) || begun(1)) && fits(layer) {
            (self.deep, self.high) = (0.0, 0.0);
            layer
        } else {
            return None;
        };
        (self.deep, self.high) = (self.deep.max(size[1]), self.high.max(size[2]));
        self.at = [at[0] + size[0] + self.gap, at[1], at[2]];
        Some(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill_order;
    use crate::judge::proof::proof;
    use crate::judge::removal::removal;
    use crate::solid::bodies_of;
    use crate::tests::samples::item;
    use base::Progress;

    /// Ten thousand copies of two sizes, above a locked one, into three builds: all of them are there, the
    /// first build keeps all clearances and comes apart.
    #[test]
    fn shelves_hold_everything_in_order() {
        let items = [item([3.0, 4.0, 5.0], 300), item([9.0, 2.0, 7.0], 100), item([80.; 3], 1)];
        let space = Space { size_mm: [60., 50., 40.], wall_clearance_mm: 2., clearance_mm: 1.5 };
        let copies: Vec<_> = items
            .iter()
            .enumerate()
            .flat_map(|(item, i)| (0..i.quantity).map(move |copy| (item, copy)))
            .map(|(item, copy)| fill_order::CopyToPlace { item, copy, due: 1, size_mm3: 0.0 })
            .collect();
        let locked = [Locked { item: 0, pose: Affine::translation([-5.0, -5.0, -2.0]) }];
        let (builds, unplaced) = shelves(&items, &locked, &copies, &space, 9).unwrap();
        assert_eq!((builds.iter().map(Vec::len).sum::<usize>(), unplaced), (400, vec![400]));
        for (n, build) in builds.iter().enumerate() {
            let lock = Placed { item: 0, copy: 0, pose: locked[0].pose, locked: true };
            let mut all = build.clone();
            all.extend((n == 0).then_some(lock));
            let bodies = bodies_of(&items, &all, &Progress::default()).unwrap();
            assert!(proof(&bodies, &space, &Progress::default()).unwrap().holds());
            assert!(removal(&bodies, &Progress::default()).unwrap().is_free());
        }
    }
}
