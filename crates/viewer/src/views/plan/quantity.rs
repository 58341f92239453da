//! The one quantity that colour shows, and its legend's numbers.

use super::drawing::{Drawing, Strokes};
use crate::widgets::theme::Theme;
use render::plan::{ColourScale, Ground, Shade};
use scan_path::{Block, ExposureKind, ExposureRow};
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
}

impl Quantity {
    /// All of them, with what they are called.
    pub(crate) const WORDS: [(Self, &str); 7] = [
        (Self::Ink, "plain ink"),
        (Self::Kind, "kind"),
        (Self::Order, "order in time"),
        (Self::Power, "power"),
        (Self::Speed, "speed"),
        (Self::Energy, "energy per length"),
        (Self::Part, "part"),
    ];

    /// What it is called.
    pub(crate) fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(quantity, _)| *quantity == self).map_or("", |(_, word)| word)
    }

    /// The unit of the numbers in the legend.
    pub(crate) fn unit(self) -> &'static str {
        match self {
            Self::Ink | Self::Kind | Self::Part => "",
            Self::Order => "s",
            Self::Power => "W",
            Self::Speed => "mm/s",
            Self::Energy => "J/mm",
        }
    }

    fn is_name(self) -> bool {
        matches!(self, Self::Kind | Self::Part)
    }

    /// The colours in a theme.
    pub(crate) fn scale(self, theme: Theme) -> ColourScale {
        let ground = match theme {
            Theme::Paper => Ground::Light,
            Theme::Blueprint => Ground::Dark,
        };
        if self.is_name() {
            ColourScale::categories(ground)
        } else {
            ColourScale::sequential(ground)
        }
    }
}

/// What kinds of exposure are called, in the order of their colours.
pub(crate) const KINDS: [(ExposureKind, &str); 3] = [
    (ExposureKind::Contour, "contour"),
    (ExposureKind::Hatch, "hatch"),
    (ExposureKind::Centreline, "centreline"),
];

/// What a kind of exposure is called.
pub(crate) fn kind_word(kind: ExposureKind) -> &'static str {
    KINDS.iter().find(|(k, _)| *k == kind).map_or("", |(_, word)| word)
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
        let header = shown.header();
        let blocks = &shown.layer.blocks;
        let exposure = |block: &Block| header.exposures.get(usize::from(block.exposure));
        let part = |block: &Block| {
            header.placements.get(block.placement as usize).map_or(0, |row| row.part as usize)
        };
        let number = |block: &Block| exposure(block).map_or(0.0, |row| number(quantity, row));
        let legend = match quantity {
            Quantity::Ink => Legend::None,
            Quantity::Order => Legend::Range([0.0, shown.timeline.total_s()]),
            Quantity::Power | Quantity::Speed | Quantity::Energy => {
                let range = blocks.iter().map(number).fold(None, |range, value| {
                    let [low, high] = range.unwrap_or([value; 2]);
                    Some([value.min(low), value.max(high)])
                });
                range.map_or(Legend::None, Legend::Range)
            }
            Quantity::Kind => {
                let is_there = |kind| blocks.iter().any(|block| block.kind == kind);
                let names = KINDS.iter().enumerate().filter(|(_, (kind, _))| is_there(*kind));
                Legend::Names(names.map(|(i, (_, word))| (i, (*word).to_owned())).collect())
            }
            Quantity::Part => {
                let mut parts: Vec<usize> = blocks.iter().map(part).collect();
                parts.sort_unstable();
                parts.dedup();
                let name = |part: &usize| Some((*part, header.parts.get(*part)?.name.clone()));
                Legend::Names(parts.iter().filter_map(name).collect())
            }
        };
        let of_block = |block: &Block| -> u16 {
            let named = |place: usize| u16::try_from(place % 256 * 257).unwrap_or(0);
            match (&legend, quantity) {
                (_, Quantity::Kind) => {
                    named(KINDS.iter().position(|(kind, _)| *kind == block.kind).unwrap_or(0))
                }
                (_, Quantity::Part) => named(part(block)),
                (Legend::Range(range), _) => place(number(block), *range),
                _ => 0,
            }
        };
        let values: Vec<u16> = blocks.iter().map(of_block).collect();
        let moves = shown.timeline.moves();
        let shades = |strokes: &Strokes| {
            let each = strokes.moves.iter().zip(&strokes.phases).map(|(&index, &phase)| {
                let step = &moves[index as usize];
                let value = if quantity == Quantity::Order {
                    place(step.start_s, [0.0, shown.timeline.total_s()])
                } else {
                    values.get(step.block as usize).copied().unwrap_or(0)
                };
                Shade { value, phase }
            });
            Arc::new(each.collect())
        };
        let marks = [&drawing.contours, &drawing.hatch, &drawing.centrelines].map(shades);
        Self { quantity, legend, marks }
    }
}

fn number(quantity: Quantity, row: &ExposureRow) -> f64 {
    match quantity {
        Quantity::Power => row.power_w,
        Quantity::Speed => row.speed_mm_s,
        Quantity::Energy if row.speed_mm_s > 0.0 => row.power_w / row.speed_mm_s,
        _ => 0.0,
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
    fn ends_of_a_range_are_ends_of_the_scale() {
        assert_eq!(place(5.0, [5.0, 9.0]), 0);
        assert_eq!(place(9.0, [5.0, 9.0]), u16::MAX);
        assert_eq!(place(7.0, [7.0, 7.0]), 32_768);
        assert_eq!(place(f64::NAN, [0.0, 1.0]), 0);
    }
}
