//! The whole search: builds on coarse and fine voxels, exact distances whenever something is reported.

use super::incumbent::Incumbent;
use super::input::check;
use super::moves::LocalSearch;
use super::passes::passes;
use super::refine::Refiner;
use super::run::Run;
use crate::fill_order::CopyToPlace;
use crate::model::{Arrangement, Item, Locked, NestError, OnBetter, Options, Placed, Space};
use base::Progress;
use mesh::measures;

/// Arranges all copies of all items in as few and as low builds as it finds.
///
/// The first arrangement, of bounding boxes in rows and layers, comes at once, and every later one, handed to `on_better`, is better:
/// fewer parts unplaced, fewer builds, or less height. The search ends by itself once rounds of it
/// bring nothing (see [`Options::patience`]), or when `on_better` returns false or `progress` is
/// cancelled; then the best so far is returned. For equal arguments the sequence of arrangements is
/// the same, whatever the number of threads.
///
/// Every arrangement that is reported keeps all clearances by exact distances, and can be taken
/// apart part by part, each straight along an axis, so nothing gets hooked or enclosed.
///
/// # Errors
/// [`NestError`] for a space, part or locked placement that cannot be, or if cancelled before the
/// first arrangement.
pub fn nest(
    items: &[Item],
    locked: &[Locked],
    space: &Space,
    options: &Options,
    progress: &Progress,
    on_better: OnBetter,
) -> Result<Arrangement, NestError> {
    nest_and_close(items, locked, space, options, progress, &Progress::default(), on_better)
}

/// The same with an end to what comes after the search, too. However a search ends, what it has at that
/// time is then made as low as exact distances get it; when `closing` is cancelled that ends as well, and
/// the best arrangement that was reported is what there is. Both handles are asked so often that
/// a tenth of a second is long, but for meshes of millions of triangles.
///
/// # Errors
/// As [`nest`].
pub fn nest_and_close(
    items: &[Item],
    locked: &[Locked],
    space: &Space,
    options: &Options,
    progress: &Progress,
    closing: &Progress,
    on_better: OnBetter,
) -> Result<Arrangement, NestError> {
    check(items, locked, space, options)?;
    let locked_placements = locked_placements(items.len(), locked);
    let copies = copies_to_place(items, &locked_placements);
    let passes = passes(items, space, options);
    progress.add_total(passes.len() as u64 * items.len() as u64);
    let search = LocalSearch::new(copies.clone(), options.seed, options.patience, progress);
    let refiner = Refiner::new(items, space, locked_placements, copies, passes[0].voxel_mm);
    let incumbent = Incumbent::new(refiner, options.even_area, progress, closing, on_better);
    let mut run = Run { items, space, options, search, incumbent };
    match run.search(locked, &passes) {
        Ok(()) => Ok(run.incumbent.finish(true)),
        Err(NestError::Cancelled(_)) if run.incumbent.has_result() => {
            Ok(run.incumbent.finish(false))
        }
        Err(error) => Err(error),
    }
}

/// The locked placements as the first copies of their items.
fn locked_placements(items: usize, locked: &[Locked]) -> Vec<Placed> {
    let mut counts = vec![0; items];
    let placed = |l: &Locked| {
        let copy = counts[l.item];
        counts[l.item] += 1;
        Placed { item: l.item, copy, pose: l.pose, locked: true }
    };
    locked.iter().map(placed).collect()
}

/// All other copies.
fn copies_to_place(items: &[Item], locked: &[Placed]) -> Vec<CopyToPlace> {
    let mut copies = Vec::new();
    for (i, item) in items.iter().enumerate() {
        // How bulky it is: between the volume of the part and that of its box.
        let size_mm3 = item.mesh().bounds().map_or(0.0, |(lo, hi)| {
            let box_mm3: f64 = (0..3).map(|k| hi[k] - lo[k]).product();
            (measures(item.mesh()).volume_mm3.abs() * box_mm3).sqrt()
        });
        let due = item.due.unwrap_or(u32::MAX); // a lower rank is due earlier, none is due last
        let locked = locked.iter().filter(|p| p.item == i).count();
        let all = (0..item.quantity).skip(locked);
        copies.extend(all.map(|copy| CopyToPlace { item: i, copy, due, size_mm3 }));
    }
    copies
}
