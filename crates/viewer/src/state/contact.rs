//! What happens when a part that is moved by hand meets another.

use serde::{Deserialize, Serialize};

/// What a part that is moved by hand does when it comes too near to another.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub(crate) enum OnContact {
    /// Nothing: it goes where the pointer goes.
    #[default]
    Pass,
    /// It stops where the clearance ends, and slides along.
    Stop,
    /// It pushes away what is not locked.
    Push,
}

impl OnContact {
    pub(crate) const ALL: [Self; 3] = [Self::Pass, Self::Stop, Self::Push];

    /// In a word, after "On contact:".
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Stop => "stop",
            Self::Push => "push",
        }
    }

    /// In a list of all three.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Pass => "pass through",
            Self::Stop => "stop, keep the clearance",
            Self::Push => "push aside",
        }
    }

    /// What it does.
    pub(crate) fn explained(self) -> &'static str {
        match self {
            Self::Pass => {
                "What is dragged goes where the pointer goes; distances that are too small are \
                 marked."
            }
            Self::Stop => {
                "What is dragged keeps the job's clearances to parts and walls: it stops there, and \
                 slides along."
            }
            Self::Push => {
                "What is dragged pushes parts that are in its way, as far as clearances and walls \
                 let them. Locked parts stay."
            }
        }
    }
}
