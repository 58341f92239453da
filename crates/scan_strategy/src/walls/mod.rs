//! Narrow walls: lines along them instead of hatch across, with as much energy as the width asks
//! for.
//!
//! What a wall gets follows from its width ([`rules`]); centrelines are cut where that changes
//! ([`mod@stretches`]), with energies in steps of a tenth ([`energy`]), and go on towards the caps of their
//! walls ([`caps`]). Where walls are, and how wide, is known to [`Body`](crate::body::Body).

pub(crate) mod caps;
pub(crate) mod energy;
pub(crate) mod line;
pub(crate) mod melt;
pub(crate) mod rules;
pub(crate) mod stretches;
