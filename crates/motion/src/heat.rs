//! Temperature rise on the surface of a thick bed from sources that move on it, in closed form.
//!
//! All fill a half space of one material that lets no heat out of its surface: H. S. Carslaw and J. C. Jaeger,
//! *Conduction of Heat in Solids*, 2nd ed., 1959, chapter 10. Lengths in m, times in s, rises in K. Powder that melts
//! takes up latent heat and conducts better than before, so that these are pictures of where heat meets heat, no
//! forecast of temperatures.

use crate::head::Head;
use crate::walk::walk;
use base::NM_PER_MM;
use scan_path::{Header, Layer};
use std::f64::consts::{E, PI};

/// How a material takes up and conducts heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conductor {
    /// Conductivity k, W/(m·K).
    pub conductivity_w_m_k: f64,
    /// Diffusivity α, m²/s.
    pub diffusivity_m2_s: f64,
}

impl Conductor {
    /// Heat capacity per volume ρc = k/α, J/(m³·K).
    pub fn capacity_j_m3_k(&self) -> f64 {
        self.conductivity_w_m_k / self.diffusivity_m2_s
    }

    /// A time `t` after energy Q was put on one point, at a distance r: 2Q/(ρc·(4παt)^(3/2))·exp(−r²/4αt).
    pub fn after_point_k(&self, energy_j: f64, distance_m: f64, t: f64) -> f64 {
        let spread = 4.0 * self.diffusivity_m2_s * t;
        let over = (PI * spread).powf(1.5);
        2.0 * energy_j / (self.capacity_j_m3_k() * over) * (-distance_m.powi(2) / spread).exp()
    }

    /// A time `t` after an energy per length E′ was put on a long line at once: E′/(2πkt)·exp(−r²/4αt).
    pub fn after_line_k(&self, energy_j_m: f64, distance_m: f64, t: f64) -> f64 {
        let spread = 4.0 * self.diffusivity_m2_s * t;
        energy_j_m / (2.0 * PI * self.conductivity_w_m_k * t) * (-distance_m.powi(2) / spread).exp()
    }

    /// The highest rise at a distance from such a line, and when: (2/πe)·E′/(ρc·r²) at r²/4α.
    pub fn highest_after_line(&self, energy_j_m: f64, distance_m: f64) -> (f64, f64) {
        let squared = distance_m.powi(2);
        let rise_k = 2.0 / (PI * E) * energy_j_m / (self.capacity_j_m3_k() * squared);
        (rise_k, squared / (4.0 * self.diffusivity_m2_s))
    }

    /// Around a point of power q that has long run along +x at a speed v, seen from it: q/(2πkR)·exp(−v(R + x)/2α).
    pub fn around_moving_point_k(&self, power_w: f64, speed_m_s: f64, [x, y]: [f64; 2]) -> f64 {
        let r = x.hypot(y);
        let decay = -speed_m_s * (r + x) / (2.0 * self.diffusivity_m2_s);
        power_w / (2.0 * PI * self.conductivity_w_m_k * r) * decay.exp()
    }

    /// A time `t` > 0 after energy Q was put on a spot with a Gaussian beam of radius w to 1/e²: as if it had spread
    /// along the surface for w²/8α already; 2Q/(ρc·π^(3/2)·√(4αt)·(4αt + w²/2))·exp(−r²/(4αt + w²/2)).
    pub fn after_beam_k(&self, energy_j: f64, radius_m: f64, distance_m: f64, t: f64) -> f64 {
        let down = 4.0 * self.diffusivity_m2_s * t;
        let along = down + radius_m.powi(2) / 2.0;
        2.0 * energy_j / (self.capacity_j_m3_k() * PI.powf(1.5) * down.sqrt() * along)
            * (-distance_m.powi(2) / along).exp()
    }
}

/// Longest stretch of a mark that counts as put down at once, in beam radii.
const STRETCH: f64 = 0.5;
const M_PER_MM: f64 = 1e-3;

/// Rises at some places of a layer at a time, from all that was marked before: every mark in stretches of half a
/// beam radius at even energy, each a spot of the beam in its middle. Places in mm, time in s from the start of the
/// layer. O(stretches × places).
pub fn rises_k(
    (layer, header, head): (&Layer, &Header, Option<&Head>),
    (bed, absorbed, radius_mm): (Conductor, f64, f64),
    places_mm: &[[f64; 2]],
    time_s: f64,
) -> Vec<f64> {
    let mut rises = vec![0.0; places_mm.len()];
    walk(layer, header, head, |step| {
        let row = layer.blocks.get(step.step.block as usize).map(|block| block.exposure);
        let row = row.and_then(|row| header.exposures.get(usize::from(row)));
        let Some(row) = row.filter(|_| step.step.kind.is_lit()) else { return };
        let length_mm = step.step.from.distance(step.to) / NM_PER_MM;
        let count = (length_mm / (STRETCH * radius_mm)).ceil().max(1.0);
        let energy_j = absorbed * row.arriving_w() * step.duration_s / count;
        let (from, to) = (step.step.from.to_mm(), step.to.to_mm());
        let mut number = 0.5;
        while number < count {
            let share = number / count;
            number += 1.0;
            let since_s = time_s - step.step.start_s - share * step.duration_s;
            if since_s <= 0.0 {
                break;
            }
            let at = [0, 1].map(|i| from[i] + share * (to[i] - from[i]));
            for (rise, place) in rises.iter_mut().zip(places_mm) {
                let distance_m = (at[0] - place[0]).hypot(at[1] - place[1]) * M_PER_MM;
                *rise += bed.after_beam_k(energy_j, radius_mm * M_PER_MM, distance_m, since_s);
            }
        }
    });
    rises
}
