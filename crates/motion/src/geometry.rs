//! Two mirrors above a bed: angles and resolution.
//!
//! The first mirror moves the spot along X, the second along Y; their axes are at right angles, a separation e
//! apart, and the second hangs a distance d above the bed. All angles are optical: twice those of the mirrors.
//! Without a lens y = d·tan θy and x = (√(d² + y²) + e)·tan θx; plain geometry.

/// Optical angles of the two mirrors that put the spot at a place, radians: along X, along Y. Lengths in mm, the
/// place from the middle of the field.
pub fn angles_rad(at_mm: [f64; 2], distance_mm: f64, separation_mm: f64) -> [f64; 2] {
    let [x, y] = at_mm;
    [(x / (distance_mm.hypot(y) + separation_mm)).atan(), (y / distance_mm).atan()]
}

/// Where the spot is at two optical angles, mm from the middle of the field: the inverse of [`angles_rad`].
pub fn place_mm(angles_rad: [f64; 2], distance_mm: f64, separation_mm: f64) -> [f64; 2] {
    let [x, y] = angles_rad;
    let y_mm = distance_mm * y.tan();
    [(distance_mm.hypot(y_mm) + separation_mm) * x.tan(), y_mm]
}

/// Smallest step of the spot in the middle of a field, mm: the field over the number of positions.
pub fn step_mm(field_mm: f64, bits: u32) -> f64 {
    field_mm / f64::from(bits).exp2()
}
