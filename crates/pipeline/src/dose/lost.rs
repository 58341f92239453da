//! Pieces, gaps and holes that the melt does not keep, joined over layers to one finding each.

use base::finding::{DoseProblem, Lost};
use base::{Finding, NamedPlacement};
use estimate::outline::Deviation;

/// A box: lower left and upper right corner, mm.
pub(super) type Box2 = [[f64; 2]; 2];

/// Layers without it after which a fault counts as ended: what hangs on where the lines of the hatch fall
/// comes and goes from layer to layer.
const SILENT_LAYERS: u32 = 5;

/// What becomes of something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fate {
    Vanishes,
    Merges,
    Fills,
}

/// Something that is lost in one layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LostSpot {
    pub(super) fate: Fate,
    /// Row of the placement table.
    pub(super) row: usize,
    /// Where it is widest (a gap: narrowest), and its width there, mm.
    at: [f64; 2],
    width_mm: f64,
    /// The boxes around both pieces; the same twice around a single one.
    around: [Box2; 2],
}

/// What is lost in a layer; `row_of` knows the placement that a box is around a ring of.
pub(super) fn lost_spots(
    Deviation { vanished, merged, filled, .. }: &Deviation,
    row_of: impl Fn(Box2) -> usize,
) -> Vec<LostSpot> {
    let spot = |fate, at, width_mm, around: [Box2; 2]| {
        let row = row_of(around[0]);
        LostSpot { fate, row, at, width_mm, around }
    };
    let vanished =
        vanished.iter().map(|of| spot(Fate::Vanishes, of.at, of.width_mm, [of.around; 2]));
    let merged = merged.iter().map(|of| spot(Fate::Merges, of.at, of.gap_mm, of.around));
    let filled = filled.iter().map(|of| spot(Fate::Fills, of.at, of.width_mm, [of.around; 2]));
    vanished.chain(merged).chain(filled).collect()
}

/// What is lost, over the layers that were added, from the bottom up.
pub(super) struct Tracks {
    /// Boxes no farther apart than this in layers next to each other are around the same thing, mm.
    near_mm: f64,
    /// How many layers were added.
    added: u32,
    all: Vec<Track>,
}

/// One thing that is lost in one or more layers.
struct Track {
    fate: Fate,
    row: usize,
    first: u32,
    last: u32,
    layers: u64,
    /// The number of the last layer that has it, among those that were added.
    last_added: u32,
    around: [Box2; 2],
    /// Its width where it is widest, and the place, mm.
    widest: (f64, [f64; 3]),
}

impl Tracks {
    pub(super) fn new(near_mm: f64) -> Self {
        Self { near_mm, added: 0, all: Vec::new() }
    }

    /// Takes up what is lost in the next layer, cut at `z_mm`.
    pub(super) fn add_layer(&mut self, layer: u32, z_mm: f64, spots: &[LostSpot]) {
        self.added += 1;
        for spot in spots {
            let [x, y] = spot.at;
            let widest = (spot.width_mm, [x, y, z_mm]);
            if let Some(track) = self.track_of(spot) {
                (track.last, track.layers) = (layer, track.layers + 1);
                track.around = spot.around;
                if widest.0 > track.widest.0 {
                    track.widest = widest;
                }
            } else {
                let LostSpot { fate, row, around, .. } = *spot;
                let (first, last, last_added) = (layer, layer, self.added);
                let track = Track { fate, row, first, last, layers: 1, last_added, around, widest };
                self.all.push(track);
            }
        }
    }

    /// The track that a spot of the newest layer goes on, marked as found there.
    fn track_of(&mut self, spot: &LostSpot) -> Option<&mut Track> {
        let (added, near) = (self.added, self.near_mm);
        let is_open = |track: &Track| {
            let since = added - track.last_added;
            track.fate == spot.fate
                && track.row == spot.row
                && (1..=SILENT_LAYERS + 1).contains(&since)
        };
        let alike = |track: &Track| likeness(track.around, spot.around, near);
        let open = self.all.iter_mut().filter(|track| is_open(track) && alike(track) > 0.0);
        let track = open.max_by(|a, b| alike(a).total_cmp(&alike(b)))?;
        track.last_added = added;
        Some(track)
    }

