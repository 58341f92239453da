//! What the elevation keeps from frame to frame: the side, the curve, the drag under way.

use super::curve::Curve;
use super::scale::Scale;
use egui::Pos2;

/// From which side the build is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum ViewSide {
    /// X to the right.
    #[default]
    Front,
    /// Y to the right, seen from the +X side.
    Right,
}

impl ViewSide {
    /// The axis that runs to the right, and the one that is looked along.
    pub(super) fn axes(self) -> [usize; 2] {
        match self {
            Self::Front => [0, 1],
            Self::Right => [1, 0],
        }
    }
}

/// What a drag does.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Dragging {
    #[default]
    Nothing,
    /// Draws the line that says which layer is shown.
    Layer,
    /// Moves what is selected: from this place, mm.
    Move([f64; 2]),
    /// Rotates it about this point of the screen, from this angle, degrees.
    Rotate(Pos2, f64),
}

impl Dragging {
    /// Whether placements are held.
    pub(super) fn holds(self) -> bool {
        match self {
            Self::Move(_) | Self::Rotate(..) => true,
            Self::Nothing | Self::Layer => false,
        }
    }
}

/// The build from the side.
#[derive(Default)]
pub(crate) struct ElevationView {
    pub(super) side: ViewSide,
    pub(super) curve: Curve,
    /// Whether the build alone is shown, rather than the whole build space.
    pub(super) close: bool,
    pub(super) dragging: Dragging,
    /// How it was last drawn.
    pub(super) drawn: Option<Scale>,
}
