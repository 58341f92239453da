//! Pieces that several views are made of: number fields, icons, inks.

pub(crate) mod field;
pub(crate) mod icons;
pub(crate) mod theme;
