//! What bottom-left-fill of bounding boxes reaches: the yardstick for nesting.

use crate::model::{Item, NestError, Placed, Space};
use crate::shape::inner;
use crate::turns::{rotations, scaled};
use base::Affine;

type Vec3 = [f64; 3];

#[derive(Clone, Copy)]
struct Taken {
    lo: Vec3,
    hi: Vec3,
}

/// Arranges the bounding boxes of all copies in one build, as high as it takes, whatever the
/// height of the space: largest box first, each in the turn and at the place where its top is
/// lowest, then its bottom, then nearest the front, then the left. Same turns and clearances as
/// [`crate::nest()`]. Exact: candidates are the walls and the far sides of the boxes there are.
///
/// # Errors
/// [`NestError::NoRoom`] if a part is wider or deeper than the room in every turn,
/// [`NestError::UnusableMesh`] for one without vertices.
pub fn boxes_baseline(items: &[Item], space: &Space) -> Result<Vec<Placed>, NestError> {
    let (origin, room) = inner(space);
    let mut order = Vec::new();
    let mut turned = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let bad = || NestError::UnusableMesh { item: i, name: item.name.clone() };
        let (lo, hi) = item.mesh.bounds().ok_or_else(bad)?;
        let volume: f64 = (0..3).map(|k| hi[k] - lo[k]).product();
        order.extend((0..item.quantity).map(|copy| (volume, i, copy)));
        turned.push(boxes_of(item));
    }
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut taken: Vec<Taken> = Vec::new();
    let mut placed = Vec::new();
    for (_, item, copy) in order {
        let mut best: Option<(Vec3, Vec3, Affine)> = None;
        for (map, size) in &turned[item] {
            let most = best.map_or(f64::INFINITY, |(at, size, _)| at[2] + size[2]);
            if let Some(at) = lowest(&taken, *size, room, space.clearance_mm, most - size[2]) {
                best = Some((at, *size, *map));
            }
        }
        let (at, size, map) = best.ok_or(NestError::NoRoom)?;
        taken.push(Taken { lo: at, hi: [0, 1, 2].map(|k| at[k] + size[k]) });
        let pose = Affine::translation([0, 1, 2].map(|k| origin[k] + at[k])) * map;
        placed.push(Placed { item, copy, pose, locked: false });
    }
    Ok(placed)
}

/// Per turn with a box of its own: the map that puts its lowest corner at the origin, its size.
fn boxes_of(item: &Item) -> Vec<(Affine, Vec3)> {
    let mut all: Vec<(Affine, Vec3)> = Vec::new();
    for turn in rotations(item.turns) {
        let mut map = Affine::IDENTITY;
        for (row, turn) in map.rows.iter_mut().zip(&scaled(&turn, item.scale)) {
            row[..3].copy_from_slice(turn);
        }
        let Some((lo, hi)) = crate::cage::bounds_of([(&*item.mesh, map)]) else { continue };
        let size = [0, 1, 2].map(|k| hi[k] - lo[k]);
        if !all.iter().any(|(_, s)| (0..3).all(|k| (s[k] - size[k]).abs() < 1e-9)) {
            all.push((Affine::translation(lo.map(|c| -c)) * map, size));
        }
    }
    all
}

/// Lowest place strictly below `most` at which a box fits.
fn lowest(taken: &[Taken], size: Vec3, room: Vec3, gap: f64, most: f64) -> Option<Vec3> {
    const NOISE: f64 = 1e-9;
    if size[0] > room[0] + NOISE || size[1] > room[1] + NOISE {
        return None;
    }
    let meets = |t: &Taken, k: usize, at: f64| {
        t.lo[k] < at + size[k] + gap - NOISE && t.hi[k] > at - gap + NOISE
    };
    let candidates = |list: &mut dyn Iterator<Item = f64>| {
        let mut all: Vec<f64> = std::iter::once(0.0).chain(list).collect();
        all.sort_by(f64::total_cmp);
        all.dedup();
        all
    };
    for z in candidates(&mut taken.iter().map(|t| t.hi[2] + gap)) {
        if z >= most - NOISE {
            return None;
        }
        let level: Vec<&Taken> = taken.iter().filter(|t| meets(t, 2, z)).collect();
        for y in candidates(&mut level.iter().map(|t| t.hi[1] + gap)) {
            if y + size[1] > room[1] + NOISE {
                break;
            }
            let mut row: Vec<&Taken> = level.iter().copied().filter(|t| meets(t, 1, y)).collect();
            row.sort_by(|a, b| a.lo[0].total_cmp(&b.lo[0]));
            let mut x: f64 = 0.0;
            for t in row {
                if t.lo[0] >= x + size[0] + gap - NOISE {
                    break;
                }
                x = x.max(t.hi[0] + gap);
            }
            if x + size[0] <= room[0] + NOISE {
                return Some([x, y, z]);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Turns, figures::top_mm, samples};
    use std::sync::Arc;

    #[test]
    fn equal_cubes_fill_their_box_and_flat_turns_are_found() {
        let item = |size: Vec3, quantity| Item {
            name: String::new(),
            mesh: Arc::new(samples::cuboid([5.; 3], size.map(|s| s + 5.))),
            quantity,
            turns: Turns::Axis24,
            scale: [1.0; 3],
            due: None,
        };
        let space = Space { size_mm: [36., 36., 99.], wall_clearance_mm: 1., clearance_mm: 2. };
        let cubes = [item([10.; 3], 27)];
        let placed = boxes_baseline(&cubes, &space).unwrap();
        assert!((top_mm(&cubes, &placed) - 35.0).abs() < 1e-9);
        let plate = [item([2., 30., 30.], 3)];
        let placed = boxes_baseline(&plate, &space).unwrap();
        assert!((top_mm(&plate, &placed) - 11.0).abs() < 1e-9);
    }
}
