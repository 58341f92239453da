//! Plain data: the document with undo, what was made of it, the cursor, and what may be asked for.
//!
//! No GPU, no thread, no drawing.

pub(crate) mod actions;
pub(crate) mod beside;
pub(crate) mod commands;
pub(crate) mod document;
pub(crate) mod layout;
pub(crate) mod model;
pub(crate) mod results;
pub(crate) mod settings;
pub(crate) mod stage;
