//! Text of a job, machine or recipe rewritten in place: what changed is put in, and comments and layout of
//! all else stay as the person wrote them.
//!
//! Three texts are compared: the one that is there, what the program would write for it, and what it would
//! write for the new value. Where the latter two agree nothing is touched, so that `24` does not become
//! `24.0`, and a field that was left out stays out.

mod differ;
mod layout;
mod merge;
mod tree;

pub use differ::{Difference, differences};

use crate::tokens::comments;
use std::collections::BTreeMap;

/// The text that is there, with what differs between the other two put in; `None` if it has a shape that
/// cannot be followed. Whoever asks reads the answer, to see that it holds what it should.
pub(crate) fn rewritten(there: &str, written: &str, wanted: &str) -> Option<String> {
    let trees = (tree::parse(there)?, tree::parse(written)?, tree::parse(wanted)?);
    let mut merge = merge::Merge::new(there, written, wanted);
    merge.version(&trees.0, &trees.2);
    merge.value(&trees.0, &trees.1, &trees.2);
    layout::apply(there, merge.edits)
}

/// Whether some comment of a text is not in another one.
pub fn loses_comments(earlier: &str, later: &str) -> bool {
    let mut left: BTreeMap<&str, usize> = BTreeMap::new();
    for comment in comments(later) {
        *left.entry(comment).or_default() += 1;
    }
    comments(earlier).into_iter().any(|comment| match left.get_mut(comment) {
        Some(count) if *count > 0 => {
            *count -= 1;
            false
        }
        _ => true,
    })
}
