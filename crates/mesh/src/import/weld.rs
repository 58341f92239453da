//! Joining corners at the same position into shared vertices, exactly and in one pass.
//!
//! Two corners are one vertex if their coordinates are the same numbers, bit for bit, except that
//! −0 equals +0. No distance tolerance: what nearly touches stays apart and is for the health
//! report to see. Vertices are numbered in the order of their first use, so the result depends on
//! nothing but the order of the corners.
//!
//! Two tables. The small one remembers lately used positions, keys and numbers side by side, and
//! stays in the second cache: files list neighbouring triangles near each other, so it knows most
//! corners. What it does not know gets the next number at once, as if it were new. Nothing there
//! depends on what is found, so that no branch can be guessed wrong.
//!
//! After every batch the large table is asked whether the presumed new ones are new. Where one is
//! not, the numbers of the batch are put right. That table is open addressing with linear probing.
//! A slot is four bytes: the number of a vertex, and in the bits that such a number leaves free a
//! tag from the hash, so that nearly every comparison of positions is one that succeeds. Small
//! slots matter: time goes into cache misses and first touches of memory pages.

use super::error::ImportError;
use std::hint::select_unpredictable;

/// Most corners per batch: enough for the misses of the large table to overlap, few enough for
/// what belongs to a batch to stay in the first cache beside its part of the small table.
pub(super) const BATCH: usize = 384;

/// Positions used lately: at most 2 to this many; for `f32` 256 kB, half of a second cache.
const RECENT_BITS: u32 = 14;

/// Smallest and largest table: 2 to this many slots. The largest, three quarters full, holds
/// 1.6 · 10⁹ vertices.
const MIN_BITS: u32 = 9;
const MAX_BITS: u32 = 31;

/// A position as a file holds it: three numbers of one width.
pub(super) trait Position: Copy {
    /// The bits that decide equality.
    type Key: Copy + Eq;

    /// A key that no finite position has.
    const NOWHERE: Self::Key;

    /// The bits of the position, −0 turned into +0.
    fn key(self) -> Self::Key;

    /// Well-mixed bits of a key; the high ones are used.
    fn hash(key: Self::Key) -> u64;

    /// The position of a key, in the unit of the file.
    fn position(key: Self::Key) -> [f64; 3];

    /// The key of a position; undoes [`Self::position`].
    fn key_of(position: [f64; 3]) -> Self::Key;
}

/// Multiplies and folds: every bit of the product's halves depends on every bit of both factors.
fn mix(a: u64, b: u64) -> u64 {
    let product = u128::from(a) * u128::from(b);
    #[expect(clippy::cast_possible_truncation, reason = "the two halves are wanted")]
    let folded = (product >> 64) as u64 ^ product as u64;
    folded
}

// Odd, irregular constants (the fractional parts of √2, √3 and √5), so that zeros mix too.
const SALT: [u64; 3] = [0x6a09_e667_f3bc_c909, 0xbb67_ae85_84ca_a73b, 0x3c6e_f372_fe94_f82b];

impl Position for [f32; 3] {
    type Key = [u32; 3];
    const NOWHERE: [u32; 3] = [u32::MAX; 3];

    fn key(self) -> [u32; 3] {
        self.map(|c| (c + 0.0).to_bits())
    }

    fn hash([x, y, z]: [u32; 3]) -> u64 {
        let xy = u64::from(x) | u64::from(y) << 32;
        mix(xy ^ SALT[0], (u64::from(z) | u64::from(z) << 32) ^ SALT[1])
    }

    fn position(key: [u32; 3]) -> [f64; 3] {
        key.map(|bits| f64::from(f32::from_bits(bits)))
    }

    fn key_of(position: [f64; 3]) -> [u32; 3] {
        #[expect(clippy::cast_possible_truncation, reason = "came from f32, hence exact")]
        position.map(|c| (c as f32).to_bits())
    }
}

impl Position for [f64; 3] {
    type Key = [u64; 3];
    const NOWHERE: [u64; 3] = [u64::MAX; 3];

    fn key(self) -> [u64; 3] {
        self.map(|c| (c + 0.0).to_bits())
    }

    fn hash([x, y, z]: [u64; 3]) -> u64 {
        mix(mix(x ^ SALT[0], y ^ SALT[1]) ^ z, SALT[2])
    }

    fn position(key: [u64; 3]) -> [f64; 3] {
        key.map(f64::from_bits)
    }

    fn key_of(position: [f64; 3]) -> [u64; 3] {
        position.map(f64::to_bits)
    }
}

/// Where a position stands among `len` (a power of two) used lately: bits of the hash between
/// those of home and tag.
fn recent_place(hash: u64, len: usize) -> usize {
    (hash >> 24) as usize & (len - 1)
}

