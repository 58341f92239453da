//! Whether placements would be fused into one.

use super::span::Span;
use base::finding::LayerProblem;
use base::{Finding, NamedPlacement};

/// Where one placement overlaps another, over any number of layers. Of several others the first
/// one is kept: it has to be moved before anything can be said of the rest.
#[derive(Clone, Debug, Default)]
pub(super) struct Overlap {
    first: Option<Pair>,
}

#[derive(Clone, Debug)]
struct Pair {
    /// The other placement, by its row in the table.
    other: u32,
    /// A point in both, in the lowest such layer, mm.
    at: [f64; 3],
    layers: Span,
}

impl Overlap {
    /// Takes up that a point, mm, lies in another placement too.
    pub(super) fn add_layer(&mut self, layer: u32, other: u32, at: [f64; 3]) {
        let mut layers = Span::default();
        layers.add_layer(layer);
        self.add(&Self { first: Some(Pair { other, at, layers }) });
    }

    /// Adds what layers above had to report.
    pub(super) fn add(&mut self, other: &Self) {
        match (&mut self.first, &other.first) {
            (Some(known), Some(more)) if known.other == more.other => {
                known.layers.add(more.layers);
            }
            (None, Some(_)) => self.first.clone_from(&other.first),
            _ => {}
        }
    }

    /// A finding if there is an overlap; `name` knows the placements by their rows.
    pub(super) fn finding(&self, name: impl Fn(u32) -> Option<NamedPlacement>) -> Option<Finding> {
        let Pair { other, at, layers } = self.first.as_ref()?;
        let (first, last) = layers.layers()?;
        let problem = LayerProblem::PlacementsOverlap { other: name(*other)?.name };
        Some(Finding::new(problem).at_layers(first, last).at_point(*at))
    }
}
