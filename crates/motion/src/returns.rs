//! How soon the beam comes back: for spots along the marks of a layer, the time until light falls on them again.

use crate::grid::Grid;
use crate::head::Head;
use crate::moves::MoveKind;
use crate::walk::walk;
use base::NM_PER_MM;
use scan_path::{Header, Layer};

/// A spot of a mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Where it is, mm.
    pub at_mm: [f64; 2],
    /// When the beam was there, s from the start of the layer.
    pub time_s: f64,
    /// Index of its block in the layer.
    pub block: u32,
    /// How much later another mark comes within reach, s; `None` if no other one does in the layer.
    pub again_after_s: Option<f64>,
    path: u32,
    /// Way along its path, mm.
    along_mm: f64,
}

/// Spots are this share of the reach apart, so that none between two of them is out of reach of what passes by.
const SPOTS_PER_REACH: f64 = 2.0;

/// On its own path the beam comes back only from this many reaches on: before, it has not been away.
const OWN_PATH: f64 = 3.0;

/// Spots half a reach apart along all marks, in order of time, each with the time until another mark, or a later
/// stretch of its own path, comes within `reach_mm` of it: from spot to spot, so that times are right to what the
/// beam needs for half a reach. O(spots) for ordinary layers.
pub fn returns(layer: &Layer, header: &Header, head: Option<&Head>, reach_mm: f64) -> Vec<Spot> {
    let mut spots = spots(layer, header, head, reach_mm / SPOTS_PER_REACH);
    if spots.is_empty() {
        return spots;
    }
    let numbered = spots.iter().enumerate().map(|(number, spot)| (spot.at_mm, number));
    let grid = Grid::new(reach_mm, numbered.collect());
    let again = |number: usize, spot: &Spot| {
        let cell = grid.cell_of(spot.at_mm);
        let near = (0..=1).flat_map(|away| grid.ring(cell, away));
        let later = near.filter(|(_, other)| *other > number).filter_map(|(at, other)| {
            let other = spots.get(*other)?;
            let is_near = (at[0] - spot.at_mm[0]).hypot(at[1] - spot.at_mm[1]) <= reach_mm;
            let is_own = (other.block, other.path) == (spot.block, spot.path)
                && other.along_mm - spot.along_mm < OWN_PATH * reach_mm;
            (is_near && !is_own).then_some(other.time_s - spot.time_s)
        });
        later.min_by(f64::total_cmp)
    };
    let times: Vec<_> =
        spots.iter().enumerate().map(|(number, spot)| again(number, spot)).collect();
    for (spot, time) in spots.iter_mut().zip(times) {
        spot.again_after_s = time;
    }
    spots
}

fn spots(layer: &Layer, header: &Header, head: Option<&Head>, pitch_mm: f64) -> Vec<Spot> {
    let mut spots = Vec::new();
    let (mut path, mut along_mm) = ((u32::MAX, u32::MAX), 0.0);
    walk(layer, header, head, |step| {
        let mark = step.step;
        if mark.kind != MoveKind::Mark {
            return;
        }
        if path != (mark.block, mark.path) {
            (path, along_mm) = ((mark.block, mark.path), 0.0);
        }
        let length_mm = mark.from.distance(step.to) / NM_PER_MM;
        let (from, to) = (mark.from.to_mm(), step.to.to_mm());
        let count = (length_mm / pitch_mm).ceil().max(1.0);
        let mut number = 0.5;
        while number < count {
            let share = number / count;
            number += 1.0;
            spots.push(Spot {
                at_mm: [0, 1].map(|i| from[i] + share * (to[i] - from[i])),
                time_s: mark.start_s + share * step.duration_s,
                block: mark.block,
                again_after_s: None,
                path: mark.path,
                along_mm: along_mm + share * length_mm,
            });
        }
        along_mm += length_mm;
    });
    spots
}
