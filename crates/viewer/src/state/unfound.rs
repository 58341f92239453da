//! A job that cannot be opened yet, because a file that it names is not to be had.

use std::collections::BTreeMap;
use std::path::PathBuf;

/// Which file is missing, and which of that job were found elsewhere.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Unfound {
    /// The job.
    pub(crate) job: PathBuf,
    /// What the file holds: "machine" or "recipe".
    pub(crate) what: &'static str,
    /// What the job calls it.
    pub(crate) file: String,
    /// Why it cannot be used, in a sentence.
    pub(crate) why: String,
    /// Where files of the job were found instead, by what it calls them.
    pub(crate) found: BTreeMap<String, PathBuf>,
}
