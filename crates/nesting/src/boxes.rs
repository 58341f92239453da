//! Bottom-left fill of bounding boxes: what nesting is compared with, and must not be worse than.

use crate::fill_order::{CopyToPlace, fill_in_order};
use crate::model::{Item, Locked, NestError, Placed, Space};
use crate::orientation::{linear_map, rotations, scaled};
use crate::solid::Bounds;
use base::vec3::Vec3;
use base::{Affine, Cancelled, Progress};

/// Differences of sums of sizes and gaps up to this are rounding, mm.
pub(crate) const NOISE_MM: f64 = 1e-9;

/// Arranges the bounding boxes of all copies in one build, as high as it takes, whatever the
/// height of the space: largest box first, each in the orientation and at the place where its top is
/// lowest, then its bottom, then nearest the front, then the left. Same orientations and clearances
/// as [`crate::nest()`]. Exact: candidates are the walls and the far sides of the boxes there are.
///
/// # Errors
/// [`NestError::NoRoom`] if a part is wider or deeper than the room in every orientation,
/// [`NestError::UnusableMesh`] for one without vertices, [`NestError::Cancelled`] on request.
pub fn boxes_baseline(
    items: &[Item],
    space: &Space,
    progress: &Progress,
) -> Result<Vec<Placed>, NestError> {
    let oriented = all_boxes(items)?;
    let mut order = Vec::new();
    for (i, (item, oriented)) in items.iter().zip(&oriented).enumerate() {
        order.extend((0..item.quantity).map(|copy| (volume(oriented), i, copy)));
    }
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut stack = Stack::new(&oriented, space, f64::INFINITY, progress);
    let place = |(_, item, copy)| {
        let pose = stack.insert(item)?.ok_or(NestError::NoRoom)?;
        Ok(Placed { item, copy, pose, locked: false })
    };
    order.into_iter().map(place).collect()
}

/// The same below the height of the space, in as many builds as it takes, at most `max_builds`,
/// around what is locked in the first: the placements of each build, without the locked ones, and the
/// copies that have none, by their index. Due dates count as in [`crate::nest()`]. Boxes that are apart along one axis
/// can be lifted out one after the other, the highest first.
///
/// # Errors
/// [`NestError::UnusableMesh`] for a part without vertices, [`NestError::Cancelled`] on request.
pub(crate) fn boxes_in_builds(
    items: &[Item],
    locked: &[Locked],
    copies: &[CopyToPlace],
    space: &Space,
    max_builds: usize,
    progress: &Progress,
) -> Result<(Vec<Vec<Placed>>, Vec<usize>), NestError> {
    let oriented = all_boxes(items)?;
    let room = space.room().1;
    let fits = |size: &Vec3| (0..3).all(|k| size[k] <= room[k] + NOISE_MM);
    let (mut pool, never): (Vec<usize>, Vec<usize>) = (0..copies.len())
        .partition(|&copy| oriented[copies[copy].item].iter().any(|(_, size)| fits(size)));
    let mut builds = Vec::new();
    while (!pool.is_empty() || builds.is_empty()) && builds.len() < max_builds.max(1) {
        let mut stack = Stack::new(&oriented, space, room[2], progress);
        if builds.is_empty() {
            stack.lock(items, locked);
        }
        let mut build: Vec<Placed> = Vec::new();
        let size = |copy: &CopyToPlace| volume(&oriented[copy.item]);
        pool = fill_in_order(copies, &pool, size, progress, |copy, item| {
            // Cancelled in between, the next look at the handle ends it all.
            let pose = stack.insert(item).ok().flatten();
            let copy = copies[copy].copy;
            build.extend(pose.map(|pose| Placed { item, copy, pose, locked: false }));
            pose.is_some()
        })?;
        progress.check()?;
        if build.is_empty() && !builds.is_empty() {
            break; // an empty build holds none of the rest
        }
        builds.push(build);
    }
    pool.extend(never);
    pool.sort_unstable();
    Ok((builds, pool))
}

/// The boxes of one build.
struct Stack<'a> {
    oriented: &'a [Vec<(Affine, Vec3)>],
    origin: Vec3,
    room: Vec3,
    gap: f64,
    taken: Vec<Bounds>,
    /// Per item and orientation, below what height there is no room: boxes are only ever added.
    full_below: Vec<Vec<f64>>,
    progress: &'a Progress,
}

