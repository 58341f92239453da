//! A box of voxels as bits: rows along X in 64-bit words.

use crate::orientation::Rotation;

/// A voxel, or the position of a mask, identified by its lowest voxel: steps of one voxel from the
/// corner of the room. Negative where something sticks out of the room.
pub(crate) type VoxelPos = [i32; 3];

/// A number of voxels as a difference of positions.
pub(crate) fn signed(n: usize) -> i32 {
    i32::try_from(n).unwrap_or(i32::MAX)
}

/// `dims` voxels, each set or not; row (y, z) starts at word `(z·dims[1] + y)·words`.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Mask {
    pub(crate) dims: [usize; 3],
    pub(crate) words: usize,
    pub(crate) bits: Vec<u64>,
}

impl Mask {
    pub(crate) fn new(dims: [usize; 3]) -> Self {
        let words = dims[0].div_ceil(64);
        Self { dims, words, bits: vec![0; words * dims[1] * dims[2]] }
    }

    fn at(&self, y: usize, z: usize) -> usize {
        (z * self.dims[1] + y) * self.words
    }

    pub(crate) fn row(&self, y: usize, z: usize) -> &[u64] {
        let at = self.at(y, z);
        &self.bits[at..at + self.words]
    }

    pub(crate) fn row_mut(&mut self, y: usize, z: usize) -> &mut [u64] {
        let at = self.at(y, z);
        &mut self.bits[at..at + self.words]
    }

    pub(crate) fn get(&self, [x, y, z]: [usize; 3]) -> bool {
        self.bits[self.at(y, z) + x / 64] >> (x % 64) & 1 == 1
    }

    pub(crate) fn set(&mut self, [x, y, z]: [usize; 3]) {
        let at = self.at(y, z) + x / 64;
        self.bits[at] |= 1 << (x % 64);
    }

    /// Number of voxels set.
    pub(crate) fn count(&self) -> usize {
        self.bits.iter().map(|w| w.count_ones() as usize).sum()
    }

    /// Voxels set in each layer.
    pub(crate) fn layer_counts(&self) -> Vec<u32> {
        let layer = self.words * self.dims[1];
        self.bits.chunks(layer).map(|l| l.iter().map(|w| w.count_ones()).sum()).collect()
    }

    /// Visits every voxel that is set.
    pub(crate) fn for_each(&self, mut visit: impl FnMut([usize; 3])) {
        for z in 0..self.dims[2] {
            for y in 0..self.dims[1] {
                for (i, &word) in self.row(y, z).iter().enumerate() {
                    let mut unvisited = word;
                    while unvisited != 0 {
                        visit([i * 64 + unvisited.trailing_zeros() as usize, y, z]);
                        unvisited &= unvisited - 1;
                    }
                }
            }
        }
    }

    /// Visits the runs of set voxels of a row, as (first, length).
    pub(crate) fn runs(row: &[u64], mut visit: impl FnMut(usize, usize)) {
        let mut start = None;
        for x in 0..row.len() * 64 {
            let set = row[x / 64] >> (x % 64) & 1 == 1;
            match (set, start) {
                (true, None) => start = Some(x),
                (false, Some(s)) => {
                    visit(s, x - s);
                    start = None;
                }
                _ => {}
            }
        }
        if let Some(s) = start {
            visit(s, row.len() * 64 - s);
        }
    }

    /// The same voxels after a rotation that takes axes to axes.
    pub(crate) fn rotated(&self, rotation: &Rotation) -> Self {
        // For each new axis the old one that it comes from, and whether it runs backwards.
        let source = rotation.map(|row| {
            let column = row.iter().position(|c| *c != 0.0).unwrap_or(0);
            (column, row[column] < 0.0)
        });
        let mut out = Self::new(source.map(|(axis, _)| self.dims[axis]));
        self.for_each(|p| {
            out.set(source.map(
                |(axis, back)| {
                    if back { self.dims[axis] - 1 - p[axis] } else { p[axis] }
                },
            ));
        });
        out
    }

    /// The voxels nearer than `reach` to a set one, where the distance of two voxels is that of the
    /// nearest points of their boxes, all in voxel edges. The result has [`padding`]`(reach)`
    /// voxels more on every side. With a reach of 0 it is the mask itself.
    pub(crate) fn dilated(&self, reach: f64) -> Self {
        let pad = padding(reach);
        let mut out = Self::new(self.dims.map(|d| d + 2 * pad));
        let half_lengths = ball(reach);
        // The row, widened by every half length that a row of the ball may have.
        let mut widened = vec![vec![0u64; out.words]; pad + 1];
        for z in 0..self.dims[2] {
            for y in 0..self.dims[1] {
                let row = self.row(y, z);
                if row.iter().all(|w| *w == 0) {
                    continue;
                }
                for (half, wide) in widened.iter_mut().enumerate() {
                    wide.fill(0);
                    for shift in pad - half..=pad + half {
                        or_shifted(wide, row, shift.cast_signed());
                    }
                }
                for dz in 0..=2 * pad {
                    for dy in 0..=2 * pad {
                        let at = dy.abs_diff(pad) * (pad + 1) + dz.abs_diff(pad);
                        if let Some(half) = half_lengths[at] {
                            let target = out.row_mut(y + dy, z + dz);
                            target.iter_mut().zip(&widened[half]).for_each(|(o, w)| *o |= w);
                        }
                    }
                }
            }
        }
        out
    }
}

