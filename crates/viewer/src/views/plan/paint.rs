//! The plan as lines and fills for the renderer, and the callback that runs it.

use super::canvas::Canvas;
use super::drawing::Strokes;
use super::preparing::{Chosen, Ready};
use super::quantity::Quantity;
use crate::widgets::theme::Ink as Theme;
use eframe::egui_wgpu::{CallbackResources, CallbackTrait, RenderState, ScreenDescriptor, wgpu};
use egui::{Color32, PaintCallbackInfo};
use render::plan::{
    ColourScale, Dash, FillLayer, Ink, LineLayer, LineSet, PlanFrame, PlanRenderer, Shade, Width,
};
use std::sync::Arc;

/// What is drawn; each can be left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "independent switches, one for each row")]
pub(crate) struct Parts {
    pub(crate) section: bool,
    pub(crate) contours: bool,
    pub(crate) hatch: bool,
    pub(crate) centrelines: bool,
    pub(crate) jumps: bool,
    pub(crate) runs: bool,
    pub(crate) ghosts: bool,
}

impl Default for Parts {
    fn default() -> Self {
        Self {
            section: true,
            contours: true,
            hatch: true,
            centrelines: true,
            jumps: false,
            runs: false,
            ghosts: false,
        }
    }
}

/// How strongly stale results are drawn.
const STALE: f32 = 0.3;
/// How strongly marks are drawn that the beam has yet to run.
const TO_COME: f32 = 0.2;

/// Width and dash of each kind of line, points: weight and dash say what a line is.
pub(super) const CONTOUR: (f32, Dash) = (1.6, Dash::SOLID);
pub(super) const HATCH: (f32, Dash) = (0.8, Dash::SOLID);
pub(super) const CENTRELINE: (f32, Dash) = (1.3, Dash::DASH_DOT);
pub(super) const RUN: (f32, Dash) = (0.8, Dash::SOLID);
pub(super) const JUMP: (f32, Dash) = (0.9, Dash::DOTTED);
pub(super) const BELOW: (f32, Dash) = (1.0, Dash::DASHED);
pub(super) const ABOVE: (f32, Dash) = (1.0, Dash::DOTTED);

/// What a picture is made of.
pub(super) struct Scene<'a> {
    pub(super) ready: &'a Ready,
    pub(super) chosen: Option<&'a Chosen>,
    /// Boundaries of the layer below and above.
    pub(super) ghosts: [Option<Arc<LineSet>>; 2],
    pub(super) parts: Parts,
    pub(super) stale: bool,
    /// While the beam is on its way: the move that it is in.
    pub(super) step: Option<usize>,
    pub(super) scale: Arc<ColourScale>,
    pub(super) budget: usize,
}

/// The picture of a scene.
pub(super) fn frame(scene: &Scene<'_>, canvas: &Canvas, theme: &Theme) -> PlanFrame {
    let Ready { drawing, shades } = scene.ready;
    let opacity = if scene.stale { STALE } else { 1.0 };
    #[expect(clippy::cast_possible_truncation, reason = "pixels in a point")]
    let px = canvas.px_per_point() as f32;
    let plain = |lines: &Arc<LineSet>, colour: Color32, (width, dash): (f32, Dash)| LineLayer {
        width: Width::Px(width * px),
        dash: Dash(dash.0.map(|length| length * px)),
        opacity,
        opacity_after: opacity,
        ..LineLayer::new(Arc::clone(lines), Ink::Flat(rgba(colour, 1.0)))
    };
    let timed = |strokes: &Strokes, colour, style| {
        let line = plain(&strokes.lines, colour, style);
        match scene.step {
            Some(step) => {
                LineLayer { split: strokes.before(step), opacity_after: opacity * TO_COME, ..line }
            }
            None => line,
        }
    };
    let marks = |strokes: &Strokes, colour, style, shade: &Arc<Vec<Shade>>| {
        let line = LineLayer { shades: Some(Arc::clone(shade)), ..timed(strokes, colour, style) };
        if shades.quantity == Quantity::Ink {
            LineLayer { tone: 0.4, ..line }
        } else {
            LineLayer { ink: Ink::Scale(1.0), tone: 0.9, ..line }
        }
    };

    let parts = scene.parts;
    let mut fills = Vec::new();
    let mut lines = Vec::new();
    if parts.section {
        let fill = Arc::clone(&drawing.section);
        fills.push(FillLayer { fill, colour: rgba(theme.fused, 0.8 * opacity) });
    }
    if let Some(chosen) = scene.chosen {
        let fill = Arc::clone(&chosen.section);
        fills.push(FillLayer { fill, colour: rgba(theme.accent_tint, 0.8 * opacity) });
    }
    if parts.ghosts {
        for (ghost, style) in scene.ghosts.iter().zip([BELOW, ABOVE]) {
            lines.extend(ghost.as_ref().map(|ghost| plain(ghost, theme.faint, style)));
        }
    }
    if parts.section {
        lines.push(plain(&drawing.boundary, theme.soft, (0.75, Dash::SOLID)));
    }
    if parts.jumps {
        lines.push(timed(&drawing.jumps, theme.faint, JUMP));
    }
    if parts.runs {
        lines.push(timed(&drawing.runs, theme.faint, RUN));
    }
    if parts.hatch {
        lines.push(marks(&drawing.hatch, theme.soft, HATCH, &shades.marks[1]));
    }
    if parts.contours {
        let line = marks(&drawing.contours, theme.ink, CONTOUR, &shades.marks[0]);
        lines.push(LineLayer { closes_corners: true, ..line });
    }
    if parts.centrelines {
        lines.push(marks(&drawing.centrelines, theme.ink, CENTRELINE, &shades.marks[2]));
    }
    if let Some(chosen) = scene.chosen {
        lines.push(plain(&chosen.boundary, theme.accent, (1.2, Dash::SOLID)));
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixels")]
    let size_px = canvas.size_px().map(|size| size as u32);
    let scale = Arc::clone(&scene.scale);
    PlanFrame { view: canvas.view, size_px, fills, lines, scale, budget: scene.budget }
}

/// A colour for the renderer.
fn rgba(colour: Color32, opacity: f32) -> [f32; 4] {
    let [r, g, b, a] = colour.to_srgba_unmultiplied().map(|c| f32::from(c) / 255.0);
    [r, g, b, a * opacity]
}

/// Puts the renderer where the callback finds it.
pub(super) fn install(gpu: &RenderState) {
    let renderer = PlanRenderer::new(&gpu.device, gpu.target_format);
    gpu.renderer.write().callback_resources.insert(renderer);
}

/// Draws a frame into the renderer's own picture, and the picture onto the window.
pub(super) struct Paint(pub(super) PlanFrame);

impl CallbackTrait for Paint {
    fn prepare(
        &self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        _screen: &ScreenDescriptor,
        encoder: &mut wgpu::CommandEncoder,
        resources: &mut CallbackResources,
    ) -> Vec<wgpu::CommandBuffer> {
        if let Some(renderer) = resources.get_mut::<PlanRenderer>() {
            renderer.prepare(device, queue, encoder, self.0.clone());
        }
        Vec::new()
    }

    fn paint(
        &self,
        _info: PaintCallbackInfo,
        pass: &mut wgpu::RenderPass<'static>,
        resources: &CallbackResources,
    ) {
        if let Some(renderer) = resources.get::<PlanRenderer>() {
            renderer.paint(pass);
        }
    }
}
