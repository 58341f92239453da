//! The three kinds of file: reading, writing, and telling one from another.

use crate::text::{self, Document, reads_as};
use crate::{Invalid, Job, JobError, Machine, Recipe};

impl Job {
    /// Reads a job from RON text and validates it.
    ///
    /// # Errors
    /// [`JobError`] with the place in the text, or with every value that is not allowed.
    pub fn from_ron(text: &str) -> Result<Self, JobError> {
        text::read(text, kind_of)
    }

    /// The job as RON text, without comments; [`Self::from_ron`] reads it back to the last bit.
    pub fn to_ron(&self) -> String {
        text::write(self)
    }
}

impl Machine {
    /// Reads a machine from RON text and validates it.
    ///
    /// # Errors
    /// [`JobError`] with the place in the text, or with every value that is not allowed.
    pub fn from_ron(text: &str) -> Result<Self, JobError> {
        text::read(text, kind_of)
    }

    /// The machine as RON text, without comments; [`Self::from_ron`] reads it back to the last bit.
    pub fn to_ron(&self) -> String {
        text::write(self)
    }
}

impl Recipe {
    /// Reads a recipe from RON text and validates it.
    ///
    /// # Errors
    /// [`JobError`] with the place in the text, or with every value that is not allowed.
    pub fn from_ron(text: &str) -> Result<Self, JobError> {
        text::read(text, kind_of)
    }

    /// The recipe as RON text, without comments; [`Self::from_ron`] reads it back to the last bit.
    pub fn to_ron(&self) -> String {
        text::write(self)
    }
}

/// Which kind of file a text is, if it reads as one.
fn kind_of(text: &str) -> Option<&'static str> {
    reads_as::<Job>(text).or_else(|| reads_as::<Machine>(text)).or_else(|| reads_as::<Recipe>(text))
}

impl Document for Job {
    const KIND: &'static str = "job";
    const NEWEST: u32 = Self::VERSION;

    fn version(&mut self) -> &mut u32 {
        &mut self.version
    }

    fn problems(&self) -> Result<(), Vec<Invalid>> {
        self.validate()
    }

    /// In version 1 the earliest due date could be 0; since version 2 the ranks begin with 1, and the
    /// order is all they say.
    fn upgrade(&mut self) {
        let rules = self.parts.iter_mut().filter_map(|part| part.nest.as_mut());
        let mut ranks: Vec<&mut u32> = rules.filter_map(|rules| rules.due.as_mut()).collect();
        if self.version == 1 && ranks.iter().any(|rank| **rank == 0) {
            for rank in &mut ranks {
                **rank = rank.saturating_add(1);
            }
        }
    }
}

impl Document for Machine {
    const KIND: &'static str = "machine";
    const NEWEST: u32 = Self::VERSION;

    fn version(&mut self) -> &mut u32 {
        &mut self.version
    }

    fn problems(&self) -> Result<(), Vec<Invalid>> {
        self.validate()
    }
}

impl Document for Recipe {
    const KIND: &'static str = "recipe";
    const NEWEST: u32 = Self::VERSION;

    fn version(&mut self) -> &mut u32 {
        &mut self.version
    }

    fn problems(&self) -> Result<(), Vec<Invalid>> {
        self.validate()
    }
}
