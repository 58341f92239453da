//! What is to be fused of one placement, layer by layer: its sections, less the melt that reaches
//! down from above.

use crate::posed::Placed;
use region::{Region, difference, intersection};
use slicing::{Scratch, SectionReport};
use std::ops::Range;

/// The sections of one placement over a run of layers.
pub(crate) struct Sections {
    first: u32,
    regions: Vec<Region>,
    /// What is there before the melt from above is taken off; empty without growth in Z.
    bare: Vec<Region>,
    reports: Vec<SectionReport>,
}

/// Where a placement has nothing, there is nothing to doubt.
static NOT_CUT: SectionReport = SectionReport { exact: true, gaps: Vec::new() };

impl Sections {
    /// What is to be fused of a placement, layer by layer.
    pub(crate) fn of(placed: &Placed, range: Range<u32>, scratch: &mut Scratch) -> Self {
        let growth = placed.growth_layers;
        let first = range.start.saturating_sub(growth);
        let cut = placed.posed.slicer.layers();
        let (mut raw, reports): (Vec<Region>, Vec<SectionReport>) = (first..range.end)
            .map(|layer| {
                if cut.contains(&layer) {
                    placed.posed.slicer.proper_section(layer, scratch)
                } else {
                    (Region::empty(), NOT_CUT.clone())
                }
            })
            .unzip();
        let skipped = (range.start - first) as usize;
        let reports = reports.into_iter().skip(skipped).collect();
        if growth == 0 {
            return Self { first: range.start, regions: raw, bare: Vec::new(), reports };
        }
        // Leave out what has no material within `growth` layers below: the melt comes down there.
        let regions = (skipped..raw.len())
            .map(|k| {
                if k < growth as usize {
                    return Region::empty(); // the platform's first layers have nothing below
                }
                let below = &raw[k - growth as usize..k];
                below.iter().rev().fold(raw[k].clone(), |kept, under| {
                    if kept.is_empty() || *under == kept {
                        kept
                    } else {
                        intersection(&kept, under)
                    }
                })
            })
            .collect();
        let bare = raw.split_off(skipped);
        Self { first: range.start, regions, bare, reports }
    }

    /// Pieces that end in a layer of the run, but its last, and are taken away by growth in Z as a whole:
    /// there is nothing to fuse of them here, and nothing above.
    pub(crate) fn films(&self, layer: u32) -> Region {
        let index = layer.checked_sub(self.first).map(|index| index as usize);
        let around = index.and_then(|i| Some((self.bare.get(i)?, self.bare.get(i + 1)?, i)));
        match around {
            Some((here, above, i)) if here != above && *here != self.regions[i] => {
                difference(&difference(here, &self.regions[i]), above)
            }
            _ => Region::empty(),
        }
    }

    /// What is to be fused in a layer; empty outside the run.
    pub(crate) fn region(&self, layer: i64) -> &Region {
        let index = usize::try_from(layer - i64::from(self.first)).ok();
        index.and_then(|index| self.regions.get(index)).unwrap_or(NOTHING)
    }

    /// How the section of a layer of the run came about.
    pub(crate) fn report(&self, layer: u32) -> &SectionReport {
        let index = layer.checked_sub(self.first).map(|index| index as usize);
        index.and_then(|index| self.reports.get(index)).unwrap_or(&NOT_CUT)
    }
}

const NOTHING: &Region = &Region::empty();