/// A slot: [`FREE`], or a tag above the number of a vertex. No table is full enough for a number
/// to be all ones, so that no slot in use looks free.
type Slot = u32;
const FREE: Slot = u32::MAX;

/// A position used lately and its vertex.
#[derive(Clone, Copy)]
struct Recent<K> {
    key: K,
    vertex: u32,
}

/// Collects vertices; every distinct position gets the next number.
pub(super) struct Welder<P: Position> {
    recent: Vec<Recent<P::Key>>,
    /// Hashes and keys of the batch that `recent` does not know; as long as a batch.
    fresh: Vec<(u64, P::Key)>,
    slots: Vec<Slot>,
    /// The table has 2 to this many slots; as many bits of a slot hold the vertex.
    bits: u32,
    /// In the unit of the file until the end.
    vertices: Vec<[f64; 3]>,
}

impl<P: Position> Welder<P> {
    /// An empty welder. `expected` is the likely number of vertices, a hint for the size of tables
    /// that must come from the length of the data, not from what a header says.
    pub(super) fn new(expected: usize) -> Self {
        let slots = (expected + expected / 2).next_power_of_two();
        let bits = slots.trailing_zeros().clamp(MIN_BITS, MAX_BITS);
        let nowhere = Recent { key: P::NOWHERE, vertex: 0 };
        Self {
            recent: vec![nowhere; 1 << bits.min(RECENT_BITS)],
            fresh: vec![(0, P::NOWHERE); BATCH],
            slots: vec![FREE; 1 << bits],
            bits,
            vertices: Vec::with_capacity(expected),
        }
    }

    /// The vertex numbers of up to [`BATCH`] finite corners, in order; `out` has the length of
    /// `corners`.
    ///
    /// # Errors
    /// [`ImportError::TooLarge`] once there are more vertices than the table can hold.
    pub(super) fn weld(&mut self, corners: &[P], out: &mut [u32]) -> Result<(), ImportError> {
        debug_assert!(corners.len() <= BATCH && corners.len() == out.len());
        if (self.vertices.len() + BATCH) * 4 > self.slots.len() * 3 {
            self.grow()?;
        }
        #[expect(clippy::cast_possible_truncation, reason = "below 2^MAX_BITS")]
        let first = self.vertices.len() as u32;
        let mut next = first;
        let (recent, fresh) = (&mut self.recent[..], &mut self.fresh[..corners.len()]);
        for (corner, out) in corners.iter().zip(out.iter_mut()) {
            let key = corner.key();
            let hash = P::hash(key);
            let recent = &mut recent[recent_place(hash, recent.len())];
            let known = recent.key == key;
            let vertex = select_unpredictable(known, recent.vertex, next);
            *recent = Recent { key, vertex };
            fresh[(next - first) as usize] = (hash, key); // stays if it is not known
            next += u32::from(!known);
            *out = vertex;
        }
        self.settle(first, (next - first) as usize, out);
        Ok(())
    }

    /// Looks up the first `count` of `fresh`, which were given the numbers from `first` on, and
    /// puts right the numbers of those that are not new.
    fn settle(&mut self, first: u32, count: usize, out: &mut [u32]) {
        let fresh = &self.fresh[..count];
        // Passes of their own, so that misses overlap: what stands at home, and which vertex is it?
        let mut found = [FREE; BATCH];
        for (found, &(hash, _)) in found.iter_mut().zip(fresh) {
            *found = self.slots[self.home(hash)] ^ self.tag(hash);
        }
        for (found, &(_, key)) in found.iter_mut().zip(fresh) {
            if self.vertices.get(*found as usize) != Some(&P::position(key)) {
                *found = FREE;
            }
        }
        let mut all_new = true;
        for (k, found) in (0..count).zip(&mut found) {
            if *found == FREE {
                let (hash, key) = self.fresh[k];
                *found = self.find_or_insert(P::position(key), hash);
            }
            all_new &= *found as usize == first as usize + k;
        }
        if all_new {
            return;
        }
        let fresh = &self.fresh[..count];
        for ((&(hash, _), &vertex), presumed) in fresh.iter().zip(&found).zip(first..) {
            let place = recent_place(hash, self.recent.len());
            let recent = &mut self.recent[place];
            if recent.vertex == presumed {
                recent.vertex = vertex;
            }
        }
        for vertex in out {
            let at = vertex.wrapping_sub(first) as usize; // beyond the batch for those known before
            *vertex = select_unpredictable(at < count, found[at.min(BATCH - 1)], *vertex);
        }
    }

