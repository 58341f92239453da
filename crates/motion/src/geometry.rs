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

/// How much longer the way from the first mirror to a place is than to the middle of the field, mm: by so much
/// the spot is out of focus there, without a lens and without refocusing.
pub fn focus_excess_mm(at_mm: [f64; 2], distance_mm: f64, separation_mm: f64) -> f64 {
    let [x, y] = at_mm;
    (distance_mm.hypot(y) + separation_mm).hypot(x) - (distance_mm + separation_mm)
}

/// How many times longer than wide the spot is where the beam comes in at an angle: 1/cos γ, with
/// cos γ = cos θx · cos θy.
pub fn stretch(angles_rad: [f64; 2]) -> f64 {
    1.0 / (angles_rad[0].cos() * angles_rad[1].cos())
}

/// How many times wider than in focus a Gaussian beam is, so far from it: √(1 + (Δ/z)²), with z = π·w²/λ for
/// a radius w, at which the intensity has fallen to 1/e², and a wavelength λ. An ideal beam (M² = 1): real ones grow sooner.
pub fn growth(excess_mm: f64, radius_mm: f64, wavelength_mm: f64) -> f64 {
    let z_mm = std::f64::consts::PI * radius_mm * radius_mm / wavelength_mm;
    (excess_mm / z_mm).hypot(1.0)
}

/// How far the spot moves at a place for a small turn of each angle, mm/rad: ∂x/∂θx and ∂y/∂θy.
pub fn slopes_mm(angles_rad: [f64; 2], distance_mm: f64, separation_mm: f64) -> [f64; 2] {
    let [x, y] = angles_rad;
    let reach = distance_mm.hypot(distance_mm * y.tan()) + separation_mm;
    [reach / x.cos().powi(2), distance_mm / y.cos().powi(2)]
}
