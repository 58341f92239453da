//! The numbers of the local search.
//!
//! They were found by trial on the chambers and packing instances that DEVELOPERS.md names. "Measured"
//! is said only where an alternative was tried and its result noted there; all else is by taste: nearby
//! values were not seen to be better.

/// Patience is multiplied by this number divided by the number of parts, at most by [`MAX_PATIENCE`]:
/// with few parts a round is quick, and more of them cost nothing.
pub(super) const PATIENT_PARTS: u32 = 60;
pub(super) const MAX_PATIENCE: u32 = 4;

/// Power of a part's top in the cost of a build. Larger, only the highest parts count and all else is
/// left to chance; smaller, the top hardly counts. Measured: other powers gained nothing.
pub(super) const HEIGHT_POWER: i32 = 3;

/// Fraction of the cost by which a build may get worse in one round when threshold accepting begins.
/// Larger, the search wanders; 0, it stays in the first local minimum that it finds.
pub(super) const FIRST_THRESHOLD: f64 = 0.004;

/// Factor on the cost, below the cost at the last such gain, that counts as a gain and renews the
/// patience. Nearer to 1, a search crawls on for ever by tiny gains.
pub(super) const GAIN_FACTOR: f64 = 0.999;

/// A build counts as almost the best if it is higher by no more than its height divided by this number.
/// Exact distances may make it the best one.
pub(super) const ALMOST_BEST: i32 = 200;

/// One of so many builds that are almost the best is reported, too. More often, making them exact takes
/// more time than the search; more rarely, chances are missed.
pub(super) const REPORT_ONE_OF: u32 = 20;

/// The ceiling first comes down by the height divided by this number. Longer first steps cost patience
/// and mostly fail.
pub(super) const FIRST_STEP: i32 = 60;

/// It comes down by no more than the height divided by this number at once.
pub(super) const LONGEST_STEP: i32 = 20;

/// The longest step on voxels rounded to nearest, voxels: these hold more than voxels rounded up, and a
/// step too long costs all patience.
pub(super) const LONGEST_STEP_NEAREST: i32 = 1;

/// Parts smaller than this fraction of the largest one are put in last: they find room between the large
/// ones anyway, and would make arranging these slow.
pub(super) const SMALL: f64 = 0.03;

/// What a copy that found no place gains in weight, in units of its first weight. Larger, the order of
/// insertion soon depends on failures only; smaller, it takes many rounds until a part that hardly
/// fits is put in early.
pub(super) const WEIGHT_GAIN: f64 = 0.05;

/// Worsening of the weighted cost that is accepted on average when a pool is fitted in, as a fraction
/// of the cost. The accepted fraction is drawn from an exponential distribution, so that now and then a
/// larger one gets through and no local minimum is final.
pub(super) const MEAN_WORSENING: f64 = 0.05;

/// The least random number from which that is drawn, so that its logarithm is finite.
pub(super) const MIN_CHANCE: f64 = 1e-9;

/// Most of the highest parts that are taken out in a round, plus one: 0 to 3.
pub(super) const HIGHEST_TAKEN: usize = 4;

/// Most parts around a place that are taken out in a round: 1 to 7. Measured: smaller ruins lost.
pub(super) const MAX_RUINED: usize = 7;

/// One of so many ruins is flat: it reaches farther to the sides than up and down.
pub(super) const FLAT_ONE_OF: usize = 3;

/// Factor on the squares of distances to the sides in a flat ruin: it is √5 times as wide as high.
pub(super) const FLAT_FACTOR: f64 = 0.2;

/// One of so many ruins takes small parts, too. Small parts are many and near everything; a ruin of them
/// only changes little.
pub(super) const SMALL_TOO_ONE_OF: usize = 2;

/// The order of insertion is by size × weight × a random factor from the first number to the sum of the
/// two. A narrower range tries the same orders again and again, a wider one forgets the sizes.
pub(super) const MIN_ORDER_FACTOR: f64 = 0.4;
pub(super) const ORDER_FACTOR_RANGE: f64 = 1.2;

/// Height weights of the placement rule, one of which is drawn for each insertion: mostly the lowest top,
/// sometimes a low bottom, so that tall parts get to stand.
pub(super) const HEIGHT_WEIGHTS: [i64; 4] = [16, 16, 12, 8];

/// Parts moved at once to even out the area: 1 to this number.
pub(super) const MAX_EVENED: usize = 2;
