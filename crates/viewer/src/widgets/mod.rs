//! Pieces that several views are made of. Nothing here knows a view.

pub(crate) mod arithmetic;
pub(crate) mod drawable;
pub(crate) mod entry;
pub(crate) mod field;
pub(crate) mod format;
pub(crate) mod icons;
pub(crate) mod mixed;
pub(crate) mod placeholder;
pub(crate) mod scene_colours;
pub(crate) mod sought;
pub(crate) mod steady;
pub(crate) mod theme;
pub(crate) mod ticks;
pub(crate) mod words;
