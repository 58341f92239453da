//! What is to be fused of one placement, layer by layer: its sections, less the melt that reaches
//! down from above.
//!
//! Sections are cut where the pose has the part, so that copies share them; each copy knows its way in the plane.

use crate::posed::Placed;
use base::NM_PER_MM;
use region::{Region, difference, intersection};
use slicing::{Scratch, SectionReport};
use std::ops::Range;
use std::sync::{Arc, OnceLock};

/// The sections of one placement over a run of layers.
#[derive(Clone)]
pub(crate) struct Sections {
    cut: Arc<Cut>,
    /// From where they are cut to where the placement is.
    pub(crate) moved_nm: [i32; 2],
}

/// The sections of a part over a run of layers, where its pose has it.
pub(crate) struct Cut {
    first: u32,
    regions: Vec<Region>,
    /// What is there before the melt from above is taken off; empty without growth in Z.
    bare: Vec<Region>,
    /// Pieces that growth in Z takes away as a whole, worked out when they are asked for.
    films: Vec<OnceLock<Region>>,
    reports: Vec<SectionReport>,
}

/// Where a placement has nothing, there is nothing to doubt.
static NOT_CUT: SectionReport = SectionReport { exact: true, gaps: Vec::new() };

impl Sections {
    /// What is to be fused of a placement, layer by layer.
    pub(crate) fn of(placed: &Placed, range: Range<u32>, scratch: &mut Scratch) -> Self {
        Self::copy_of(placed, &Arc::new(Cut::of(placed, range, scratch)))
    }

    /// The same from the sections of a placement that is like this one.
    pub(crate) fn copy_of(placed: &Placed, cut: &Arc<Cut>) -> Self {
        let (moved_nm, _) = placed.posed.slicer.moved_by();
        Self { cut: Arc::clone(cut), moved_nm }
    }

    /// Pieces that end in a layer of the run, but its last, and are taken away by growth in Z as a whole:
    /// there is nothing to fuse of them here, and nothing above.
    pub(crate) fn films(&self, layer: u32) -> Region {
        self.moved(self.cut.films(layer))
    }

    /// What is to be fused in a layer; empty outside the run.
    pub(crate) fn region(&self, layer: i64) -> Region {
        self.moved(self.unmoved(layer))
    }

    /// The same where the part is cut.
    pub(crate) fn unmoved(&self, layer: i64) -> &Region {
        let index = usize::try_from(layer - i64::from(self.cut.first)).ok();
        index.and_then(|index| self.cut.regions.get(index)).unwrap_or(NOTHING)
    }

    /// The box of what is to be fused in a layer, mm.
    pub(crate) fn bounds_mm(&self, layer: i64) -> Option<[[f64; 2]; 2]> {
        let (low, high) = self.unmoved(layer).bounds()?;
        let moved = |nm: [i32; 2]| {
            [0, 1].map(|k| (f64::from(nm[k]) + f64::from(self.moved_nm[k])) / NM_PER_MM)
        };
        Some([moved([low.x, low.y]), moved([high.x, high.y])])
    }

    /// How the section of a layer of the run came about.
    pub(crate) fn report(&self, layer: u32) -> SectionReport {
        let index = layer.checked_sub(self.cut.first).map(|index| index as usize);
        let report = index.and_then(|index| self.cut.reports.get(index)).unwrap_or(&NOT_CUT);
        report.moved(self.moved_nm)
    }

    /// A placement's slicer has seen to it that the whole part is on the grid.
    fn moved(&self, region: &Region) -> Region {
        let [dx, dy] = self.moved_nm;
        region.translated(dx, dy).unwrap_or_default()
    }
}

impl Cut {
    /// What is to be fused of a part, layer by layer, where the pose of a placement has it.
    pub(crate) fn of(placed: &Placed, range: Range<u32>, scratch: &mut Scratch) -> Self {
        let growth = placed.growth_layers;
        let first = range.start.saturating_sub(growth);
        let slicer = placed.posed.slicer.unmoved();
        let cut = slicer.layers();
        let (mut raw, reports): (Vec<Region>, Vec<SectionReport>) = (first..range.end)
            .map(|layer| {
                if cut.contains(&layer) {
                    slicer.proper_section(layer, scratch)
                } else {
                    (Region::empty(), NOT_CUT.clone())
                }
            })
            .unzip();
        let skipped = (range.start - first) as usize;
        let reports = reports.into_iter().skip(skipped).collect();
        if growth == 0 {
            let (bare, films) = (Vec::new(), Vec::new());
            return Self { first: range.start, regions: raw, bare, films, reports };
        }
        // Leave out what has no material within `growth` layers below: the melt comes down there.
        let regions: Vec<Region> = (skipped..raw.len())
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
        let films = regions.iter().map(|_| OnceLock::new()).collect();
        Self { first: range.start, regions, bare, films, reports }
    }

    fn films(&self, layer: u32) -> &Region {
        let index = layer.checked_sub(self.first).map(|index| index as usize);
        let Some((films, i)) = index.and_then(|i| Some((self.films.get(i)?, i))) else {
            return NOTHING;
        };
        films.get_or_init(|| match (&self.bare[i], self.bare.get(i + 1)) {
            (here, Some(above)) if here != above && *here != self.regions[i] => {
                difference(&difference(here, &self.regions[i]), above)
            }
            _ => Region::empty(),
        })
    }
}

const NOTHING: &Region = &Region::empty();
