//! What blocks say that they are, and the order in which they are run: the recipe asks for each exposure
//! of each kind of region, in turn.

use super::expected::{KindRule, Required};
use super::hatch::Tally;
use super::outcome::{Check, Marks};
use super::walls::xy;
use base::finding::VectorsProblem;
use scan_path::{Block, ExposureKind, RegionKind};

/// What a block is run with, along what, and where.
type Name = (ExposureKind, RegionKind, u16);

/// Every block is asked for, and none comes before one that it should follow.
pub(super) fn check(check: &mut Check, required: &Required, marks: &Marks) {
    let wanted = wanted(required);
    let (mut not_asked, mut disorder) = (Tally::default(), Tally::default());
    let mut reached = 0;
    for block in &marks.blocks {
        let at = block.paths.points().first().map_or([0.0; 2], |p| xy(*p));
        let name = name(block);
        match wanted[reached..].iter().position(|wanted| *wanted == name) {
            Some(ahead) => reached += ahead,
            None if wanted.contains(&name) => disorder.add(at, 0.0),
            None => not_asked.add(at, 0.0),
        }
    }
    not_asked.report(check, |t| VectorsProblem::NotAskedFor { blocks: t.count });
    disorder.report(check, |_| VectorsProblem::OrderDiffers {
        what: "blocks: kinds of region, contours and hatch, or their exposures".to_owned(),
    });
}

fn name(block: &Block) -> Name {
    (block.kind, block.region, block.exposure)
}

/// All that the recipe asks for in a layer, in order: core, up-facing, down-facing, centrelines.
fn wanted(required: &Required) -> Vec<Name> {
    let mut wanted = Vec::new();
    for kind in &required.kinds {
        let KindRule { region, contours, hatch, .. } = kind;
        let contours = contours.iter().flat_map(|rule| &rule.order);
        let contours = contours.map(|exposure| (ExposureKind::Contour, *region, *exposure));
        let hatch = hatch.iter().flat_map(|rule| &rule.order);
        let hatch = hatch.map(|exposure| (ExposureKind::Hatch, *region, *exposure));
        if kind.is_hatch_first {
            wanted.extend(hatch.chain(contours));
        } else {
            wanted.extend(contours.chain(hatch));
        }
    }
    let centrelines = required.centrelines.iter();
    wanted.extend(centrelines.map(|c| (ExposureKind::Centreline, RegionKind::Core, c.exposure)));
    wanted
}
