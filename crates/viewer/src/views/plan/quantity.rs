//! The one quantity that colour shows, and its legend's numbers.

use super::drawing::{Drawing, Strokes};
use super::part_colours::part_colours;
use crate::state::results::ShownLayer;
use crate::widgets::theme::Theme;
use render::plan::{ColourScale, Ground, Shade};
use scan_path::{Block, ExposureKind, ExposureRow, Header};
use std::collections::BTreeSet;
use std::sync::Arc;

/// What colour shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// Nothing: plain ink.
    #[default]
    Ink,
    Kind,
    Order,
    Power,
    Speed,
    Energy,
    Part,
    /// Not of the marks, but of every spot of the layer: see [`super::dose`].
    Dose,
}

/// How the values of a quantity become colours.
enum Coding {
    /// They do not: every mark is in plain ink.
    Plain,
    /// By the time at which a mark starts.
    Time,
    /// By a number of the exposure, along a scale.
    Number(fn(&ExposureRow) -> f64),
    /// By a name of the block: the place of its colour among the categories.
    Name(fn(&Block, &Header) -> usize),
}

impl Quantity {
    /// All of them, in the order of the list.
    pub(crate) const ALL: [Self; 8] = [
        Self::Ink,
        Self::Kind,
        Self::Order,
        Self::Power,
        Self::Speed,
        Self::Energy,
        Self::Part,
        Self::Dose,
    ];

    /// What it is called.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Ink => "plain ink",
            Self::Kind => "kind",
            Self::Order => "order in time",
            Self::Power => "power",
            Self::Speed => "speed",
            Self::Energy => "energy per length",
            Self::Part => "part",
            Self::Dose => "dose",
        }
    }

    /// The unit of the numbers in the legend.
    pub(crate) fn unit(self) -> &'static str {
        match self {
            Self::Ink | Self::Kind | Self::Part => "",
            Self::Order => "s",
            Self::Power => "W",
            Self::Speed => "mm/s",
            Self::Energy => "J/mm",
            Self::Dose => "J/mm²",
        }
    }

    /// Whether marks are in plain ink.
    pub(crate) fn leaves_marks_plain(self) -> bool {
        match self.coding() {
            Coding::Plain => true,
            Coding::Time | Coding::Number(_) | Coding::Name(_) => false,
        }
    }

    fn coding(self) -> Coding {
        match self {
            Self::Ink | Self::Dose => Coding::Plain,
            Self::Kind => Coding::Name(|block, _| kind_place(block.kind)),
            Self::Order => Coding::Time,
            Self::Power => Coding::Number(|row| row.power_w),
            Self::Speed => Coding::Number(|row| row.speed_mm_s),
            Self::Energy => Coding::Number(line_energy_j_mm),
            Self::Part => Coding::Name(part_place),
        }
    }

    /// What the place of a name is called in the legend; `None` for quantities that are numbers.
    fn name_of(self, place: usize, header: &Header) -> Option<String> {
        match self {
            Self::Kind => KINDS.get(place).map(|kind| kind_word(*kind).to_owned()),
            Self::Part => header.parts.get(place).map(|part| part.name.clone()),
            Self::Ink | Self::Order | Self::Power | Self::Speed | Self::Energy | Self::Dose => None,
        }
    }

    /// The colours in a theme.
    pub(crate) fn scale(self, theme: Theme) -> ColourScale {
        let ground = match theme {
            Theme::Paper => Ground::Light,
            Theme::Blueprint => Ground::Dark,
        };
        match self.coding() {
            Coding::Name(_) => ColourScale::categories(ground),
            Coding::Plain | Coding::Time | Coding::Number(_) => ColourScale::sequential(ground),
        }
    }
}

fn line_energy_j_mm(row: &ExposureRow) -> f64 {
    if row.speed_mm_s > 0.0 { row.power_w / row.speed_mm_s } else { 0.0 }
}

fn part_place(block: &Block, header: &Header) -> usize {
    header.placements.get(block.placement as usize).map_or(0, |row| row.part as usize)
}

/// Kinds of exposure in the order of their colours.
const KINDS: [ExposureKind; 3] =
    [ExposureKind::Contour, ExposureKind::Hatch, ExposureKind::Centreline];

/// Where a kind of exposure stands in [`KINDS`].
fn kind_place(kind: ExposureKind) -> usize {
    match kind {
        ExposureKind::Contour => 0,
        ExposureKind::Hatch => 1,
        ExposureKind::Centreline => 2,
    }
}

