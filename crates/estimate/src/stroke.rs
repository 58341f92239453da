//! What the beam does, cut into straight pieces.

/// One straight piece of the beam's way, along which it leaves the same energy on every millimetre.
///
/// A vector at constant speed is one stroke. A path on which the spot accelerates, or the power
/// changes, is handed over as many short ones, each with the energy per length of its own stretch.
/// A stroke without length deposits nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Where it starts, mm.
    pub from: [f64; 2],
    /// Where it ends, mm.
    pub to: [f64; 2],
    /// Energy per length, J/mm: power over speed.
    pub energy_j_mm: f64,
}

impl Stroke {
    /// A stroke at constant power and speed. A speed of zero makes its energy infinite, which
    /// [`DoseField::new`](crate::DoseField::new) refuses.
    pub fn new(from: [f64; 2], to: [f64; 2], power_w: f64, speed_mm_s: f64) -> Self {
        Self { from, to, energy_j_mm: power_w / speed_mm_s }
    }

    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1])
    }

    /// All the energy that it leaves, J.
    pub fn energy_j(&self) -> f64 {
        self.energy_j_mm * self.length_mm()
    }
}