impl<'a> Stack<'a> {
    fn new(
        oriented: &'a [Vec<(Affine, Vec3)>],
        space: &Space,
        height: f64,
        progress: &'a Progress,
    ) -> Self {
        let (origin, [width, depth, _]) = space.room();
        let full_below =
            oriented.iter().map(|orientations| vec![0.0; orientations.len()]).collect();
        let room = [width, depth, height];
        let gap = space.clearance_mm;
        Self { oriented, origin, room, gap, taken: Vec::new(), full_below, progress }
    }

    fn lock(&mut self, items: &[Item], locked: &[Locked]) {
        for l in locked {
            if let Some(bounds) = crate::cage::bounds_of([(items[l.item].mesh(), l.pose)]) {
                let [lo, hi] =
                    [bounds.0, bounds.1].map(|p| [0, 1, 2].map(|k| p[k] - self.origin[k]));
                self.taken.push(Bounds { lo, hi });
            }
        }
    }

    /// Puts in a box of an item and returns the pose; `None` if there is no room.
    fn insert(&mut self, item: usize) -> Result<Option<Affine>, Cancelled> {
        let mut best: Option<(Vec3, Vec3, Affine)> = None;
        for (n, (map, size)) in self.oriented[item].iter().enumerate() {
            self.progress.check()?;
            // The top must be lower than that of the orientations before, and below the ceiling.
            let before = best.map_or(f64::INFINITY, |(at, size, _)| at[2] + size[2]);
            let most = before.min(self.room[2] + 2.0 * NOISE_MM) - size[2];
            let from = self.full_below[item][n];
            let place = lowest(&self.taken, *size, self.room, self.gap, (from, most));
            self.full_below[item][n] = place.map_or(most.max(from), |at| at[2]);
            if let Some(at) = place {
                best = Some((at, *size, *map));
            }
        }
        let Some((at, size, map)) = best else { return Ok(None) };
        self.taken.push(Bounds { lo: at, hi: [0, 1, 2].map(|k| at[k] + size[k]) });
        let to_mm = [0, 1, 2].map(|k| self.origin[k] + at[k]);
        Ok(Some(Affine::translation(to_mm) * map))
    }
}

pub(crate) fn all_boxes(items: &[Item]) -> Result<Vec<Vec<(Affine, Vec3)>>, NestError> {
    let some = |(i, item): (usize, &Item)| {
        let boxes = boxes_of(item);
        let bad = || NestError::UnusableMesh { item: i, name: item.name.clone() };
        if boxes.is_empty() { Err(bad()) } else { Ok(boxes) }
    };
    items.iter().enumerate().map(some).collect()
}

/// mm³, of the first box; the others are as large.
fn volume(oriented: &[(Affine, Vec3)]) -> f64 {
    oriented.first().map_or(0.0, |(_, size)| size.iter().product())
}

/// Per orientation with a box of its own: the map that puts its lowest corner at the origin, its size.
fn boxes_of(item: &Item) -> Vec<(Affine, Vec3)> {
    let mut all: Vec<(Affine, Vec3)> = Vec::new();
    for rotation in rotations(item.orientations) {
        let map = linear_map(&scaled(&rotation, item.scale));
        let Some((lo, hi)) = crate::cage::bounds_of([(item.mesh(), map)]) else { continue };
        let size = [0, 1, 2].map(|k| hi[k] - lo[k]);
        if !all.iter().any(|(_, s)| (0..3).all(|k| (s[k] - size[k]).abs() < NOISE_MM)) {
            all.push((Affine::translation(lo.map(|c| -c)) * map, size));
        }
    }
    all
}