    /// The findings, what vanishes first, then what merges and what fills, each from the bottom up.
    pub(super) fn findings(
        mut self,
        depth: &'static str,
        named: impl Fn(usize) -> NamedPlacement,
    ) -> Vec<Finding> {
        self.all.sort_by_key(|track| (track.fate, track.first, track.row)); // stable
        let finding = |track: &Track| {
            let (width_mm, at) = track.widest;
            let lost = Lost { width_mm, layers: track.layers, depth };
            let problem = match track.fate {
                Fate::Vanishes => DoseProblem::PieceVanishes(lost),
                Fate::Merges => DoseProblem::PiecesMerge(lost),
                Fate::Fills => DoseProblem::HoleFills(lost),
            };
            let finding = Finding::new(problem).at_placement(named(track.row));
            finding.at_layers(track.first, track.last).at_point(at)
        };
        self.all.iter().map(finding).collect()
    }
}

/// How much of each other two pairs of boxes cover, once widened to reach each other from so far: 0 to 1.
fn likeness([a, b]: [Box2; 2], [c, d]: [Box2; 2], near_mm: f64) -> f64 {
    let both = |p, q, r, s| shared(p, q, near_mm).min(shared(r, s, near_mm));
    both(a, c, b, d).max(both(a, d, b, c))
}

/// The area that two widened boxes share, as a share of what they cover together.
fn shared([low_a, high_a]: Box2, [low_b, high_b]: Box2, near_mm: f64) -> f64 {
    let area = |low: [f64; 2], high: [f64; 2]| {
        let side = |axis: usize| (high[axis] - low[axis] + near_mm).max(0.0);
        side(0) * side(1)
    };
    let low = [0, 1].map(|axis| low_a[axis].max(low_b[axis]));
    let high = [0, 1].map(|axis| high_a[axis].min(high_b[axis]));
    let common = area(low, high);
    common / (area(low_a, high_a) + area(low_b, high_b) - common)
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::{PlacementId, PlacementName};

    fn hole(x: f64, width_mm: f64) -> LostSpot {
        let around = [[x, 0.0], [x + width_mm, width_mm]];
        let at = [x + width_mm / 2.0, width_mm / 2.0];
        LostSpot { fate: Fate::Fills, row: 0, at, width_mm, around: [around; 2] }
    }

    fn found(layers: &[Vec<LostSpot>]) -> Vec<(Option<(u32, u32)>, String)> {
        let mut tracks = Tracks::new(0.1);
        for (layer, spots) in (10..).zip(layers) {
            tracks.add_layer(layer, 0.0, spots);
        }
        let name = PlacementName { part: "part".into(), copy: 1, copies: 1 };
        let named = |_| NamedPlacement { id: PlacementId::new(0, 0), name: name.clone() };
        let findings = tracks.findings("nominal", named);
        let said = |finding: Finding| {
            let words: Vec<&str> = finding.sentence().split(' ').collect();
            (finding.place.layers, [words[4], words[10]].join(" "))
        };
        findings.into_iter().map(said).collect()
    }

    fn said(first: u32, last: u32, words: &str) -> (Option<(u32, u32)>, String) {
        (Some((first, last)), words.to_owned())
    }

    #[test]
    fn holes_side_by_side_stay_apart_and_one_that_wanders_stays_one() {
        let layers: Vec<_> = (0..9_u32)
            .map(|k| vec![hole(0.25 * f64::from(k), 0.2), hole(5.0, 0.1 + 0.01 * f64::from(k))])
            .collect();
        assert_eq!(found(&layers), [said(10, 18, "0.200 9"), said(10, 18, "0.180 9")]);
        // 0.5 mm on: further than 0.1 mm from box to box
        let layers: Vec<_> = (0..3_u32).map(|k| vec![hole(0.5 * f64::from(k), 0.2)]).collect();
        assert_eq!(found(&layers).len(), 3);
    }

    #[test]
    fn a_hole_that_is_open_for_some_layers_only_stays_one() {
        let mut layers = vec![Vec::new(); 9];
        layers[0] = vec![hole(0.0, 0.2)];
        layers[6] = vec![hole(0.0, 0.3)];
        assert_eq!(found(&layers), [said(10, 16, "0.300 2")]);
        layers.insert(1, Vec::new());
        assert_eq!(found(&layers), [said(10, 10, "0.200 1"), said(17, 17, "0.300 1")]);
    }
}
