//! From a coarse grid of a narrower beam's dose to a fine grid of the beam's own.
//!
//! A Gaussian is the convolution of two narrower ones whose variances add up. The dose of the narrower
//! beam is taken at coarse nodes, and the second Gaussian put over them by a sum in place of the
//! integral. For a Gaussian, that sum is nearly exact: with nodes Δ apart and a standard deviation
//! of c·Δ, the waves that fold back are damped by exp(−½(2πc)²(1 − c²Δ²/σ²)), σ = w/2 being the
//! beam's own standard deviation. With c = 1.1 and Δ ≤ w/4 = σ/2 that is 6e-8. The kernel is
//! cut off after six nodes, at 5.4 standard deviations, where it has 1.3e-7 left.

use crate::buckets::whole;

/// Standard deviation of the kernel, in node distances.
const SPREAD: f64 = 1.1;

/// Nodes that the kernel covers: as many before a point as after it.
pub(super) const TAPS: usize = 12;

/// Nodes before the one at or below a point.
pub(super) const BEFORE: usize = TAPS / 2 - 1;

/// Nodes are at most this many beam radii apart.
const WIDEST_IN_RADII: f64 = 0.25;

/// The kernel at each place of a fine point between two nodes.
pub(super) struct Kernel {
    weights: Vec<[f64; TAPS]>,
}

impl Kernel {
    /// For so many fine points to a node.
    pub(super) fn new(fine_per_node: usize) -> Self {
        let of_phase = |phase: usize| {
            let between = phase as f64 / fine_per_node as f64;
            let mut taps = [0.0; TAPS];
            for (tap, weight) in taps.iter_mut().enumerate() {
                let distance = (tap as f64 - BEFORE as f64 - between) / SPREAD;
                *weight = libm::exp(-0.5 * distance * distance);
            }
            let sum: f64 = taps.iter().sum();
            taps.map(|weight| weight / sum)
        };
        Self { weights: (0..fine_per_node).map(of_phase).collect() }
    }

    /// The kernel for a fine point, by its number after a node.
    pub(super) fn weights(&self, phase: usize) -> &[f64; TAPS] {
        &self.weights[phase]
    }

    pub(super) fn fine_per_node(&self) -> usize {
        self.weights.len()
    }
}

/// How many points of a fine grid fit between two nodes; 1 if the grid is too coarse to gain by it.
pub(super) fn fine_per_node(pitch: f64, radius: f64) -> usize {
    // a node distance of exactly a quarter counts, however it is rounded
    whole(WIDEST_IN_RADII * radius / pitch * (1.0 + 1e-9)).clamp(1, 1 << 12)
}

/// Radius of the narrower beam. Always real: the kernel's radius, 2·1.1·Δ, is at most 0.55 w.
pub(super) fn narrower_radius(radius: f64, node_pitch: f64) -> f64 {
    let kernel = 2.0 * SPREAD * node_pitch;
    (radius * radius - kernel * kernel).sqrt()
}

/// Σ weights·rows, point by point, in the order of the taps.
pub(super) fn weighted_sum(out: &mut [f64], rows: [&[f64]; TAPS], weights: &[f64; TAPS]) {
    out.fill(0.0);
    for (rows, weights) in rows.chunks_exact(4).zip(weights.chunks_exact(4)) {
        let (&[a, b, c, d], &[p, q, r, s]) = (rows, weights) else { continue };
        let sources = a.iter().zip(b).zip(c.iter().zip(d));
        for (out, ((a, b), (c, d))) in out.iter_mut().zip(sources) {
            *out += (p * a + q * b) + (r * c + s * d);
        }
    }
}
