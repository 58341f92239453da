//! One module for each verb.

mod accept;
pub(crate) mod check;
pub(crate) mod diff;
pub(crate) mod dose;
pub(crate) mod draw;
pub(crate) mod field;
pub(crate) mod gather;
pub(crate) mod inspect;
pub(crate) mod library;
pub(crate) mod nest;
pub(crate) mod prove;
mod ready;
pub(crate) mod slice;
pub(crate) mod time;
pub(crate) mod verify;
pub(crate) mod write;
