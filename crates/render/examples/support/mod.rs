//! What the examples share: an adapter without a window, test parts, themes, and pictures as PNG.

pub(crate) mod arguments;
#[path = "../../tests/headless/device.rs"]
pub(crate) mod device;
pub(crate) mod parts;
pub(crate) mod picture;
pub(crate) mod theme;