/// The ball of voxels nearer than `reach` to one voxel, by its rows along X: the steps that a row
/// reaches from its middle, `dy` and `dz` steps away from the centre, at `dy · (padding + 1) + dz`;
/// `None` for rows without a voxel of the ball.
fn ball(reach: f64) -> Vec<Option<usize>> {
    let pad = padding(reach);
    let gap = |steps: usize| steps.saturating_sub(1) as f64;
    let half = |dy: usize, dz: usize| -> Option<usize> {
        let across = gap(dy) * gap(dy) + gap(dz) * gap(dz);
        (0..=pad).rev().find(|&dx| across + gap(dx) * gap(dx) < reach * reach || dx + dy + dz == 0)
    };
    (0..=pad)
        .flat_map(|dy| (0..=pad).map(move |dz| (dy, dz)))
        .map(|(dy, dz)| half(dy, dz))
        .collect()
}

/// Voxels that a dilation by `reach` voxel edges adds on every side.
pub(crate) fn padding(reach: f64) -> usize {
    if reach <= 0.0 {
        return 0;
    }
    // `d` steps away the gap is `d − 1`, so this is the last step with a gap below `reach`.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small, positive")]
    let whole = reach.ceil() as usize;
    whole
}

/// `dst |= src` moved up by `shift` bits, or down if negative; bits moved out of `dst` are dropped.
pub(crate) fn or_shifted(dst: &mut [u64], src: &[u64], shift: isize) {
    let words = shift.div_euclid(64);
    let bits = shift.rem_euclid(64).unsigned_abs();
    for (i, &word) in src.iter().enumerate() {
        if word == 0 {
            continue;
        }
        let at = i.cast_signed() + words;
        if let Some(d) = usize::try_from(at).ok().and_then(|at| dst.get_mut(at)) {
            *d |= word << bits;
        }
        if bits > 0
            && let Some(d) = usize::try_from(at + 1).ok().and_then(|at| dst.get_mut(at))
        {
            *d |= word >> (64 - bits);
        }
    }
}

/// Whether `a`, moved up by `shift` bits, and `b` have a bit in common.
pub(crate) fn meets_shifted(a: &[u64], b: &[u64], shift: isize) -> bool {
    let words = shift.div_euclid(64);
    let bits = shift.rem_euclid(64).unsigned_abs();
    let at = |i: isize| usize::try_from(i).ok().and_then(|i| b.get(i)).copied().unwrap_or(0);
    a.iter().enumerate().any(|(i, &word)| {
        let i = i.cast_signed() + words;
        word != 0
            && ((word << bits) & at(i) != 0 || (bits > 0 && (word >> (64 - bits)) & at(i + 1) != 0))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shifts_carry_across_words_and_drop_what_is_moved_out() {
        let mut dst = [0u64; 2];
        or_shifted(&mut dst, &[1 << 63 | 1], 1);
        assert_eq!(dst, [2, 1]);
        let mut dst = [0u64; 1];
        or_shifted(&mut dst, &[0b1010, 0b1], -3);
        assert_eq!(dst, [1 | 1 << 61]);
        assert!(meets_shifted(&[1 << 63], &[0, 1], 1) && !meets_shifted(&[1 << 63], &[0, 1], 2));
        assert!(meets_shifted(&[0b1000], &[1], -3));
    }

    /// The ball is counted by hand from the definition: gap = steps - 1 per axis, below the reach.
    #[test]
    fn a_dilated_voxel_is_the_ball_of_voxels_nearer_than_the_reach() {
        for reach in [0.0, 0.5, 1.0, 2.0, 2.5, 3.0] {
            let mut one = Mask::new([1, 1, 1]);
            one.set([0, 0, 0]);
            let ball = one.dilated(reach);
            let pad = padding(reach);
            assert_eq!(ball.dims, [2 * pad + 1; 3]);
            for x in 0..=2 * pad {
                for y in 0..=2 * pad {
                    for z in 0..=2 * pad {
                        let gap2: f64 = [x, y, z]
                            .map(|c| (c.abs_diff(pad) as f64 - 1.0).max(0.0).powi(2))
                            .iter()
                            .sum();
                        let near = gap2.sqrt() < reach || [x, y, z] == [pad; 3];
                        assert_eq!(ball.get([x, y, z]), near, "{reach} {x} {y} {z}");
                    }
                }
            }
        }
    }
}
