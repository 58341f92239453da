//! Words and numbers over the drawing: rulers, names of handles, dimensions, what is missing.

use super::clearance::Clearance;
use super::handles::Handles;
use crate::state::arrangement::{Arrangement, PosedPlacement, vec3};
use crate::state::model::Model;
use crate::views::dimensions;
use crate::widgets::theme::{CAPTION, Ink};
use crate::widgets::words::Words;
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Stroke, vec2};
use glam::Vec3;
use render::Camera;
use std::cell::RefCell;

/// What labels are drawn with, and where points of the build space are on the screen.
pub(super) struct Labels<'a> {
    pub(super) painter: &'a Painter,
    pub(super) camera: Camera,
    pub(super) rect: Rect,
    pub(super) ppp: f32,
    pub(super) ink: &'a Ink,
    /// The words that are placed so far: none lies on another.
    pub(super) words: &'a RefCell<Words>,
}

impl Labels<'_> {
    pub(super) fn pos(&self, at: Vec3) -> Option<Pos2> {
        let pixel = self.camera.pixel(at)?;
        Some(self.rect.min + vec2(pixel.x, pixel.y) / self.ppp)
    }

    /// Text in its place on a bit of sheet, whatever comes later.
    fn tag(&self, at: Pos2, align: Align2, text: String, colour: Color32) {
        let galley = self.painter.layout_no_wrap(text, FontId::proportional(CAPTION), colour);
        let place = align.anchor_size(at, galley.size());
        self.words.borrow_mut().keep_off(place);
        self.painter.rect_filled(
            place.expand2(vec2(3.0, 1.0)),
            2.0,
            self.ink.sheet.gamma_multiply(0.85),
        );
        self.painter.galley(place.min, galley, colour);
    }

    /// Text at a place or near it, if there is room.
    fn write(&self, at: Pos2, align: Align2, text: String, colour: Color32) {
        let wanted = |size| align.anchor_size(at, size);
        self.words.borrow_mut().write(self.painter, self.ink, wanted, text, colour);
    }

    /// Numbers at the long ticks of the floor's front and left edges, and the names of the axes.
    pub(super) fn rulers(&self, size: [f32; 3]) {
        let font = FontId::proportional(CAPTION - 1.0);
        let [x, y] = [size[0] * 0.5, size[1] * 0.5];
        for axis in 0..2 {
            let half = [x, y][axis];
            let place = |along: f32, out: f32| {
                if axis == 0 {
                    Vec3::new(along, -y - out, 0.0)
                } else {
                    Vec3::new(-x - out, along, 0.0)
                }
            };
            let (Some(a), Some(b)) = (self.pos(place(0.0, 0.0)), self.pos(place(50.0, 0.0))) else {
                continue;
            };
            let every =
                [50.0, 100.0, 200.0].into_iter().find(|step| a.distance(b) * step / 50.0 > 26.0);
            let Some(every) = every else { continue };
            #[expect(clippy::cast_possible_truncation, reason = "a build space is below 2 m")]
            let count = (half / every).floor() as i32;
            for k in -count..=count {
                let along = k as f32 * every;
                if let Some(at) = self.pos(place(along, 15.0)) {
                    let text = format!("{along}").replace('-', "\u{2212}");
                    self.painter.text(at, Align2::CENTER_CENTER, text, font.clone(), self.ink.soft);
                }
            }
            let beyond = self.pos(place(half + 16.0, 0.0));
            if let Some(at) = beyond.filter(|at| self.rect.expand(10.0).contains(*at)) {
                let whole = self.rect.shrink(8.0); // no letter is cut by the edge
                let at = at.clamp(whole.min, whole.max);
                let letter = ["X", "Y"][axis];
                let font = FontId::proportional(CAPTION + 1.0);
                self.painter.text(at, Align2::CENTER_CENTER, letter, font, self.ink.ink);
            }
        }
    }

    /// The letters of the handles.
    pub(super) fn letters(&self, handles: &Handles) {
        for (axis, letter) in ["X", "Y", "Z"].into_iter().enumerate() {
            let beyond = handles.tip(axis) + Vec3::AXES[axis] * handles.reach * 0.12;
            if let Some(at) = self.pos(beyond) {
                self.tag(at, Align2::CENTER_CENTER, letter.to_owned(), self.ink.ink);
            }
        }
    }

    /// A dimension line: the distance, between oblique strokes.
    pub(super) fn clearance(&self, clearance: &Clearance) {
        let [a, b] = clearance.points_mm.map(vec3);
        let (Some(a), Some(b)) = (self.pos(a), self.pos(b)) else { return };
        let colour = self.ink.accent;
        dimensions::span(self.painter, [a, b], false, Stroke::new(1.4, colour));
        let at = a.lerp(b, 0.5) + vec2(0.0, -9.0);
        self.write(at, Align2::CENTER_BOTTOM, clearance.words(), colour);
    }

    /// Where parts would stand whose meshes are missing.
    pub(super) fn missing(&self, model: &Model, arrangement: &Arrangement) {
        for (at, location) in &arrangement.missing {
            if let Some(pos) = self.pos(vec3(*location)) {
                let text = format!("{}: no mesh", model.placement_name(*at));
                self.write(pos + vec2(0.0, 12.0), Align2::CENTER_TOP, text, self.ink.stop);
            }
        }
    }

    /// What is going on, and what is under the pointer, in the upper right corner.
    pub(super) fn corner(
        &self,
        model: &Model,
        arrangement: &Arrangement,
        hovered: Option<&PosedPlacement>,
        pending: usize,
    ) {
        let mut lines: Vec<(String, Color32)> = Vec::new();
        if let Some(placed) = hovered {
            let size = [0, 1, 2].map(|k| placed.high[k] - placed.low[k]);
            let [x, y, z] = size;
            lines.push((model.placement_name(placed.at), self.ink.ink));
            lines.push((format!("{x:.1} × {y:.1} × {z:.1} mm"), self.ink.soft));
            if placed.is_faulty() {
                lines.push(("× mesh has faults, marked".to_owned(), self.ink.stop));
            }
        }
        if arrangement.loading > 0 {
            lines.push((
                format!("reading meshes: {} placements to come", arrangement.loading),
                self.ink.soft,
            ));
        } else if pending > 0 {
            lines.push((format!("drawing {pending} more meshes…"), self.ink.soft));
        }
        if arrangement.placed.is_empty()
            && arrangement.loading == 0
            && arrangement.missing.is_empty()
        {
            lines.push(("nothing is placed yet".to_owned(), self.ink.soft));
        }
        for (row, (text, colour)) in lines.into_iter().enumerate() {
            let at = self.rect.right_top() + vec2(-10.0, 34.0 + row as f32 * 15.0);
            self.tag(at, Align2::RIGHT_CENTER, text, colour);
        }
    }
}