/// What a kind of exposure is called.
pub(crate) fn kind_word(kind: ExposureKind) -> &'static str {
    match kind {
        ExposureKind::Contour => "contour",
        ExposureKind::Hatch => "hatch",
        ExposureKind::Centreline => "centreline",
    }
}

/// What the legend says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Legend {
    /// Nothing is coloured.
    None,
    /// From the lowest to the highest colour.
    Range([f64; 2]),
    /// Each name with the place of its colour in the scale.
    Names(Vec<(usize, String)>),
}

/// The colours of one layer for one quantity.
pub(crate) struct Shades {
    pub(crate) quantity: Quantity,
    pub(crate) legend: Legend,
    /// Contours, hatch, centrelines.
    pub(crate) marks: [Arc<Vec<Shade>>; 3],
}

impl Shades {
    /// O(marks).
    pub(crate) fn new(drawing: &Drawing, quantity: Quantity) -> Self {
        let shown = &drawing.shown;
        let (legend, values) = blocks_coded(quantity, shown);
        let moves = shown.timeline.moves();
        let shades = |strokes: &Strokes| {
            let each = strokes.moves.iter().zip(&strokes.phases).map(|(&index, &phase)| {
                let step = &moves[index as usize];
                let value = match quantity.coding() {
                    Coding::Time => place(step.start_s, [0.0, shown.timeline.total_s()]),
                    Coding::Plain | Coding::Number(_) | Coding::Name(_) => {
                        values.get(step.block as usize).copied().unwrap_or(0)
                    }
                };
                Shade { value, phase }
            });
            Arc::new(each.collect())
        };
        let marks = [&drawing.contours, &drawing.hatch, &drawing.centrelines].map(shades);
        Self { quantity, legend, marks }
    }
}

/// The legend, and for each block of the layer the place of its colour in the scale; no places where
/// every mark has its own.
fn blocks_coded(quantity: Quantity, shown: &ShownLayer) -> (Legend, Vec<u16>) {
    let (header, blocks) = (shown.header(), &shown.layer.blocks);
    match quantity.coding() {
        Coding::Plain => (Legend::None, Vec::new()),
        Coding::Time => (Legend::Range([0.0, shown.timeline.total_s()]), Vec::new()),
        Coding::Number(of) => {
            let exposure = |block: &Block| header.exposures.get(usize::from(block.exposure));
            let number = |block: &Block| exposure(block).map_or(0.0, of);
            let range = blocks.iter().map(number).fold(None, |range, value| {
                let [low, high] = range.unwrap_or([value; 2]);
                Some([value.min(low), value.max(high)])
            });
            let Some(range) = range else { return (Legend::None, Vec::new()) };
            let places = blocks.iter().map(|block| place(number(block), range)).collect();
            (Legend::Range(range), places)
        }
        Coding::Name(of) => {
            let places: Vec<usize> = blocks.iter().map(|block| of(block, header)).collect();
            let there: BTreeSet<usize> = places.iter().copied().collect();
            let of_parts =
                if quantity == Quantity::Part { part_colours(header) } else { Vec::new() };
            let colour = |place: usize| of_parts.get(place).copied().unwrap_or(place) % 256;
            let name = |place| Some((colour(place), quantity.name_of(place, header)?));
            let legend = Legend::Names(there.into_iter().filter_map(name).collect());
            let value = |place: usize| u16::try_from(colour(place) * 257).unwrap_or(0);
            (legend, places.into_iter().map(value).collect())
        }
    }
}

/// Where a value lies in a range, as a place on the scale; the middle of an empty range.
fn place(value: f64, [low, high]: [f64; 2]) -> u16 {
    let share = if high > low { (value - low) / (high - low) } else { 0.5 };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 65535")]
    let place = (share.clamp(0.0, 1.0) * f64::from(u16::MAX)).round() as u16;
    place
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_exposure_stands_at_the_place_of_its_colour() {
        assert_eq!(KINDS.map(kind_place), [0, 1, 2]);
    }

    #[test]
    fn ends_of_a_range_are_ends_of_the_scale() {
        assert_eq!(place(5.0, [5.0, 9.0]), 0);
        assert_eq!(place(9.0, [5.0, 9.0]), u16::MAX);
        assert_eq!(place(7.0, [7.0, 7.0]), 32_768);
        assert_eq!(place(f64::NAN, [0.0, 1.0]), 0);
    }
}
