//! What each kind of mutation does to the marks of a file. `None`: the file has nothing to do it to.

use super::kind::Kind;
use super::planted::{At, Planted, along, moved, shifted};
use super::random::Random;
use base::Point;
use scan_path::{Block, ExposureKind, RegionKind};

const UM: f64 = 1000.0; // nm

/// Changes a file in one way.
pub(crate) fn mutate(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    use ExposureKind::{Centreline, Contour, Hatch};
    match kind {
        Kind::HatchAlong
        | Kind::HatchAcross
        | Kind::HatchDropped
        | Kind::HatchTwice
        | Kind::HatchSplit
        | Kind::HatchShorter
        | Kind::HatchLonger
        | Kind::HatchReversed
        | Kind::HatchExtra
        | Kind::HatchPoints => one_mark(file, kind, random),
        Kind::BlockShorter | Kind::BlockRotated | Kind::BlockThinned | Kind::BlockStretched => {
            all_marks(file, kind, random)
        }
        Kind::BlockDropped => file.any_of(random, Hatch).map(|at| file.drop_block(at)),
        Kind::ContourBlockDropped => file.any_of(random, Contour).map(|at| file.drop_block(at)),
        Kind::BlockTwice => file.any_of(random, Hatch).map(|at| twice(file, at)),
        Kind::ContourBlockTwice => file.any_of(random, Contour).map(|at| twice(file, at)),
        Kind::BlockExposure => other_exposure(file, random, Hatch),
        Kind::ContourExposure => other_exposure(file, random, Contour),
        Kind::CentrelineExposure => other_exposure(file, random, Centreline),
        Kind::ThinHatchDropped => thin_hatch_dropped(file, random),
        Kind::ContourDropped | Kind::ContourTwice | Kind::ContourShifted => {
            one_path(file, kind, Contour, random)
        }
        Kind::CentrelineDropped | Kind::CentrelineTwice | Kind::CentrelineShifted => {
            one_path(file, kind, Centreline, random)
        }
        Kind::ContourOpened | Kind::ContourVertex | Kind::ContourOrder => {
            contour(file, kind, random)
        }
        Kind::BlockRelabelled | Kind::BlockRegion | Kind::BlockPlacement => {
            relabelled(file, kind, random)
        }
        Kind::BlocksSwapped
        | Kind::PartsSwapped
        | Kind::HatchBeforeContours
        | Kind::PassesSwapped => swapped(file, kind, random),
        Kind::OtherPlacement | Kind::Outside => foreign_marks(file, kind, random),
        Kind::LayersSwapped | Kind::LayerRepeated | Kind::LayerEmptied | Kind::GrowthLeftOut => {
            layer(file, kind, random)
        }
        _ => super::tables::mutate(file, kind, random),
    }
}

fn one_mark(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let at = file.any_of(random, ExposureKind::Hatch)?;
    let marks = file.marks(at);
    let i = random.below(marks.len())?;
    let mark = marks[i];
    let length = mark[0].distance(mark[1]);
    let shift = |u: f64, v: f64| mark.map(|p| shifted(p, mark, u, v));
    match kind {
        Kind::HatchAlong => marks[i] = shift(random.either_way(10.0, 200.0) * UM, 0.0),
        Kind::HatchAcross => marks[i] = shift(0.0, random.either_way(10.0, 200.0) * UM),
        Kind::HatchDropped => drop(marks.remove(i)),
        Kind::HatchTwice => marks.insert(i, mark),
        Kind::HatchSplit => {
            let gap = random.between(20.0, 300.0) * UM / length;
            if gap > 0.8 {
                return None;
            }
            let from = random.between(0.1, 0.9 - gap);
            marks[i] = [mark[0], along(mark, from)];
            marks.insert(i + 1, [along(mark, from + gap), mark[1]]);
        }
        Kind::HatchShorter => marks[i] = shorter(mark, 100.0 * UM)?,
        Kind::HatchLonger => {
            marks[i][1] = along(mark, 1.0 + random.between(20.0, 200.0) * UM / length);
        }
        Kind::HatchReversed => marks[i].reverse(),
        Kind::HatchExtra => {
            let (from, aside) = (random.between(0.0, 0.5), random.either_way(0.0, 100.0) * UM);
            let ends = [along(mark, from), along(mark, from + random.between(0.2, 0.5))];
            marks.push(ends.map(|p| shifted(p, mark, 0.0, aside)));
        }
        _ => {
            let p = along(mark, random.between(0.0, 1.0));
            marks.extend([[p, p]; 5]);
        }
    }
    Some(())
}

