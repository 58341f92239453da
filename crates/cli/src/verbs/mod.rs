//! One module for each verb.

pub(crate) mod cage;
pub(crate) mod check;
pub(crate) mod clearance;
pub(crate) mod draw;
pub(crate) mod inspect;
pub(crate) mod nest;
mod ready;
pub(crate) mod slices;
pub(crate) mod verify;
pub(crate) mod write;
