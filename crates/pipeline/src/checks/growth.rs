//! What growth in Z takes away beyond what it is meant to.

use super::span::Span;
use base::Finding;
use base::finding::{JobProblem, LayerProblem};
use job::Recipe;
use region::Region;

/// Pieces of a layer smaller than this are smaller than a spot of the beam, mm², and no film.
const SMALLEST_MM2: f64 = 0.05;

/// A note for each recipe, by its file, whose growth in Z is no whole number of layers.
pub(crate) fn growth_rounded<'a>(
    recipes: impl Iterator<Item = (&'a str, &'a Recipe)>,
) -> Vec<Finding> {
    let note = |(file, recipe): (&str, &Recipe)| {
        let (growth_mm, layer_mm) = (recipe.z_growth_mm, recipe.layer_thickness_mm);
        let layers = recipe.z_growth_layers();
        let is_whole = (f64::from(layers) * layer_mm - growth_mm).abs() < 1e-6;
        let problem = JobProblem::GrowthRounded { growth_mm, layers, layer_mm };
        (!is_whole).then(|| Finding::new(problem).at_part(file))
    };
    recipes.filter_map(note).collect()
}

/// Films of one placement that growth in Z takes away as a whole, over any number of layers.
#[derive(Clone, Debug, Default)]
pub(super) struct Films {
    /// Area in the layer with most of them, mm², and a point on the largest piece there, mm.
    most: Option<(f64, [f64; 3])>,
    layers: Span,
}

impl Films {
    /// Takes up the films that end in a layer, which is cut at `z_mm`.
    pub(super) fn add_layer(&mut self, layer: u32, z_mm: f64, films: &Region) {
        let pieces = films.islands();
        let pieces: Vec<_> = pieces.iter().map(|piece| (piece.area_mm2(), piece)).collect();
        let large: Vec<_> = pieces.into_iter().filter(|(area, _)| *area >= SMALLEST_MM2).collect();
        let Some((_, largest)) = large.iter().max_by(|a, b| a.0.total_cmp(&b.0)) else { return };
        let Some([x, y]) = largest.points().first().map(|p| p.to_mm()) else { return };
        self.layers.add_layer(layer);
        self.take(Some((large.iter().map(|(area, _)| area).sum(), [x, y, z_mm])));
    }

    /// Adds what layers above had.
    pub(super) fn add(&mut self, other: &Self) {
        self.layers.add(other.layers);
        self.take(other.most);
    }

    fn take(&mut self, other: Option<(f64, [f64; 3])>) {
        let known = self.most.map_or(0.0, |(area, _)| area);
        if let Some(more) = other.filter(|(area, _)| *area > known) {
            self.most = Some(more);
        }
    }

    pub(super) fn finding(&self, recipe: &Recipe) -> Option<Finding> {
        let ((first, last), (area_mm2, at)) = self.layers.layers().zip(self.most)?;
        let problem = LayerProblem::FilmsLost { area_mm2, growth_mm: recipe.z_growth_mm };
        Some(Finding::new(problem).at_layers(first, last).at_point(at))
    }
}
