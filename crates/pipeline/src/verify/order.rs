//! What blocks say that they are, and the order in which they are run: the recipe asks for each exposure
//! of each kind of region, in turn.

use super::disc::Disc;
use super::expected::{CentrelineRule, ContourRule, KindRule, Required};
use super::outcome::{Check, Marks, Tally};
use super::walls::{Walls, xy};
use base::finding::VectorsProblem;
use job::Rounds;
use scan_path::{Block, ExposureKind, RegionKind};

/// What a block is run along, where, and with what: a row of the table, or of a hatch a pass, by number.
type Name = (ExposureKind, RegionKind, usize);

/// Stands for a row where a block runs lines along walls too narrow for hatch, but not for contours.
const ALONG_NARROW: usize = usize::MAX - 1;

/// Contours of all kinds of region where they go on from one to the other.
const CHAINED: Name = (ExposureKind::Contour, RegionKind::Core, usize::MAX);

/// Rounds over all placements to which a block may belong.
pub(super) type RoundsOf = Vec<u8>;

/// A name, and its round where kinds come one after the other: before contours, contours, after them.
type Wanted = (Name, u8);

/// Every block is asked for, and none comes before one that it should follow; `passes` says of which each
/// block of hatch is. Returns the rounds of each block; none if it is not asked for.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    walls: &Walls,
    (marks, passes): (&Marks, &[Option<usize>]),
) -> Vec<RoundsOf> {
    let mut wanted = wanted(required);
    match check.build.loaded.job.part_order.rounds {
        Rounds::PartAfterPart => wanted.iter_mut().for_each(|(_, round)| *round = 0),
        Rounds::KindAfterKind => wanted.sort_by_key(|(_, round)| *round),
    }
    let mut rounds = Vec::new();
    let (mut not_asked, mut disorder) = (Tally::default(), Tally::default());
    let mut reached = 0;
    for (block, pass) in marks.blocks.iter().zip(passes) {
        let at = block.paths.points().first().map_or([0.0; 2], |p| xy(*p));
        let names = names(required, walls, block, *pass);
        let is_it = |wanted: &Wanted| names.contains(&wanted.0);
        match wanted[reached..].iter().position(is_it) {
            Some(ahead) => reached += ahead,
            None if wanted.iter().any(is_it) => disorder.add(at, 0.0),
            None => not_asked.add(at, 0.0),
        }
        let mut of_block: RoundsOf =
            wanted.iter().filter(|wanted| is_it(wanted)).map(|(_, round)| *round).collect();
        of_block.dedup();
        rounds.push(of_block);
    }
    not_asked.report(check, |t| VectorsProblem::NotAskedFor { blocks: t.count });
    disorder.report(check, |_| VectorsProblem::OrderDiffers {
        what: "blocks: kinds of region, contours and hatch, or their exposures".to_owned(),
    });
    rounds
}

/// What a block says that it is; all energies of the exposure of thin walls count as one, and so do kinds of
/// region that share their contours. Whether lines along walls are what thin or what narrow walls have is told by
/// the walls; where it is not, they are either.
fn names(required: &Required, walls: &Walls, block: &Block, pass: Option<usize>) -> Vec<Name> {
    let row = usize::from(block.exposure);
    match block.kind {
        ExposureKind::Contour => {
            let shared = required.shared_contours(block.region);
            let is_asked = |rule: &ContourRule| rule.order.contains(&block.exposure);
            if required.are_contours_chained() && shared.is_some_and(|(rule, _)| is_asked(rule)) {
                return vec![CHAINED];
            }
            vec![(block.kind, shared.map_or(block.region, |(_, first)| first), row)]
        }
        ExposureKind::Hatch => vec![(block.kind, block.region, pass.unwrap_or(usize::MAX))],
        ExposureKind::Centreline => {
            let rule = required.centrelines.as_ref();
            let is_asked = |rule: &&CentrelineRule| {
                rule.exposure == block.exposure || rule.steps.contains(&block.exposure)
            };
            let Some(rule) = rule.filter(is_asked) else {
                return vec![(block.kind, block.region, row)];
            };
            let single = (block.kind, block.region, usize::from(rule.exposure));
            let narrow = (block.kind, block.region, ALONG_NARROW);
            match share_in_thin_walls(walls, required.half_single, block) {
                share if share < 0.2 => vec![narrow],
                share if share > 0.8 => vec![single],
                _ => vec![single, narrow],
            }
        }
    }
}

/// Of some marks of a block, how many lie in walls too thin for contours.
fn share_in_thin_walls(walls: &Walls, half_single: f64, block: &Block) -> f64 {
    const MOST_MARKS: usize = 32;
    let marks = || block.paths.iter().flat_map(|path| path.windows(2));
    let every = marks().count().div_ceil(MOST_MARKS).max(1);
    let (mut thin, mut all) = (0.0, 0.0);
    for mark in marks().step_by(every) {
        let [a, b] = [xy(mark[0]), xy(mark[1])];
        let middle = [0, 1].map(|k| f64::midpoint(a[k], b[k]));
        all += 1.0;
        if Disc::touching(walls, middle, half_single).is_some() {
            thin += 1.0;
        }
    }
    if all > 0.0 { thin / all } else { 0.5 }
}

/// All that the recipe asks for in a layer, in order: hatch that comes before contours, contours, the other
/// hatch, centrelines; of each core, up-facing, down-facing.
fn wanted(required: &Required) -> Vec<Wanted> {
    let hatch = |is_first: bool| {
        let kinds = required.kinds.iter();
        let kinds = kinds.filter(move |kind| kind.is_hatch_first == is_first);
        kinds.flat_map(|kind| hatch_of(required, kind))
    };
    let mut wanted: Vec<Wanted> = hatch(true).map(|name| (name, 0)).collect();
    if required.are_contours_chained() {
        wanted.push((CHAINED, 1));
    } else {
        for kind in &required.kinds {
            let Some((rule, first)) = required.shared_contours(kind.region) else { continue };
            if first == kind.region {
                let rows = rule.order.iter().chain(rule.further.iter().map(|(_, row)| row));
                let name = |row: &u16| (ExposureKind::Contour, first, usize::from(*row));
                wanted.extend(rows.map(|row| (name(row), 1)));
            }
        }
    }
    wanted.extend(hatch(false).map(|name| (name, 2)));
    let centrelines = required.centrelines.iter();
    let name = |row: u16| (ExposureKind::Centreline, RegionKind::Core, usize::from(row));
    wanted.extend(centrelines.map(|rule| (name(rule.exposure), 2)));
    wanted
}

/// The passes of a kind's hatch, each followed by lines along narrow walls.
fn hatch_of(required: &Required, kind: &KindRule) -> Vec<Name> {
    let walls = required.centrelines.as_ref().filter(|_| kind.walls.is_some());
    let walls = walls.map(|_| (ExposureKind::Centreline, kind.region, ALONG_NARROW));
    let order = kind.hatch.iter().flat_map(|rule| &rule.order);
    let passes = order.map(|pass| (ExposureKind::Hatch, kind.region, *pass));
    passes.flat_map(|pass| std::iter::once(pass).chain(walls)).collect()
}
