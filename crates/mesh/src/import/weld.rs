//! Joining corners at the same position into shared vertices, exactly and in one pass.
//!
//! Two corners are one vertex if their coordinates are the same numbers, bit for bit, except that
//! −0 equals +0. No distance tolerance: what nearly touches stays apart and is for the health
//! report to see. Vertices are numbered in the order of their first use, so the result depends on
//! nothing but the order of the corners.
//!
//! The table is open addressing with linear probing over the keys themselves (one cache line per
//! look-up). Corners go in by batches: all home slots of a batch are read before any of them is
//! needed, so that the cache misses of a large mesh overlap instead of queueing.

use super::error::ImportError;

/// Corners per batch. Enough for the misses to overlap, small enough to stay in the first cache.
pub(super) const BATCH: usize = 96;

/// Marks a free slot; also the reason why a mesh has at most `u32::MAX` vertices.
const FREE: u32 = u32::MAX;

/// Smallest table, slots.
const MIN_SLOTS: usize = 1 << 9;

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
}

#[derive(Clone, Copy)]
struct Slot<K> {
    key: K,
    vertex: u32,
}

/// Collects vertices; every distinct position gets the next number.
pub(super) struct Welder<P: Position> {
    slots: Vec<Slot<P::Key>>,
    /// A hash is shifted right by this to give its home slot.
    shift: u32,
    /// Millimetres in the unit of the file.
    scale: f64,
    vertices: Vec<[f64; 3]>,
}

impl<P: Position> Welder<P> {
    /// An empty welder. `expected` is the likely number of vertices, a hint for the table's size
    /// that must come from the length of the data, not from what a header says; `scale` is mm in
    /// the unit of the positions.
    pub(super) fn new(expected: usize, scale: f64) -> Self {
        let mut welder = Self { slots: Vec::new(), shift: 0, scale, vertices: Vec::new() };
        welder.set_slots((expected + expected / 2).next_power_of_two().max(MIN_SLOTS));
        welder.vertices.reserve(expected);
        welder
    }

    fn set_slots(&mut self, count: usize) {
        self.slots = vec![Slot { key: P::Key::default(), vertex: FREE }; count];
        self.shift = 64 - count.trailing_zeros();
    }

    /// The vertex numbers of up to [`BATCH`] corners, in order; `out` has the length of `corners`.
    ///
    /// # Errors
    /// [`ImportError::TooLarge`] once there are more vertices than `u32` can number.
    pub(super) fn weld(&mut self, corners: &[P], out: &mut [u32]) -> Result<(), ImportError> {
        debug_assert!(corners.len() <= BATCH && corners.len() == out.len());
        if (self.vertices.len() + BATCH) * 4 > self.slots.len() * 3 {
            self.grow()?;
        }
        let mut ahead =
            [(P::Key::default(), 0_u32, Slot { key: P::Key::default(), vertex: FREE }); BATCH];
        for (ahead, corner) in ahead.iter_mut().zip(corners) {
            let key = corner.key();
            let home = self.home(key);
            #[expect(clippy::cast_possible_truncation, reason = "at most 2³² slots, see `grow`")]
            let home_32 = home as u32;
            *ahead = (key, home_32, self.slots[home]);
        }
        for (&(key, home, slot), out) in ahead.iter().zip(out) {
            *out = if slot.vertex != FREE && slot.key == key {
                slot.vertex
            } else {
                self.find_or_insert(key, home as usize)
            };
        }
        Ok(())
    }

    fn home(&self, key: P::Key) -> usize {
        #[expect(clippy::cast_possible_truncation, reason = "shifted below the number of slots")]
        let home = (P::hash(key) >> self.shift) as usize;
        home
    }

    fn find_or_insert(&mut self, key: P::Key, home: usize) -> u32 {
        let mask = self.slots.len() - 1;
        let mut at = home;
        loop {
            let slot = &mut self.slots[at & mask];
            if slot.vertex == FREE {
                #[expect(clippy::cast_possible_truncation, reason = "`grow` refuses more")]
                let vertex = self.vertices.len() as u32;
                *slot = Slot { key, vertex };
                self.vertices.push(P::position(key).map(|c| c * self.scale));
                return vertex;
            }
            if slot.key == key {
                return slot.vertex;
            }
            at += 1;
        }
    }

    /// Doubles the table.
    fn grow(&mut self) -> Result<(), ImportError> {
        const MAX_SLOTS: usize = 1 << 32; // ¾ full, this holds 3.2 · 10⁹ vertices, below `FREE`
        let count = self.slots.len() * 2;
        if count > MAX_SLOTS {
            return Err(ImportError::TooLarge {
                what: "vertices",
                limit: MAX_SLOTS as u64 / 4 * 3,
            });
        }
        let old = std::mem::take(&mut self.slots);
        self.set_slots(count);
        let mask = count - 1;
        for slot in old.into_iter().filter(|slot| slot.vertex != FREE) {
            let mut at = self.home(slot.key);
            while self.slots[at & mask].vertex != FREE {
                at += 1;
            }
            self.slots[at & mask] = slot;
        }
        Ok(())
    }

    /// The vertices in the order of their first use, mm. Frees the table.
    pub(super) fn finish(self) -> Vec<[f64; 3]> {
        let Self { slots, mut vertices, .. } = self;
        drop(slots);
        vertices.shrink_to_fit();
        vertices
    }
}
