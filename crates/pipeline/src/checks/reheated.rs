//! Spots that later marks heat again before their heat is gone.

use super::span::Span;
use base::Finding;
use base::finding::HeatProblem;

/// Spots of a placement that are heated again sooner than its recipe wants, over any number of layers.
#[derive(Clone, Debug, Default)]
pub(super) struct Reheated {
    spots: u64,
    layers: Span,
    /// The soonest, ms, and where, mm.
    soonest: Option<(f64, [f64; 3])>,
}

impl Reheated {
    /// Takes up a spot of a layer, mm, and how soon it is heated again, ms.
    pub(super) fn add_spot(&mut self, layer: u32, after_ms: f64, at: [f64; 3]) {
        let mut layers = Span::default();
        layers.add_layer(layer);
        self.add(&Self { spots: 1, layers, soonest: Some((after_ms, at)) });
    }

    /// Adds what layers above had; of equals the lowest stays.
    pub(super) fn add(&mut self, other: &Self) {
        self.spots += other.spots;
        self.layers.add(other.layers);
        let after_ms = |of: &Self| of.soonest.map_or(f64::INFINITY, |(after_ms, _)| after_ms);
        if after_ms(other) < after_ms(self) {
            self.soonest = other.soonest;
        }
    }

    /// What there is to say, by the limit of the recipe, ms, if it has one.
    pub(super) fn finding(&self, wanted_ms: Option<f64>, reach_mm: f64) -> Option<Finding> {
        let (spots, wanted_ms) = (self.spots, wanted_ms?);
        let ((first, last), (least_ms, at)) = self.layers.layers().zip(self.soonest)?;
        let problem = HeatProblem::ReheatedSoon { spots, least_ms, wanted_ms, reach_mm };
        Some(Finding::new(problem).at_layers(first, last).at_point(at))
    }
}