/// Lowest place between two heights, not at the upper one, at which a box fits.
fn lowest(
    taken: &[Bounds],
    size: Vec3,
    room: Vec3,
    gap: f64,
    (from, most): (f64, f64),
) -> Option<Vec3> {
    if size[0] > room[0] + NOISE_MM || size[1] > room[1] + NOISE_MM {
        return None;
    }
    let meets = |t: &Bounds, k: usize, at: f64| {
        t.lo[k] < at + size[k] + gap - NOISE_MM && t.hi[k] > at - gap + NOISE_MM
    };
    let candidates = |list: &mut dyn Iterator<Item = f64>| {
        let mut all: Vec<f64> = std::iter::once(0.0).chain(list).collect();
        all.sort_by(f64::total_cmp);
        all.dedup();
        all
    };
    for z in candidates(&mut taken.iter().map(|t| t.hi[2] + gap)) {
        if z < from {
            continue;
        }
        if z >= most - NOISE_MM {
            return None;
        }
        let level: Vec<&Bounds> = taken.iter().filter(|t| meets(t, 2, z)).collect();
        for y in candidates(&mut level.iter().map(|t| t.hi[1] + gap)) {
            if y + size[1] > room[1] + NOISE_MM {
                break;
            }
            let mut row: Vec<&Bounds> = level.iter().copied().filter(|t| meets(t, 1, y)).collect();
            row.sort_by(|a, b| a.lo[0].total_cmp(&b.lo[0]));
            let mut x: f64 = 0.0;
            for t in row {
                if t.lo[0] >= x + size[0] + gap - NOISE_MM {
                    break;
                }
                x = x.max(t.hi[0] + gap);
            }
            if x + size[0] <= room[0] + NOISE_MM {
                return Some([x, y, z]);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::figures::top_mm;
    use crate::tests::samples::item;
    use crate::{Options, nest};

    #[test]
    fn equal_cubes_fill_their_box_and_plates_are_laid_flat() {
        let space = Space { size_mm: [36., 36., 99.], wall_clearance_mm: 1., clearance_mm: 2. };
        let cubes = [item([10.; 3], 27)];
        let placed = boxes_baseline(&cubes, &space, &Progress::default()).unwrap();
        assert!((top_mm(&cubes, &placed) - 35.0).abs() < 1e-9);
        let plate = [item([2., 30., 30.], 3)];
        let placed = boxes_baseline(&plate, &space, &Progress::default()).unwrap();
        assert!((top_mm(&plate, &placed) - 11.0).abs() < 1e-9);
    }

    /// 27 cubes, edges and gaps no multiples of any voxel, fill the room to the brim.
    #[test]
    fn what_fits_as_boxes_gets_nested() {
        let side = 3.0 * 10.37 + 2.0 * 1.73 + 2.0;
        let space = Space { size_mm: [side; 3], wall_clearance_mm: 1., clearance_mm: 1.73 };
        let items = [item([10.37; 3], 27)];
        let options = Options { patience: 1, ..Options::default() };
        let done = nest(&items, &[], &space, &options, &Progress::default(), &mut |_| true);
        let done = done.unwrap();
        assert_eq!((done.builds.len(), done.unplaced.len()), (1, 0));
        assert!(top_mm(&items, &done.builds[0]) < side - 1.0 + 1e-6);
    }

    /// Two to a build, one beside what is locked; what is due first comes first, and what fits nowhere
    /// keeps nothing back.
    #[test]
    fn builds_fill_in_order_around_what_is_locked() {
        let space = Space { size_mm: [12., 24., 12.], wall_clearance_mm: 1., clearance_mm: 2. };
        let items = [item([10.; 3], 3), item([9.; 3], 2), item([30.; 3], 1)];
        let copy = |(item, copy, due)| CopyToPlace { item, copy, due, size_mm3: 0.0 };
        let copies = [(0, 0, 4), (0, 1, 4), (0, 2, 1), (1, 0, 2), (1, 1, 3), (2, 0, 0)].map(copy);
        let locked = [Locked { item: 0, pose: Affine::translation([-10.0, -16.0, -4.0]) }];
        let progress = Progress::default();
        let (builds, unplaced) =
            boxes_in_builds(&items, &locked, &copies, &space, 9, &progress).unwrap();
        let numbers = |build: &Vec<Placed>| -> Vec<(usize, u32)> {
            build.iter().map(|p| (p.item, p.copy)).collect()
        };
        let builds: Vec<_> = builds.iter().map(numbers).collect();
        let expected = [vec![(0, 2)], vec![(1, 0), (1, 1)], vec![(0, 0), (0, 1)]];
        assert_eq!((builds.as_slice(), unplaced), (expected.as_slice(), vec![5]));
    }
}
