//! Pieces that several views are made of: number fields, icons, inks, thumbnails.

pub(crate) mod field;
pub(crate) mod icons;
pub(crate) mod theme;
pub(crate) mod thumbnails;
