//! Which points of a polyline its simplification needs.

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
