//! A mask seen along each axis: how far it extends in every column.

use super::mask::Mask;

/// First and last voxel of a mask in every column along each axis.
#[derive(Clone, Debug)]
pub(crate) struct ColumnExtents {
    pub(crate) dims: [usize; 3],
    /// Per axis, over the two axes of [`ACROSS`], the first of which runs fastest; `(u16::MAX, 0)` where
    /// the column is empty.
    pub(crate) columns: [Vec<(u16, u16)>; 3],
}

/// The two axes across an axis.
pub(crate) const ACROSS: [[usize; 2]; 3] = [[1, 2], [0, 2], [0, 1]];

impl ColumnExtents {
    pub(crate) fn new(mask: &Mask) -> Self {
        let dims = mask.dims;
        let mut columns = ACROSS.map(|[i, j]| vec![(u16::MAX, 0); dims[i] * dims[j]]);
        mask.for_each(|p| {
            for k in 0..3 {
                let [i, j] = ACROSS[k];
                let (first, last) = &mut columns[k][p[j] * dims[i] + p[i]];
                let at = u16::try_from(p[k]).unwrap_or(u16::MAX - 1);
                *first = (*first).min(at);
                *last = (*last).max(at);
            }
        });
        Self { dims, columns }
    }
}
