//! Where millimetres lie on the screen.

#![expect(clippy::cast_possible_truncation, reason = "f64 mm become f32 points of the screen")]

use egui::{Pos2, Rect, pos2};

/// Where mm lie on the screen.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub(super) area: Rect,
    pub(super) curve: Rect,
    /// Points in a millimetre.
    pub(super) mm: f32,
    /// Where the middle of the platform is, across.
    pub(super) middle: f32,
}

impl Scale {
    pub(super) fn y(&self, z_mm: f64) -> f32 {
        self.area.bottom() - z_mm as f32 * self.mm
    }

    pub(super) fn x(&self, across_mm: f64) -> f32 {
        self.middle + across_mm as f32 * self.mm
    }

    /// Where a place across and above the platform, mm, is on the screen.
    pub(super) fn at(&self, [across, z]: [f64; 2]) -> Pos2 {
        pos2(self.x(across), self.y(z))
    }

    pub(super) fn z(&self, y: f32) -> f64 {
        f64::from((self.area.bottom() - y) / self.mm)
    }

    /// Across and above the platform, mm.
    pub(super) fn mm_at(&self, at: Pos2) -> [f64; 2] {
        [f64::from((at.x - self.middle) / self.mm), self.z(at.y)]
    }
}
