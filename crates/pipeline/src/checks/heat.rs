//! Whether the bed warms and cools evenly: from sections and bounds, not from a simulation.
//!
//! All limits are common practice, no source: how much a machine and a powder bear has to be learned on it.

use base::Finding;
use base::finding::HeatProblem;
use job::Machine;

/// Share of the bed by which the fused area may change from one layer to the next.
const JUMP_SHARE: f64 = 0.1;
/// Area that a part may begin with at once, mm².
const FLAT_START_MM2: f64 = 1500.0;
/// How far parts keep from the side walls, mm.
const FROM_WALL_MM: f64 = 5.0;
/// From which length on a part along the way of the spreader matters, mm, if it is so many times as long as
/// wide.
const LONG_MM: f64 = 80.0;
const LONG_TIMES: f64 = 8.0;

/// The limits on one machine.
pub(crate) struct Heat {
    most_jump_mm2: f64,
    /// Whether the spreader goes along X, rather than along Y.
    spreads_along_x: bool,
}

impl Heat {
    pub(crate) fn of(machine: &Machine) -> Self {
        let [width, depth, _] = machine.build_space_mm;
        let direction = machine.spreading_direction_deg.to_radians();
        Self {
            most_jump_mm2: JUMP_SHARE * width * depth,
            spreads_along_x: direction.cos().abs() >= direction.sin().abs(),
        }
    }

    /// Where the fused area of all parts jumps; `areas_mm2` from the lowest layer up. The powder below the
    /// lowest and above the highest layer counts as nothing fused.
    pub(crate) fn area_jump(&self, areas_mm2: &[f64]) -> Option<Finding> {
        let mut below = 0.0;
        let mut jumps = 0;
        let mut worst: Option<(f64, [f64; 2], u32)> = None;
        for (layer, &area) in (0..).zip(areas_mm2) {
            let jump = f64::abs(area - below);
            if jump > self.most_jump_mm2 {
                jumps += 1;
                if worst.is_none_or(|(known, ..)| jump > known) {
                    worst = Some((jump, [below, area], layer));
                }
            }
            below = area;
        }
        let (_, from_to_mm2, layer) = worst?;
        let allowed_mm2 = self.most_jump_mm2;
        let problem = HeatProblem::AreaJump { layers: jumps, from_to_mm2, allowed_mm2 };
        Some(Finding::new(problem).at_layers(layer, layer))
    }

    /// Where a placement begins with a large flat surface. What its area grows by from one layer to the next
    /// begins there, and more may.
    ///
    /// `areas_mm2` are its layers and what it has to fuse there, in rising order.
    pub(crate) fn flat_start(areas_mm2: impl Iterator<Item = (u32, f64)>) -> Option<Finding> {
        let mut below: Option<(u32, f64)> = None;
        let mut worst: Option<(f64, u32)> = None;
        for (layer, area) in areas_mm2 {
            let under = below.filter(|(below, _)| below + 1 == layer);
            let begins = area - under.map_or(0.0, |(_, area)| area);
            if begins > worst.map_or(FLAT_START_MM2, |(known, _)| known) {
                worst = Some((begins, layer));
            }
            below = Some((layer, area));
        }
        let (area_mm2, layer) = worst?;
        let problem = HeatProblem::FlatStart { area_mm2, allowed_mm2: FLAT_START_MM2 };
        Some(Finding::new(problem).at_layers(layer, layer))
    }

    /// Whether bounds, mm, are those of a long thin part along the way of the spreader.
    pub(crate) fn long_along_spreading(
        &self,
        (low, high): ([f64; 3], [f64; 3]),
    ) -> Option<Finding> {
        let [x, y] = [0, 1].map(|k| high[k] - low[k]);
        let (length_mm, width_mm) = if self.spreads_along_x { (x, y) } else { (y, x) };
        (length_mm > LONG_MM && length_mm > LONG_TIMES * width_mm).then(|| {
            let (from_mm, times) = (LONG_MM, LONG_TIMES);
            Finding::new(HeatProblem::LongAlongSpreading { length_mm, width_mm, from_mm, times })
        })
    }
}

/// Whether bounds, mm, within the build space are near one of its side walls.
pub(crate) fn near_wall(machine: &Machine, (low, high): ([f64; 3], [f64; 3])) -> Option<Finding> {
    let gap = |k: usize| {
        let half = 0.5 * machine.build_space_mm[k];
        (low[k] + half).min(half - high[k])
    };
    let distance_mm = gap(0).min(gap(1));
    (0.0..FROM_WALL_MM)
        .contains(&distance_mm)
        .then(|| Finding::new(HeatProblem::NearWall { distance_mm, wanted_mm: FROM_WALL_MM }))
}