    /// As many low bits of a hash as a slot has room for, above where the vertex goes.
    fn tag(&self, hash: u64) -> u32 {
        #[expect(clippy::cast_possible_truncation, reason = "any bits will do")]
        let low = hash as u32;
        low << self.bits
    }

    fn home(&self, hash: u64) -> usize {
        #[expect(clippy::cast_possible_truncation, reason = "shifted below the number of slots")]
        let home = (hash >> (64 - self.bits)) as usize;
        home
    }

    fn find_or_insert(&mut self, position: [f64; 3], hash: u64) -> u32 {
        let mask = self.slots.len() - 1;
        let tag = self.tag(hash);
        let mut at = self.home(hash);
        loop {
            let slot = &mut self.slots[at & mask];
            if *slot == FREE {
                #[expect(clippy::cast_possible_truncation, reason = "below 2^MAX_BITS")]
                let vertex = self.vertices.len() as u32;
                *slot = tag | vertex;
                self.vertices.push(position);
                return vertex;
            }
            let vertex = *slot ^ tag;
            if self.vertices.get(vertex as usize) == Some(&position) {
                return vertex;
            }
            at += 1;
        }
    }

    /// Doubles the table.
    fn grow(&mut self) -> Result<(), ImportError> {
        if self.bits == MAX_BITS {
            let limit = (1 << MAX_BITS) / 4 * 3;
            return Err(ImportError::TooLarge { what: "vertices", limit });
        }
        self.bits += 1;
        self.slots = Vec::new(); // free the old table before the new one is made
        self.slots = vec![FREE; 1 << self.bits];
        let mask = self.slots.len() - 1;
        for (vertex, position) in (0_u32..).zip(&self.vertices) {
            let hash = P::hash(P::key_of(*position));
            let mut at = self.home(hash);
            while self.slots[at & mask] != FREE {
                at += 1;
            }
            self.slots[at & mask] = self.tag(hash) | vertex;
        }
        Ok(())
    }

    /// The vertices in the order of their first use, mm; `scale` is mm in the unit of the file.
    pub(super) fn finish(self, scale: f64) -> Vec<[f64; 3]> {
        let Self { slots, mut vertices, .. } = self;
        drop(slots);
        vertices.shrink_to_fit();
        if scale.to_bits() != 1.0_f64.to_bits() {
            vertices.as_flattened_mut().iter_mut().for_each(|c| *c *= scale);
        }
        vertices
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    /// Numbers by first use, the plain way; −0 is another number to `to_bits`, so none goes in.
    fn plain(corners: &[[f32; 3]]) -> (Vec<u32>, Vec<[f64; 3]>) {
        let (mut known, mut vertices) = (HashMap::new(), Vec::new());
        let number = |corner: &[f32; 3]| {
            *known.entry(corner.map(f32::to_bits)).or_insert_with(|| {
                vertices.push(corner.map(f64::from));
                u32::try_from(vertices.len() - 1).unwrap()
            })
        };
        (corners.iter().map(number).collect(), vertices)
    }

    fn welded<P: Position>(corners: &[P], batch: usize) -> (Vec<u32>, Vec<[f64; 3]>) {
        let mut welder = Welder::new(0); // so that the tables must grow
        let mut numbers = vec![0; corners.len()];
        for (corners, numbers) in corners.chunks(batch).zip(numbers.chunks_mut(batch)) {
            welder.weld(corners, numbers).unwrap();
        }
        (numbers, welder.finish(1.0))
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// Repeats from near (the small table), from far (the large one) and within one batch.
        #[test]
        fn numbers_are_those_of_a_plain_map(
            steps in prop::collection::vec((0_u16..4, 0_u16..30_000), 1..20_000),
            batch in 1..=BATCH,
        ) {
            let mut at = 0;
            let corners: Vec<[f32; 3]> = steps
                .iter()
                .map(|&(near, far)| {
                    at = if near == 0 { far } else { (at + near) % 30_000 };
                    [f32::from(at % 7), f32::from(at / 7) * 0.1, f32::from(at % 3)]
                })
                .collect();
            let expected = plain(&corners);
            prop_assert_eq!(&welded(&corners, batch), &expected);
            let wide: Vec<[f64; 3]> = corners.iter().map(|c| c.map(f64::from)).collect();
            prop_assert_eq!(&welded(&wide, batch), &expected);
        }
    }

    #[test]
    fn minus_zero_is_zero_and_the_origin_is_a_place_like_any_other() {
        let corners = [[0.0_f32, 0.0, 0.0], [-0.0, 0.0, -0.0], [0.0, 1.0, 0.0], [0.0; 3]];
        assert_eq!(welded(&corners, BATCH).0, [0, 0, 1, 0]);
    }
}
