//! The time of a build from some of its layers: whoever compares recipes need not wait for all of them.

use crate::build::Build;
use crate::build_time::BuildTime;
use crate::head::head;
use crate::in_order::in_order;
use crate::layers::LayerError;
use base::Progress;
use scan_path::Layer;
use serde::Serialize;

/// The time of a build, and how far off it may be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct TimeEstimate {
    /// What it takes.
    pub time: BuildTime,
    /// Twice the standard error of [`BuildTime::until_done_s`], s; 0 where all layers were computed.
    pub within_s: f64,
    /// How many layers were computed.
    pub layers: u32,
}

/// Which layers stand for a build: one of each group of `every` layers in a row. Which one jumps about from group
/// to group, since scan angles come round again after a few layers.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    every: u32,
    layer_count: u32,
}

/// Layers that a sample has at least, unless the build has fewer.
const ENOUGH: u32 = 64;

impl Sample {
    /// One of so many layers; without a number, so that about 64 layers stand for the build.
    pub fn of(build: &Build, every: Option<u32>) -> Self {
        let layer_count = build.layer_count();
        Self { every: every.unwrap_or(layer_count / ENOUGH).max(1), layer_count }
    }

    fn groups(self) -> u32 {
        self.layer_count.div_ceil(self.every)
    }

    /// The layer that stands for a group, and how many there are in it.
    fn layer(self, group: u32) -> (u32, u32) {
        let first = group * self.every;
        let size = self.every.min(self.layer_count - first);
        // Multiples of the golden ratio spread evenly (Knuth, The Art of Computer Programming 3, 6.4; from memory).
        let spread = u64::from(group.wrapping_mul(2_654_435_769));
        let within = ((spread * u64::from(size)) >> 32) as u32;
        (first + within, size)
    }

    /// Something of each layer of the sample, in order, with how many layers it stands for.
    fn each<T: Send>(
        self,
        build: &Build,
        progress: &Progress,
        of: impl Fn(&Layer) -> T + Sync,
    ) -> Result<Vec<(T, f64)>, LayerError> {
        progress.add_total(u64::from(self.groups()));
        let mut all = Vec::new();
        let make = |scratch: &mut _, group: u32| {
            let (index, size) = self.layer(group);
            let computed = build.layers(index..index + 1, scratch, progress)?;
            Ok::<_, LayerError>(
                computed.first().map(|computed| (of(&computed.layer), f64::from(size))),
            )
        };
        in_order(self.groups(), make, |found| {
            all.extend(found);
            Ok(())
        })?;
        Ok(all)
    }
}

/// The time of a build, from a sample of its layers.
///
/// # Errors
/// If a layer cannot be computed, or on cancellation.
pub fn estimate_time(
    build: &Build,
    sample: Sample,
    progress: &Progress,
) -> Result<TimeEstimate, LayerError> {
    let machine = &build.loaded.machine;
    let head = head(machine);
    let times = sample.each(build, progress, |layer| {
        BuildTime::of_layer(machine, motion::layer_time(layer, &build.header, head.as_ref()))
    })?;
    let mut time = BuildTime::default();
    for (of_layer, count) in &times {
        time.add(of_layer, *count);
    }
    if !times.is_empty() {
        time.add_ends(machine);
    }
    let of_groups: Vec<f64> =
        times.iter().map(|(time, count)| time.until_done_s() * count).collect();
    #[expect(clippy::cast_possible_truncation, reason = "at most as many as there are layers")]
    let layers = times.len() as u32;
    let within_s = if sample.every == 1 { 0.0 } else { 2.0 * standard_error(&of_groups) };
    Ok(TimeEstimate { time, within_s, layers })
}

/// How little time the jumps of a build could take, s, whatever the order within its blocks, from a sample of its
/// layers: see [`motion::least_jumps_s`].
///
/// # Errors
/// If a layer cannot be computed, or on cancellation.
pub fn least_jumps_s(
    build: &Build,
    sample: Sample,
    progress: &Progress,
) -> Result<f64, LayerError> {
    let head = head(&build.loaded.machine);
    let least = |layer: &Layer| motion::least_jumps_s(layer, &build.header, head.as_ref());
    let all = sample.each(build, progress, least)?;
    Ok(all.iter().map(|(least_s, count)| least_s * count).sum())
}

/// The standard error of a sum of groups of each of which one member is known, `totals` being what the groups would
/// come to by it: neighbouring groups are taken together in pairs (the last may be three), as if they were alike.
/// Where they are not, the error comes out too large. "Collapsed strata": Cochran, Sampling Techniques, 3rd ed.,
/// 5A.12 (from memory).
fn standard_error(totals: &[f64]) -> f64 {
    let mut variance = 0.0;
    let mut rest = totals;
    while rest.len() >= 2 {
        let count = if rest.len() == 3 { 3 } else { 2 };
        let (together, others) = rest.split_at(count);
        rest = others;
        #[expect(clippy::cast_precision_loss, reason = "two or three")]
        let n = count as f64;
        let mean = together.iter().sum::<f64>() / n;
        let squares: f64 = together.iter().map(|total| (total - mean).powi(2)).sum();
        variance += n / (n - 1.0) * squares;
    }
    variance.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every group has its layer, and over many groups each place in a group comes up as often.
    #[test]
    fn samples_spread_over_all_layers() {
        let sample = Sample { every: 6, layer_count: 6 * 1000 + 2 };
        let mut places = [0_u32; 6];
        for group in 0..1000 {
            let (layer, size) = sample.layer(group);
            assert_eq!((layer / 6, size), (group, 6));
            places[layer as usize % 6] += 1;
        }
        assert!(places.iter().all(|&count| (160..=174).contains(&count)), "{places:?}");
        let (last, size) = sample.layer(sample.groups() - 1);
        assert_eq!((last / 6, size), (1000, 2));
        assert!(last < 6002);
    }

    /// The formula for two and three alike groups, worked out by hand.
    #[test]
    fn the_error_of_groups_is_that_of_the_book() {
        assert!((standard_error(&[3.0, 7.0]) - 4.0).abs() < 1e-12); // √((3 − 7)²)
        let three: f64 = 1.5 * 8.0; // mean 4: squares 4 + 0 + 4
        assert!((standard_error(&[2.0, 4.0, 6.0]) - three.sqrt()).abs() < 1e-12);
        assert!(standard_error(&[5.0]).abs() < 1e-12);
    }
}
