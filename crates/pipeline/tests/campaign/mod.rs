//! A mutation campaign against the proof of vector files: plants faults in files that are well formed
//! otherwise, asks the proof, and measures by itself what each fault does to the part.

mod cases;
mod effect;
mod kind;
mod mutate;
mod parts;
mod planted;
mod random;
mod tables;

pub(crate) use cases::{Case, cases};
use effect::{Effect, effect};
use job::recipe::{Hatch, Travel};
pub(crate) use kind::Kind;
use mutate::mutate;
use planted::Planted;
use random::Random;
use scan_path::{Block, ExposureKind, Layer};
use std::fmt::Write;

/// One planted fault and what became of it.
pub(crate) struct Trial {
    pub(crate) kind: Kind,
    seed: u64,
    pub(crate) case: String,
    effect: Effect,
    is_caught: bool,
}

impl Trial {
    /// Whether the fault does harm and the proof did not see it.
    pub(crate) fn is_missed(&self) -> bool {
        self.effect.is_harmful() && !self.is_caught
    }

    pub(crate) fn describe(&self) -> String {
        format!("{:?} {} in {}: {:?}", self.kind, self.seed, self.case, self.effect)
    }
}

/// Mutates one of the cases in one way; `None` if it has nothing of the kind.
pub(crate) fn trial(cases: &[Case], kind: Kind, seed: u64) -> Option<Trial> {
    let mut random = Random(seed.wrapping_mul(0x1000) ^ kind as u64);
    let case = &cases[random.below(cases.len())?];
    let mut file = Planted::new(case);
    mutate(&mut file, kind, &mut random)?;
    let mut effect = effect(&file);
    effect.table = file.header != case.header;
    effect.order = is_in_another_order(&file) || (kind == Kind::HatchReversed && is_one_way(case));
    let is_caught = !file.verdict().is_verified();
    Some(Trial { kind, seed, case: case.name.clone(), effect, is_caught })
}

/// Whether all hatch of a case has to run in the scan direction.
fn is_one_way(case: &Case) -> bool {
    let recipe = &case.build.loaded.recipes[0].recipe;
    let is_one_way = |hatch: &Hatch| hatch.travel == Travel::OneWay;
    recipe.core.hatch.as_ref().is_some_and(is_one_way)
        && recipe.up_facing.is_none()
        && recipe.down_facing.is_none()
}

/// Whether the same marks are run, but kinds, regions, exposures or contours follow each other
/// in another order.
fn is_in_another_order(file: &Planted) -> bool {
    let recipe = &file.case.build.loaded.recipes[0].recipe;
    file.layers.iter().zip(&file.case.layers).any(|(now, before)| {
        let placements = |layer: &Layer| layer.blocks.iter().map(|b| b.placement).collect();
        let [a, b]: [Vec<u32>; 2] = [now, before].map(placements);
        let sorted = |mut rows: Vec<u32>| {
            rows.sort_unstable();
            rows
        };
        (a != b && sorted(a) == sorted(b))
            || (0..file.header.placements.len()).any(|row| {
                let of = |blocks: &[Block]| -> Vec<Block> {
                    blocks.iter().filter(|b| b.placement as usize == row).cloned().collect()
                };
                let (now, before) = (of(&now.blocks), of(&before.blocks));
                // The order of lines along walls, of whatever energy, is free.
                let name = |b: &Block| {
                    let is_along_walls = b.kind == ExposureKind::Centreline;
                    (b.kind, b.region, if is_along_walls { 0 } else { b.exposure })
                };
                let [a, b] =
                    [&now, &before].map(|blocks| blocks.iter().map(name).collect::<Vec<_>>());
                let sorted = |mut names: Vec<_>| {
                    names.sort_unstable();
                    names
                };
                (a != b && sorted(a.clone()) == sorted(b.clone()))
                    || levels_differ(&now, &before, recipe)
            })
    })
}

/// Whether contours of one island follow each other from the wrong side.
fn levels_differ(now: &[Block], before: &[Block], recipe: &job::Recipe) -> bool {
    let strategies = [Some(&recipe.core), recipe.up_facing.as_ref().map(|f| &f.strategy)];
    let several = strategies
        .into_iter()
        .flatten()
        .any(|s| s.contours.as_ref().is_some_and(|contours| contours.count > 1));
    several
        && now.iter().zip(before).any(|(now, before)| {
            // Several contours of one island: the order of islands is free, that of levels is not.
            now.kind == ExposureKind::Contour && now.paths != before.paths && is_nested(now) && {
                let reversed: Vec<_> = before.paths.iter().collect();
                now.paths.iter().eq(reversed.into_iter().rev())
            }
        })
}

/// Whether a path of a block runs along within another, less than 0.6 mm apart.
fn is_nested(block: &Block) -> bool {
    let bounds = |path: &[base::Point]| -> [i32; 4] {
        path.iter().fold([i32::MAX; 4], |[a, b, c, d], p| {
            [a.min(p.x), b.min(p.y), c.min(-p.x), d.min(-p.y)]
        })
    };
    let all: Vec<[i32; 4]> = block.paths.iter().map(bounds).collect();
    let is_within = |inner: &[i32; 4], outer: &[i32; 4]| {
        inner.iter().zip(outer).all(|(i, o)| (1..600_000).contains(&(i - o)))
    };
    all.iter().any(|inner| all.iter().any(|outer| is_within(inner, outer)))
}

/// The outcome as a table in Markdown: kinds by caught, harmless and missed.
pub(crate) fn table(trials: &[Trial]) -> String {
    let mut text = "| what was changed | tried | caught | harmless, passed | missed |\n".to_owned();
    text.push_str("| --- | --- | --- | --- | --- |\n");
    let mut row = |words: &str, of: &[&Trial]| {
        let caught = of.iter().filter(|t| t.is_caught).count();
        let missed = of.iter().filter(|t| t.is_missed()).count();
        let harmless = of.len() - caught - missed;
        writeln!(text, "| {words} | {} | {caught} | {harmless} | {missed} |", of.len()).ok();
    };
    for kind in Kind::ALL.iter().filter(|kind| trials.iter().any(|t| t.kind == **kind)) {
        row(kind.words(), &trials.iter().filter(|t| t.kind == *kind).collect::<Vec<_>>());
    }
    row("**all**", &trials.iter().collect::<Vec<_>>());
    text
}

/// The verdict on a file as the program makes it.
pub(crate) fn untouched(case: &Case) -> pipeline::Verdict {
    Planted::new(case).verdict()
}
