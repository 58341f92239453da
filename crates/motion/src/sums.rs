//! How long a layer takes, and what with.

use crate::head::Head;
use crate::moves::MoveKind;
use crate::walk::walk;
use scan_path::{Header, Layer};

/// Time of the beam in a layer, s, without recoating.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LayerTime {
    /// Lit.
    pub lit_s: f64,
    /// Jumps, turns from path to path and past corners.
    pub jump_s: f64,
    /// Run-ins and run-outs at steady speed, and the first and last ones of the layer.
    pub run_s: f64,
    /// Standing still until mirrors have settled.
    pub wait_s: f64,
}

impl LayerTime {
    /// All of it, s.
    pub fn total_s(&self) -> f64 {
        self.lit_s + self.jump_s + self.run_s + self.wait_s
    }

    /// Adds time of a kind of move.
    pub fn add(&mut self, kind: MoveKind, duration_s: f64) {
        *match kind {
            MoveKind::Mark | MoveKind::Dwell => &mut self.lit_s,
            MoveKind::Jump | MoveKind::RunPast => &mut self.jump_s,
            MoveKind::RunIn | MoveKind::RunOut => &mut self.run_s,
            MoveKind::Wait => &mut self.wait_s,
        } += duration_s;
    }
}

/// How long a layer takes: the sum of what [`Timeline`](crate::Timeline) holds, without keeping it. O(points).
pub fn layer_time(layer: &Layer, header: &Header, head: Option<&Head>) -> LayerTime {
    let mut time = LayerTime::default();
    walk(layer, header, head, |step| time.add(step.step.kind, step.duration_s));
    time
}
