//! Which points of a polyline or a ring its simplification needs.

use base::Point;

/// Marks the ends of a stretch and the points that its simplification needs
/// (Ramer–Douglas–Peucker), in three coordinates.
pub(super) fn mark_kept(
    points: &[[f64; 3]],
    first: usize,
    last: usize,
    tolerance: f64,
    keep: &mut [bool],
) {
    keep[first] = true;
    keep[last] = true;
    let mut stretches = vec![(first, last)];
    while let Some((first, last)) = stretches.pop() {
        let mut worst = (tolerance * tolerance, None);
        let (a, b) = (points[first], points[last]);
        let chord: [f64; 3] = std::array::from_fn(|k| b[k] - a[k]);
        let length_squared: f64 = chord.iter().map(|c| c * c).sum();
        for (i, p) in points.iter().enumerate().take(last).skip(first + 1) {
            let from_a: [f64; 3] = std::array::from_fn(|k| p[k] - a[k]);
            let along: f64 = (0..3).map(|k| from_a[k] * chord[k]).sum();
            let t =
                if length_squared > 0.0 { (along / length_squared).clamp(0.0, 1.0) } else { 0.0 };
            let off: f64 = (0..3).map(|k| (from_a[k] - t * chord[k]).powi(2)).sum();
            if off > worst.0 {
                worst = (off, Some(i));
            }
        }
        if let (_, Some(middle)) = worst {
            keep[middle] = true;
            stretches.extend([(first, middle), (middle, last)]);
        }
    }
}

/// Leaves out points of a ring that lie within `tolerance` of the chord that replaces them
/// (Ramer–Douglas–Peucker), starting from the smallest point and the one farthest from it.
pub(super) fn simplify_ring(ring: &[Point], tolerance: f64, kept: &mut Vec<Point>) {
    kept.clear();
    let Some(first) = (0..ring.len()).min_by_key(|&i| ring[i]) else { return };
    let mut rotated = Vec::with_capacity(ring.len() + 1);
    rotated.extend_from_slice(&ring[first..]);
    rotated.extend_from_slice(&ring[..=first]);
    let far = (0..ring.len())
        .max_by(|&a, &b| {
            rotated[0].distance(rotated[a]).total_cmp(&rotated[0].distance(rotated[b]))
        })
        .unwrap_or(0);
    let coordinates = |p: Point| [f64::from(p.x), f64::from(p.y), 0.0];
    let path: Vec<_> = rotated.iter().map(|&p| coordinates(p)).collect();
    let mut keep = vec![false; path.len()];
    mark_kept(&path, 0, far, tolerance, &mut keep);
    mark_kept(&path, far, path.len() - 1, tolerance, &mut keep);
    let inner = rotated.iter().zip(&keep).take(ring.len());
    kept.extend(inner.filter(|(_, keep)| **keep).map(|(&p, _)| p));
    if kept.len() < 3 {
        kept.clear();
        kept.extend_from_slice(ring);
    }
}