/// Cut off by as much at both ends, nm.
fn shorter(mark: [Point; 2], by: f64) -> Option<[Point; 2]> {
    let cut = by / mark[0].distance(mark[1]);
    (cut < 0.45).then(|| [along(mark, cut), along(mark, 1.0 - cut)])
}

fn all_marks(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let at = file.any_of(random, ExposureKind::Hatch)?;
    let marks = file.marks(at);
    let first = *marks.first()?;
    match kind {
        Kind::BlockShorter => {
            for mark in marks.iter_mut() {
                *mark = shorter(*mark, 100.0 * UM).unwrap_or(*mark);
            }
        }
        Kind::BlockRotated => {
            let centre = along(marks[marks.len() / 2], 0.5);
            let (sin, cos) = random.either_way(0.5, 30.0).to_radians().sin_cos();
            for p in marks.as_flattened_mut() {
                let (x, y) = (f64::from(p.x - centre.x), f64::from(p.y - centre.y));
                *p = moved(centre, cos * x - sin * y, sin * x + cos * y);
            }
        }
        Kind::BlockThinned => {
            let mut number = 0;
            marks.retain(|_| {
                number += 1;
                number % 2 == 1
            });
        }
        _ => {
            let more = random.between(0.02, 0.1);
            let length = first[0].distance(first[1]).max(1.0);
            for mark in marks.iter_mut() {
                let across = first[0].cross(first[1], mark[0]) as f64 / length;
                *mark = mark.map(|p| shifted(p, first, 0.0, across * more));
            }
        }
    }
    Some(())
}

fn twice(file: &mut Planted, at: At) {
    let block = file.block(at).clone();
    file.layers[at.0].blocks.insert(at.1, block);
}

fn other_exposure(file: &mut Planted, random: &mut Random, kind: ExposureKind) -> Option<()> {
    let at = file.any_of(random, kind)?;
    let count = u16::try_from(file.header.exposures.len()).ok()?;
    let now = file.block(at).exposure;
    let others: Vec<u16> = (0..count).filter(|other| *other != now).collect();
    file.block(at).exposure = random.pick(&others)?;
    Some(())
}

fn thin_hatch_dropped(file: &mut Planted, random: &mut Random) -> Option<()> {
    let at = file.any_of(random, ExposureKind::Hatch)?;
    let before = file.marks(at).len();
    file.marks(at).retain(|[a, b]| a.distance(*b) > 1000.0 * UM);
    let after = file.marks(at).len();
    if after == 0 {
        file.drop_block(at);
    }
    (after < before).then_some(())
}

fn one_path(file: &mut Planted, kind: Kind, of: ExposureKind, random: &mut Random) -> Option<()> {
    let at = file.any_of(random, of)?;
    let i = random.below(file.block(at).paths.len())?;
    let [dx, dy] = [0; 2].map(|_| random.either_way(15.0, 70.0) * UM);
    file.paths(at, |paths| match kind {
        Kind::ContourDropped | Kind::CentrelineDropped => drop(paths.remove(i)),
        Kind::ContourTwice | Kind::CentrelineTwice => paths.insert(i, paths[i].clone()),
        _ => paths[i].iter_mut().for_each(|p| *p = moved(*p, dx, dy)),
    });
    Some(())
}

