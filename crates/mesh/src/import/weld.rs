//! Joining corners at the same position into shared vertices, exactly and in one pass.
//!
//! Two corners are one vertex if their coordinates are the same numbers, bit for bit, except that
//! −0 equals +0. No distance tolerance: what nearly touches stays apart and is for the health
//! report to see. Vertices are numbered in the order of their first use, so the result depends on
//! nothing but the order of the corners.
//!
//! The table is open addressing with linear probing. A slot is four bytes: the number of a vertex,
//! and in the bits that such a number leaves free a tag from the hash, so that nearly every
//! comparison of positions is one that succeeds. Small slots matter more than anything else here:
//! time goes into cache misses and first touches of memory pages. Corners go in by batches, in
//! passes that first read all slots, then all candidate vertices of the batch, so that the misses
//! overlap instead of queueing. Before that, a small table of vertices used lately is asked: files
//! list neighbouring triangles near each other, so most corners are found there, in the cache.

use super::error::ImportError;
use std::marker::PhantomData;

/// Corners per batch. Enough for the misses to overlap, small enough to stay in the first cache.
pub(super) const BATCH: usize = 192;

/// Vertices used lately: 2 to this many, 128 kB, which stay in the second cache.
const RECENT_BITS: u32 = 15;

/// Smallest and largest table: 2 to this many slots. The largest, three quarters full, holds
/// 1.6 · 10⁹ vertices.
const MIN_BITS: u32 = 9;
const MAX_BITS: u32 = 31;

/// A position as a file holds it: three numbers of one width.
pub(super) trait Position: Copy {
    /// The bits that decide equality.
    type Key: Copy + Eq + Default;

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

/// Marks a number that stands for a corner waiting in the batch; no vertex has this bit.
const PENDING: u32 = 1 << 31;

/// Where a vertex used lately stands: bits of the hash between those of home and tag.
fn recent_place(hash: u64) -> usize {
    (hash >> 24) as usize & ((1 << RECENT_BITS) - 1)
}

/// A slot: [`FREE`], or a tag above the number of a vertex. No table is full enough for a number
/// to be all ones, so that no slot in use looks free.
type Slot = u32;
const FREE: Slot = u32::MAX;

/// Collects vertices; every distinct position gets the next number.
pub(super) struct Welder<P: Position> {
    slots: Vec<Slot>,
    /// The table has 2 to this many slots; as many bits of a slot hold the vertex.
    bits: u32,
    /// Numbers of vertices used lately, by hash; a stale or unset one is found out by its position.
    recent: Vec<u32>,
    /// In the unit of the file until the end.
    vertices: Vec<[f64; 3]>,
    _position: PhantomData<P>,
}

impl<P: Position> Welder<P> {
    /// An empty welder. `expected` is the likely number of vertices, a hint for the size of tables
    /// that must come from the length of the data, not from what a header says.
    pub(super) fn new(expected: usize) -> Self {
        let slots = (expected + expected / 2).next_power_of_two();
        let bits = slots.trailing_zeros().clamp(MIN_BITS, MAX_BITS);
        Self {
            slots: vec![FREE; 1 << bits],
            bits,
            recent: vec![u32::MAX; 1 << RECENT_BITS],
            vertices: Vec::with_capacity(expected),
            _position: PhantomData,
        }
    }

    /// The vertex numbers of up to [`BATCH`] corners, in order; `out` has the length of `corners`.
    ///
    /// # Errors
    /// [`ImportError::TooLarge`] once there are more vertices than the table can hold.
    #[expect(clippy::float_cmp, reason = "equal bits are what is asked for")]
    pub(super) fn weld(&mut self, corners: &[P], out: &mut [u32]) -> Result<(), ImportError> {
        debug_assert!(corners.len() <= BATCH && corners.len() == out.len());
        if (self.vertices.len() + BATCH) * 4 > self.slots.len() * 3 {
            self.grow()?;
        }
        let mut hashes = [0; BATCH];
        for (hash, corner) in hashes.iter_mut().zip(corners) {
            *hash = P::hash(corner.key());
        }
        // Corners not used lately wait in `missed`; others of the batch may share them already.
        let mut missed = [0; BATCH];
        let mut missed_count = 0;
        for (k, corner) in corners.iter().enumerate() {
            let position = P::position(corner.key());
            let lately = &mut self.recent[recent_place(hashes[k])];
            let known = if *lately & PENDING == 0 {
                self.vertices.get(*lately as usize) == Some(&position)
            } else {
                let waiting = missed[..missed_count].get((*lately ^ PENDING) as usize);
                waiting.is_some_and(|&m: &usize| P::position(corners[m].key()) == position)
            };
            if !known {
                #[expect(clippy::cast_possible_truncation, reason = "below BATCH")]
                let pending = PENDING | missed_count as u32;
                *lately = pending;
                missed[missed_count] = k;
                missed_count += 1;
            }
            out[k] = *lately;
        }
        let missed = &missed[..missed_count];
        let mut slots = [FREE; BATCH];
        for (slot, &k) in slots.iter_mut().zip(missed) {
            *slot = self.slots[self.home(hashes[k])];
        }
        let mut ahead = [[f64::NAN; 3]; BATCH];
        for ((ahead, &slot), &k) in ahead.iter_mut().zip(&slots).zip(missed) {
            if let Some(vertex) = self.vertices.get(self.candidate(slot, hashes[k])) {
                *ahead = *vertex;
            }
        }
        let mut found = [0; BATCH];
        for ((j, found), &k) in (0_u32..).zip(&mut found).zip(missed) {
            let position = P::position(corners[k].key());
            *found = if ahead[j as usize] == position {
                slots[j as usize] ^ self.tag(hashes[k])
            } else {
                self.find_or_insert(position, hashes[k])
            };
            let lately = &mut self.recent[recent_place(hashes[k])];
            if *lately == PENDING | j {
                *lately = *found;
            }
        }
        for vertex in out.iter_mut().filter(|vertex| **vertex & PENDING != 0) {
            *vertex = found[(*vertex ^ PENDING) as usize];
        }
        Ok(())
    }

    /// The vertex in a slot if its tag is that of the hash; else a number that no vertex has.
    fn candidate(&self, slot: Slot, hash: u64) -> usize {
        (slot ^ self.tag(hash)) as usize
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
