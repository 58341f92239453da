//! How distances are spread, over any number of layers: summed up without keeping them.

use serde::Serialize;
use std::collections::BTreeMap;

/// What counts as true to size: distances up to this, mm.
pub const TRUE_TO_MM: f64 = 0.025;

/// How distances between outline and boundary are spread over places.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// How many places were looked at.
    pub places: u64,
    /// The mean, mm, positive where the part gets too large; of the places from which there is any melt to be
    /// seen, and absent without one.
    pub mean_mm: Option<f64>,
    /// The distance, either way, that 95 % of the places do not exceed, mm, rounded up to a micron; absent if
    /// there is no melt for so many.
    pub p95_mm: Option<f64>,
    /// Share of the places within [`TRUE_TO_MM`].
    pub true_share: f64,
}

/// Distances as they come in.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Distances {
    sum_mm: f64,
    finite: u64,
    places: u64,
    are_true: u64,
    /// How many are no larger than so many µm, but larger than one less.
    by_microns: BTreeMap<u32, u64>,
}

impl Distances {
    /// Takes up a distance, mm; an infinite one where nothing melts.
    pub(super) fn add(&mut self, mm: f64) {
        self.places += 1;
        if mm.is_finite() {
            self.sum_mm += mm;
            self.finite += 1;
        }
        self.are_true += u64::from(mm.abs() <= TRUE_TO_MM);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let microns = (mm.abs() * 1e3).ceil() as u32;
        *self.by_microns.entry(microns).or_default() += 1;
    }

    /// Adds the distances of further places.
    pub(super) fn add_all(&mut self, other: &Self) {
        self.sum_mm += other.sum_mm;
        self.finite += other.finite;
        self.places += other.places;
        self.are_true += other.are_true;
        for (&microns, count) in &other.by_microns {
            *self.by_microns.entry(microns).or_default() += count;
        }
    }

    /// What there is to say of them; `None` without any.
    pub(super) fn stated(&self) -> Option<Spread> {
        let rank = (self.places * 95).div_ceil(100);
        let mut seen = 0;
        let mut rising = self.by_microns.iter();
        let (&microns, _) = rising.find(|(_, count)| {
            seen += **count;
            seen >= rank
        })?;
        Some(Spread {
            places: self.places,
            mean_mm: (self.finite > 0).then(|| self.sum_mm / self.finite as f64),
            p95_mm: (microns < u32::MAX).then(|| f64::from(microns) * 1e-3),
            true_share: self.are_true as f64 / self.places as f64,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_summed_up_as_if_they_were_kept() {
        let all: Vec<f64> = (0..200).map(|i| f64::from(i * 37 % 200 - 60) * 0.5e-3).collect();
        let (mut one, mut rest) = (Distances::default(), Distances::default());
        assert_eq!(one.stated(), None);
        all[..70].iter().for_each(|mm| one.add(*mm));
        all[70..].iter().for_each(|mm| rest.add(*mm));
        one.add_all(&rest);
        let spread = one.stated().unwrap();
        // −0.03 to 0.0695 in steps of half a micron: sorted by size the 190th of 200 is 0.0645.
        assert_eq!((spread.places, spread.p95_mm), (200, Some(0.065)));
        assert!((spread.mean_mm.unwrap() - 0.01975).abs() < 1e-12);
        assert!((spread.true_share - 101.0 / 200.0).abs() < 1e-12);
        // Where nothing melts there is no distance, and no place is true.
        (0..20).for_each(|_| one.add(f64::NEG_INFINITY));
        let spread = one.stated().unwrap();
        assert_eq!((spread.places, spread.p95_mm), (220, None));
        assert!((spread.mean_mm.unwrap() - 0.01975).abs() < 1e-12);
    }
}
