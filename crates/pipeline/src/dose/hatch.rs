//! What a hatch brings on the whole, told from its marks: a vector file does not state their spacing.

use super::answer::HatchMean;
use base::{NM_PER_MM, Point};
use job::energy::area_energy_j_mm2;
use scan_path::{ExposureKind, ExposureRow, Layer, Paths, RegionKind};
use std::collections::BTreeMap;

/// Marks nearer to each other than this, across, are on one line, nm: lines are rounded by 1 nm at each
/// end, and no hatch is as fine.
const SAME_LINE_NM: f64 = 500.0;

/// The mean of each exposure's hatch in a layer, in the order of the table; one for each spacing of passes that
/// share an exposure. Exposures without power bring nothing, and have none.
pub(super) fn hatch_means(exposures: &[ExposureRow], layer: &Layer) -> Vec<HatchMean> {
    let mut runs: BTreeMap<(u32, RegionKind, u16), usize> = BTreeMap::new();
    // by exposure, and the how manieth of its blocks in a region it is: its pass
    let mut largest: BTreeMap<(u16, usize), &[[Point; 2]]> = BTreeMap::new();
    for block in &layer.blocks {
        if let (ExposureKind::Hatch, Paths::Segments(marks)) = (block.kind, &block.paths) {
            let run = runs.entry((block.placement, block.region, block.exposure)).or_default();
            let largest = largest.entry((block.exposure, *run)).or_default();
            *run += 1;
            if marks.len() > largest.len() {
                *largest = marks;
            }
        }
    }
    let means = largest.into_iter().filter_map(|((exposure, _), marks)| {
        let row = exposures.get(usize::from(exposure)).filter(|row| row.power_w > 0.0)?;
        let spacing_mm = spacing_mm(marks)?;
        Some(HatchMean {
            exposure: row.name.clone(),
            recipe: row.recipe.clone(),
            spacing_mm,
            mean_j_mm2: area_energy_j_mm2(row.arriving_w(), row.speed_mm_s, spacing_mm),
        })
    });
    let mut different: Vec<HatchMean> = Vec::new();
    for mean in means {
        if !different.contains(&mean) {
            different.push(mean);
        }
    }
    different
}

/// The median distance of neighbouring lines among those parallel to the longest mark, to the
/// nanometre; `None` for fewer than two.
fn spacing_mm(marks: &[[Point; 2]]) -> Option<f64> {
    let length = |mark: &[Point; 2]| mark[0].distance(mark[1]);
    let longest = marks.iter().max_by(|a, b| length(a).total_cmp(&length(b)))?;
    let along = [longest[1].x - longest[0].x, longest[1].y - longest[0].y].map(f64::from);
    let nm = length(longest);
    if nm <= 0.0 {
        return None;
    }
    let across = |point: Point| {
        let [x, y] = [point.x - longest[0].x, point.y - longest[0].y].map(f64::from);
        (along[0] * y - along[1] * x) / nm
    };
    let offsets = marks.iter().map(|mark| mark.map(across));
    let parallel = offsets.filter(|[a, b]| (a - b).abs() < SAME_LINE_NM);
    let mut offsets: Vec<f64> = parallel.map(|[a, b]| f64::midpoint(a, b)).collect();
    offsets.sort_by(f64::total_cmp);
    offsets.dedup_by(|next, before| *next - *before < SAME_LINE_NM);
    let mut gaps: Vec<f64> = offsets.windows(2).map(|pair| pair[1] - pair[0]).collect();
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).map(|gap| gap.round() / NM_PER_MM)
}

#[cfg(test)]
mod tests {
    use super::*;
    use scan_path::Block;

    /// P/(v·h) of each pass: 30 W, 5000 mm/s, 0.2 and 0.3 mm.
    #[test]
    fn passes_that_share_an_exposure_have_a_mean_for_each_spacing() {
        let block = |spacing: f64| Block {
            placement: 0,
            exposure: 0,
            kind: ExposureKind::Hatch,
            region: RegionKind::Core,
            paths: Paths::Segments(
                (0..9)
                    .map(|i| f64::from(i) * spacing)
                    .map(|v| [0.0, 5.0].map(|u| Point::from_mm(u, v).unwrap()))
                    .collect(),
            ),
        };
        let layer = Layer { index: 0, blocks: [0.2, 0.3, 0.2].map(block).into() };
        let row = ExposureRow {
            name: "hatch".to_owned(),
            power_w: 30.0,
            speed_mm_s: 5000.0,
            ..ExposureRow::default()
        };
        let means = hatch_means(&[row], &layer);
        let found: Vec<_> = means.iter().map(|mean| (mean.spacing_mm, mean.mean_j_mm2)).collect();
        assert_eq!(found.len(), 2, "{found:?}");
        for ((spacing, mean), (s, m)) in found.into_iter().zip([(0.2, 0.03), (0.3, 0.02)]) {
            assert!((spacing - s).abs() < 1e-9 && (mean - m).abs() < 1e-9, "{spacing} {mean}");
        }
    }

    #[test]
    fn the_spacing_is_that_of_most_lines() {
        let (sin, cos) = 67_f64.to_radians().sin_cos();
        let at = |u: f64, v: f64| Point::from_mm(u * cos - v * sin, u * sin + v * cos).unwrap();
        let line = |i: i32, from: f64| {
            let v = 0.2 * f64::from(i);
            if i % 2 == 0 {
                [at(from, v), at(from + 3.0, v)]
            } else {
                [at(from + 3.0, v), at(from, v)]
            }
        };
        // Lines 5 to 8 are missing, every line is in two pieces, and there is a cell at right angles.
        let lines = (0..30).filter(|i| !(5..9).contains(i));
        let mut marks: Vec<_> = lines.flat_map(|i| [line(i, 0.0), line(i, 4.0)]).collect();
        marks.extend((0..9).map(|i| {
            let u = 10.0 + 0.3 * f64::from(i);
            [at(u, 0.0), at(u, 2.0)]
        }));
        assert_eq!(spacing_mm(&marks), Some(0.2));
        assert_eq!(spacing_mm(&marks[..2]), None);
        assert_eq!(spacing_mm(&[]), None);
    }
}
