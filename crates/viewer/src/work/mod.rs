//! Work in the background: one scheduler, and what runs on it.

pub(crate) mod recovery;
pub(crate) mod scheduler;
pub(crate) mod tasks;
