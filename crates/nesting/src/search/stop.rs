//! How a search ends early.

use crate::model::NestError;
use base::Cancelled;

/// The search was told to stop. Builds hold all that they held before, at valid positions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stopped;

impl From<Stopped> for NestError {
    fn from(_: Stopped) -> Self {
        Self::Cancelled(Cancelled)
    }
}

impl From<Cancelled> for Stopped {
    fn from(_: Cancelled) -> Self {
        Self
    }
}
