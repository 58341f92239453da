//! Whether contours were closed by the mesh itself.

use super::span::Span;
use base::Finding;
use base::finding::LayerProblem;
use slicing::{Gap, SectionReport};

/// What the sections of one placement had to report, over any number of layers.
#[derive(Clone, Debug, Default)]
pub(super) struct Sections {
    gaps: u64,
    gap_layers: Span,
    /// The longest gap: its length and where it begins, mm; the first of equals.
    longest: Option<(f64, [f64; 3])>,
    /// Layers that are not exact, and have no gap.
    inexact: u64,
    inexact_layers: Span,
}

impl Sections {
    /// Takes up the report of one layer that is not exact, cut at `z_mm`.
    pub(super) fn add_layer(&mut self, layer: u32, z_mm: f64, found: &SectionReport) {
        let longest = found.gaps.iter().fold(None, |longest: Option<&Gap>, gap| match longest {
            Some(known) if known.length_mm() >= gap.length_mm() => longest,
            _ => Some(gap),
        });
        let Some(longest) = longest else {
            self.inexact += 1;
            self.inexact_layers.add_layer(layer);
            return;
        };
        self.gaps += found.gaps.len() as u64;
        self.gap_layers.add_layer(layer);
        let [x, y] = longest.from_mm;
        self.take_longest(Some((longest.length_mm(), [x, y, z_mm])));
    }

    /// Adds what layers above had to report.
    pub(super) fn add(&mut self, other: &Self) {
        self.gaps += other.gaps;
        self.gap_layers.add(other.gap_layers);
        self.take_longest(other.longest);
        self.inexact += other.inexact;
        self.inexact_layers.add(other.inexact_layers);
    }

    fn take_longest(&mut self, other: Option<(f64, [f64; 3])>) {
        let known = self.longest.map_or(-1.0, |(length, _)| length);
        if let Some((length, at)) = other.filter(|(length, _)| *length > known) {
            self.longest = Some((length, at));
        }
    }

    /// At most one finding about gaps, and one about layers that are doubtful without one.
    pub(super) fn findings(&self) -> impl Iterator<Item = Finding> {
        let open = self.gap_layers.layers().zip(self.longest).map(|((first, last), longest)| {
            let (longest_mm, at) = longest;
            let problem = LayerProblem::OpenSections { gaps: self.gaps, longest_mm };
            Finding::new(problem).at_layers(first, last).at_point(at)
        });
        let inexact = self.inexact_layers.layers().map(|(first, last)| {
            let problem = LayerProblem::InexactSections { layers: self.inexact };
            Finding::new(problem).at_layers(first, last)
        });
        open.into_iter().chain(inexact)
    }
}
