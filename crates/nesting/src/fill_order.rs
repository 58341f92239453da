//! The copies that are to be placed, and the order in which a build is filled with them.

use base::{Cancelled, Progress};
use std::collections::BTreeSet;

/// One copy of an item that is to be placed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CopyToPlace {
    /// Index of the item.
    pub(crate) item: usize,
    /// Copy of the item, from 0.
    pub(crate) copy: u32,
    /// Rank of the due date; `u32::MAX` for none.
    pub(crate) due: u32,
    /// How much room it takes from the others, mm³: the geometric mean of its volume and that of
    /// its box.
    pub(crate) size_mm3: f64,
}

/// Puts in what `insert` (index of the copy, its item) takes, by due date and then the largest first.
/// Returns the rest; nothing is put in that is due after something in the rest.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn fill_in_order(
    copies: &[CopyToPlace],
    pool: &[usize],
    size: impl Fn(&CopyToPlace) -> f64,
    progress: &Progress,
    mut insert: impl FnMut(usize, usize) -> bool,
) -> Result<Vec<usize>, Cancelled> {
    let mut order = pool.to_vec();
    order.sort_by(|&a, &b| {
        let (p, q) = (&copies[a], &copies[b]);
        p.due.cmp(&q.due).then(size(q).total_cmp(&size(p))).then(a.cmp(&b))
    });
    let mut rest: Vec<usize> = Vec::new();
    // Where one copy does not fit, an equal one does not either: parts are only added meanwhile.
    let mut failed = BTreeSet::new();
    for index in order {
        progress.check()?;
        let CopyToPlace { item, due, .. } = copies[index];
        let late = rest.first().is_some_and(|&r| copies[r].due < due);
        if late || failed.contains(&item) || !insert(index, item) {
            failed.insert(item);
            rest.push(index);
        }
    }
    Ok(rest)
}
