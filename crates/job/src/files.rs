//! The three kinds of file: reading, writing, and telling one from another.

use crate::text::{self, Document, reads_as};
use crate::{Invalid, Job, JobError, Machine, Recipe};

/// What the three kinds of file have in common, for code that handles any of them.
pub trait TextFile: Clone + PartialEq {
    /// "job", "machine" or "recipe".
    const KIND: &'static str;

    /// Reads and validates it.
    ///
    /// # Errors
    /// [`JobError`] with the place in the text, or with every value that is not allowed.
    fn from_ron(text: &str) -> Result<Self, JobError>;

    /// Its text, made of an earlier one, whose comments stay; the whole text anew for an empty one.
    fn to_ron_over(&self, earlier: &str) -> String;

    /// Gives it the newest version, as writing it does.
    fn renew(&mut self);
}

/// Makes a value a kind of file: what it is called, and what of an earlier version must be put right
/// beside its names.
macro_rules! file {
    ($kind:ident, $name:literal, $upgrade:expr) => {
        impl $kind {
            #[doc = concat!("Reads a ", $name, " from RON text and validates it.")]
            ///
            /// # Errors
            /// [`JobError`] with the place in the text, or with every value that is not allowed.
            pub fn from_ron(text: &str) -> Result<Self, JobError> {
                text::read(text, kind_of)
            }

            #[doc = concat!("The ", $name, " as RON text of the newest version, without comments;")]
            /// [`Self::from_ron`] reads all but the version back to the last bit.
            pub fn to_ron(&self) -> String {
                text::write(self)
            }

            #[doc = concat!("The ", $name, " as RON text that is made of an earlier one: what is another")]
            /// value there is changed, and comments and layout of all else stay. It reads back as
            /// [`Self::to_ron`] does, and is the same as that where the earlier text cannot be followed.
            pub fn to_ron_over(&self, earlier: &str) -> String {
                text::write_over(self, earlier, kind_of)
            }
        }

        impl TextFile for $kind {
            const KIND: &'static str = $name;

            fn from_ron(text: &str) -> Result<Self, JobError> {
                Self::from_ron(text)
            }

            fn to_ron_over(&self, earlier: &str) -> String {
                self.to_ron_over(earlier)
            }

            fn renew(&mut self) {
                self.version = Self::VERSION;
            }
        }

        impl Document for $kind {
            const KIND: &'static str = $name;
            const NEWEST: u32 = Self::VERSION;

            fn set_version(&mut self, version: u32) {
                self.version = version;
            }

            fn problems(&self) -> Result<(), Vec<Invalid>> {
                self.validate()
            }

            fn upgrade(&mut self) {
                $upgrade(self);
            }
        }
    };
}

file!(Job, "job", upgrade_ranks);
file!(Machine, "machine", |_| ());
file!(Recipe, "recipe", |_| ());

/// Which kind of file a text is, if it reads as one.
fn kind_of(text: &str) -> Option<&'static str> {
    reads_as::<Job>(text).or_else(|| reads_as::<Machine>(text)).or_else(|| reads_as::<Recipe>(text))
}

/// In version 1 the earliest due date could be 0; since version 2 the ranks begin with 1, and the order
/// is all they say.
fn upgrade_ranks(job: &mut Job) {
    let rules = job.parts.iter_mut().filter_map(|part| part.nest.as_mut());
    let mut ranks: Vec<&mut u32> = rules.filter_map(|rules| rules.due.as_mut()).collect();
    if job.version == 1 && ranks.iter().any(|rank| **rank == 0) {
        for rank in &mut ranks {
            **rank = rank.saturating_add(1);
        }
    }
}
