//! Which copy of which part: the one identity of a placement.

use serde::Serialize;
use std::fmt;

/// One copy of a part of a job. Counted from 0 in code; said from 1, by [`PlacementName`].
///
/// True for one arrangement of one job: after parts or copies were taken out, the same numbers may
/// mean another placement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PlacementId {
    /// Index into the job's parts.
    pub part: usize,
    /// Index into the part's placements.
    pub copy: usize,
}

impl PlacementId {
    /// Copy `copy` of part `part`, both from 0.
    pub const fn new(part: usize, copy: usize) -> Self {
        Self { part, copy }
    }
}

/// What a placement is called, in every list, sentence and file for people: "bracket 2 of 4", or
/// "bracket" where there is but one copy.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct PlacementName {
    /// Name of the part.
    pub part: String,
    /// Which copy, from 1.
    pub copy: usize,
    /// How many copies the part has.
    pub copies: usize,
}

impl fmt::Display for PlacementName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.part)?;
        if self.copies > 1 { write!(f, " {} of {}", self.copy, self.copies) } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copies_are_counted_from_one_and_a_single_one_is_not_counted() {
        let name =
            |copy, copies| PlacementName { part: "bracket".into(), copy, copies }.to_string();
        assert_eq!(name(2, 4), "bracket 2 of 4");
        assert_eq!(name(1, 1), "bracket");
    }
}
