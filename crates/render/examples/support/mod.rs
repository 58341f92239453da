//! What the examples share: an adapter without a window, test parts, themes, and pictures as PNG.

pub mod arguments;
pub mod parts;
pub mod picture;
pub mod theme;