fn contour(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let at = file.any_of(random, ExposureKind::Contour)?;
    let i = random.below(file.block(at).paths.len())?;
    let corners = file.block(at).paths.path(i).len();
    let is_worth_it = match kind {
        Kind::ContourOpened => corners > 2,
        Kind::ContourOrder => file.block(at).paths.len() > 1,
        _ => true,
    };
    let corner = random.below(corners)?;
    let [dx, dy] = [0; 2].map(|_| random.either_way(10.0, 140.0) * UM);
    file.paths(at, |paths| match kind {
        Kind::ContourOpened => drop(paths[i].pop()),
        Kind::ContourOrder => paths.reverse(),
        _ => paths[i][corner] = moved(paths[i][corner], dx, dy),
    });
    is_worth_it.then_some(())
}

fn relabelled(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let at = file.any(random, |_| true)?;
    let placements = u32::try_from(file.header.placements.len()).ok()?;
    let block = file.block(at);
    match kind {
        Kind::BlockRelabelled => {
            let mut others = ExposureKind::ALL.to_vec();
            others.retain(|kind| *kind != block.kind);
            block.kind = random.pick(&others)?;
        }
        Kind::BlockRegion => {
            let mut others = RegionKind::ALL.to_vec();
            others.retain(|region| *region != block.region);
            block.region = random.pick(&others)?;
        }
        _ => block.placement = (block.placement + 1) % placements,
    }
    Some(())
}

fn swapped(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let wanted = |a: &Block, b: &Block| {
        (a.placement == b.placement) == (kind != Kind::PartsSwapped)
            && match kind {
                Kind::PartsSwapped => true,
                Kind::BlocksSwapped => {
                    (a.kind, a.region, a.exposure) != (b.kind, b.region, b.exposure)
                }
                Kind::PassesSwapped => {
                    (a.kind, a.region) == (b.kind, b.region) && a.exposure != b.exposure
                }
                _ => a.region == b.region && a.kind != b.kind,
            }
    };
    let pairs = file.layers.iter().enumerate().flat_map(|(layer, l)| {
        let pairs = l.blocks.windows(2).enumerate();
        pairs.filter(|(_, pair)| wanted(&pair[0], &pair[1])).map(move |(i, _)| (layer, i))
    });
    let (layer, i) = random.pick(&pairs.collect::<Vec<At>>())?;
    file.layers[layer].blocks.swap(i, i + 1);
    Some(())
}

fn foreign_marks(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let at = file.any_of(random, ExposureKind::Hatch)?;
    let here = file.block(at).placement;
    let mark = if kind == Kind::OtherPlacement {
        let is_other = |b: &Block| b.kind == ExposureKind::Hatch && b.placement != here;
        let others: Vec<_> = file.layers[at.0].blocks.iter().filter(|b| is_other(b)).collect();
        let path = random.pick(&others)?.paths.path(0);
        [path[0], path[1]]
    } else {
        let mark = *file.marks(at).first()?;
        mark.map(|p| moved(p, 0.0, 12_000.0 * UM))
    };
    file.marks(at).push(mark);
    Some(())
}

fn layer(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let k = random.below(file.layers.len() - 1)?;
    let index = file.layers[k].index;
    match kind {
        Kind::LayersSwapped => {
            file.layers.swap(k, k + 1);
            file.layers[k].index = index;
            file.layers[k + 1].index = index + 1;
        }
        Kind::LayerRepeated => file.layers[k].blocks = file.layers[k + 1].blocks.clone(),
        Kind::LayerEmptied => file.layers[k].blocks.clear(),
        _ => {
            let ungrown = file.case.ungrown.as_ref()?;
            let differs = (0..file.layers.len()).filter(|k| file.layers[*k] != ungrown[*k]);
            let k = random.pick(&differs.collect::<Vec<_>>())?;
            file.layers[k] = ungrown[k].clone();
        }
    }
    (file.layers[k] != file.case.layers[k] || kind == Kind::GrowthLeftOut).then_some(())
}
