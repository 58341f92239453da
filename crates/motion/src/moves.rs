//! The moves of a layer.

use base::Point;

/// What the beam does in one move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MoveKind {
    /// Dark, at jump speed, to where the path begins; with a [`Head`](crate::Head) braking from the path before
    /// and speeding up for the next one, too.
    Jump,
    /// Dark, standing still before a path: mirrors settle.
    Wait,
    /// Dark, straight up to the path's first point.
    RunIn,
    /// Lit.
    Mark,
    /// Lit, standing still in a corner.
    Dwell,
    /// Dark, past a corner and back to it.
    RunPast,
    /// Dark, straight on from the path's last point.
    RunOut,
}

impl MoveKind {
    /// Whether the laser is on.
    pub fn is_lit(self) -> bool {
        match self {
            Self::Mark | Self::Dwell => true,
            Self::Jump | Self::Wait | Self::RunIn | Self::RunPast | Self::RunOut => false,
        }
    }

    /// Where it comes on its path, in the order in which moves follow each other.
    pub(crate) fn rank(self, mark: u32) -> (u8, u32, u8) {
        match self {
            Self::Jump => (0, 0, 0),
            Self::Wait => (1, 0, 0),
            Self::RunIn => (2, 0, 0),
            Self::Mark => (3, mark, 0),
            Self::Dwell | Self::RunPast => (3, mark, 1),
            Self::RunOut => (4, 0, 0),
        }
    }
}

/// One move, 40 bytes. It ends where and when the next one starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// When it starts, s from the start of the layer.
    pub start_s: f64,
    /// Speed at its start, mm/s at the bed.
    pub speed_mm_s: f64,
    /// Where it starts, nm.
    pub from: Point,
    /// Index of its block in the layer.
    pub block: u32,
    /// Index of its path in the block; a jump belongs to the path that it leads to.
    pub path: u32,
    /// Index of the mark in the path; of what happens in a corner, that of the mark before; else 0.
    pub mark: u32,
    /// What it is.
    pub kind: MoveKind,
}

/// Where the beam is and what it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeamState {
    /// Position, mm, build-space frame.
    pub position_mm: [f64; 2],
    /// Velocity, mm/s.
    pub velocity_mm_s: [f64; 2],
    /// Laser power at the bed, W; 0 while it is dark.
    pub power_w: f64,
    /// Speed, mm/s at the bed.
    pub speed_mm_s: f64,
    /// What the move is.
    pub kind: MoveKind,
    /// Index of the block in the layer.
    pub block: u32,
    /// Index of the path in the block.
    pub path: u32,
    /// Index of the mark in the path; 0 unless the move is of a mark.
    pub mark: u32,
}
