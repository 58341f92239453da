//! Whether a search can begin: what the caller gave must be possible.

use crate::model::{Item, Locked, NestError, Options, Space};

/// Sides and clearances are below this, mm: a hundred metres.
const MAX_MM: f64 = 1e5;

/// Coordinates of meshes are below this, mm: a kilometre.
const MAX_COORDINATE_MM: f64 = 1e6;

/// Factors against shrinkage: all that any material needs, and far from flattening a part.
const SCALES: std::ops::RangeInclusive<f64> = 0.01..=100.0;

/// Entries of `RᵀR` may differ from those of the identity by less than this for R to be a rotation: angles
/// in files have few digits.
const ROTATION: f64 = 1e-6;

/// # Errors
/// [`NestError`] for what cannot be.
pub(super) fn check(
    items: &[Item],
    locked: &[Locked],
    space: &Space,
    options: &Options,
) -> Result<(), NestError> {
    check_measures(space, options)?;
    for (item, i) in items.iter().zip(0..) {
        let n = item.mesh().vertices.len();
        let usable = item.mesh().triangles.iter().flatten().all(|v| {
            let vertex = item.mesh().vertices.get(*v as usize);
            vertex.is_some_and(|p| p.iter().all(|c| c.abs() < MAX_COORDINATE_MM))
        });
        if n == 0 || item.mesh().triangles.is_empty() || !usable {
            return Err(NestError::UnusableMesh { item: i, name: item.name.clone() });
        }
        for value in item.scale {
            if !SCALES.contains(&value) {
                return Err(NestError::BadScale { item: i, name: item.name.clone(), value });
            }
        }
    }
    let mut counts = vec![0; items.len()];
    for (index, l) in locked.iter().enumerate() {
        let bad = |name, copy| Err(NestError::BadLock { index, item: l.item, name, copy });
        let Some((item, copy)) = items.get(l.item).zip(counts.get_mut(l.item)) else {
            return bad(String::new(), 1);
        };
        *copy += 1;
        if *copy > item.quantity || !is_rotation_and_scale(l, item.scale) {
            return bad(item.name.clone(), *copy);
        }
    }
    Ok(())
}

fn check_measures(space: &Space, options: &Options) -> Result<(), NestError> {
    let bad = |what, value, need| Err(NestError::BadMeasure { what, value, need });
    for size in space.size_mm {
        if !(size.is_finite() && size > 0.0 && size < MAX_MM) {
            return bad("a side of the build space", size, "above 0 and below 100000");
        }
    }
    for (what, value) in
        [("the clearance", space.clearance_mm), ("the clearance to walls", space.wall_clearance_mm)]
    {
        if !(value.is_finite() && (0.0..MAX_MM).contains(&value)) {
            return bad(what, value, "of at least 0");
        }
    }
    if let Some(h) = options.voxel_mm
        && !(h.is_finite() && h > 0.0)
    {
        return bad("the voxel", h, "above 0");
    }
    if space.room().1.iter().any(|r| *r <= 0.0) {
        return Err(NestError::NoRoom);
    }
    Ok(())
}

/// Whether the pose is a rotation, then this scaling, then a translation.
fn is_rotation_and_scale(locked: &Locked, scale: [f64; 3]) -> bool {
    let pose = &locked.pose;
    pose.is_finite() && pose.determinant() > 0.0 && {
        let r = [0, 1, 2].map(|i| [0, 1, 2].map(|k| pose.rows[i][k] / scale[i]));
        (0..3).all(|i| {
            (0..3).all(|j| {
                let dot: f64 = (0..3).map(|k| r[i][k] * r[j][k]).sum();
                (dot - f64::from(u8::from(i == j))).abs() < ROTATION
            })
        })
    }
}
