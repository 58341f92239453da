//! What the examples share: an adapter without a window, test parts, themes, and pictures as PNG.

pub(crate) mod arguments;
pub(crate) mod parts;
pub(crate) mod picture;
pub(crate) mod theme;
