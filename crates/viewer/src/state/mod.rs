//! Plain data: the document with undo, what was made of it, the cursor, and what may be asked for.
//!
//! No GPU, no thread, no file, no drawing; nothing here imports another part of the window.

pub(crate) mod actions;
pub(crate) mod arrangement;
pub(crate) mod commands;
pub(crate) mod contact;
pub(crate) mod content;
pub(crate) mod document;
pub(crate) mod drag;
pub(crate) mod edit;
pub(crate) mod first;
pub(crate) mod free_places;
pub(crate) mod layout;
pub(crate) mod model;
pub(crate) mod moves;
pub(crate) mod nearby;
pub(crate) mod paths;
pub(crate) mod results;
pub(crate) mod rotation;
pub(crate) mod settings;
pub(crate) mod shapes;
pub(crate) mod theme;
pub(crate) mod unfound;
pub(crate) mod zoom;
