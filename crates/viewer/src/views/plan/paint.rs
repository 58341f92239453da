//! The plan as lines and fills for the renderer, and the callback that runs it.

use super::canvas::Canvas;
use super::dose::Curves;
use super::drawing::Strokes;
use super::elements::{
    ABOVE, BELOW, BOUNDARY, CENTRELINE, CONTOUR, Elements, HAIRLINE, HATCH, JUMP, LineStyle, MELT,
    MELT_GROUND, RUN, SELECTED,
};
use super::preparing::{Ready, Selected};
use crate::widgets::theme::Ink as Theme;
use eframe::egui_wgpu::{CallbackResources, CallbackTrait, RenderState, ScreenDescriptor, wgpu};
use egui::{Color32, PaintCallbackInfo};
use render::plan::{
    ColourScale, Dash, FillLayer, Ink, LineLayer, LineSet, PlanFrame, PlanRenderer, Shade, Width,
};
use std::sync::Arc;

/// How strongly results that are out of date are drawn.
pub(super) const STALE: f32 = 0.3;
/// How strongly marks are drawn that the beam has yet to run.
const TO_COME: f32 = 0.2;
/// How strongly marks are drawn over the dose.
const OVER_DOSE: f32 = 0.5;

/// What a picture is made of.
pub(super) struct Scene<'a> {
    pub(super) ready: &'a Ready,
    pub(super) selected: Option<&'a Selected>,
    /// Boundaries of the layer below and above.
    pub(super) neighbours: [Option<Arc<LineSet>>; 2],
    pub(super) elements: Elements,
    /// While colour shows the dose, which lies below all lines.
    pub(super) dose: Option<OverDose>,
    pub(super) stale: bool,
    /// While the beam is on its way: the move that it is in.
    pub(super) step: Option<usize>,
    pub(super) scale: Arc<ColourScale>,
    pub(super) budget: usize,
}

/// What is drawn over the dose.
pub(super) struct OverDose {
    /// Whether there are marks; fine ones.
    pub(super) marks: bool,
    /// The predicted outline, and whether it is of an earlier layer.
    pub(super) melt: Option<(Curves, bool)>,
}

/// The picture of a scene.
pub(super) fn frame(scene: &Scene<'_>, canvas: &Canvas, theme: &Theme) -> PlanFrame {
    let size_px = canvas.whole_px();
    let scale = Arc::clone(&scene.scale);
    let (fills, lines) = (scene.fills(theme), scene.lines(canvas, theme));
    PlanFrame { view: canvas.view, size_px, fills, lines, scale, budget: scene.budget }
}

impl Scene<'_> {
    fn opacity(&self) -> f32 {
        if self.stale { STALE } else { 1.0 }
    }

    fn fills(&self, theme: &Theme) -> Vec<FillLayer> {
        let opacity = 0.8 * self.opacity();
        let mut fills = Vec::new();
        if self.elements.section && self.dose.is_none() {
            let fill = Arc::clone(&self.ready.drawing.section);
            fills.push(FillLayer { fill, colour: rgba(theme.fused, opacity) });
        }
        if let Some(selected) = self.selected.filter(|_| self.dose.is_none()) {
            let fill = Arc::clone(&selected.section);
            fills.push(FillLayer { fill, colour: rgba(theme.accent_tint, opacity) });
        }
        fills
    }

    /// The lines, the last on top.
    fn lines(&self, canvas: &Canvas, theme: &Theme) -> Vec<LineLayer> {
        let Ready { drawing, shades } = self.ready;
        let Elements { section, contours, hatch, centrelines, jumps, runs, neighbours } =
            self.elements;
        #[expect(clippy::cast_possible_truncation, reason = "pixels in a point")]
        let px = canvas.px_per_point() as f32;
        let mut lines = Vec::new();
        if neighbours {
            for (neighbour, style) in self.neighbours.iter().zip([BELOW, ABOVE]) {
                let neighbour = neighbour.as_ref();
                lines.extend(neighbour.map(|lines| self.plain(lines, theme.faint, style, px)));
            }
        }
        if section {
            lines.push(self.plain(&drawing.boundary, theme.soft, BOUNDARY, px));
        }
        if jumps {
            lines.push(self.timed(&drawing.jumps, theme.faint, JUMP, px));
        }
        if runs {
            lines.push(self.timed(&drawing.runs, theme.faint, RUN, px));
        }
        let marks = self.dose.as_ref().is_none_or(|dose| dose.marks);
        if hatch && marks {
            lines.push(self.marks(&drawing.hatch, theme.soft, HATCH, &shades.marks[1], px));
        }
        if contours && marks {
            let line = self.marks(&drawing.contours, theme.ink, CONTOUR, &shades.marks[0], px);
            lines.push(LineLayer { closes_corners: true, ..line });
        }
        if centrelines && marks {
            let shade = &shades.marks[2];
            lines.push(self.marks(&drawing.centrelines, theme.ink, CENTRELINE, shade, px));
        }
        if let Some(selected) = self.selected {
            lines.push(self.plain(&selected.boundary, theme.accent, SELECTED, px));
        }
        if let Some((melt, is_stale)) = self.dose.as_ref().and_then(|dose| dose.melt.as_ref()) {
            let opacity = if *is_stale { STALE } else { self.opacity() };
            for (colour, style) in [(theme.sheet, MELT_GROUND), (theme.ink, MELT)] {
                let line = self.plain(&melt.lines, colour, style, px);
                let shades = Some(Arc::clone(&melt.phases));
                lines.push(LineLayer { shades, opacity, opacity_after: opacity, ..line });
            }
        }
        lines
    }

    /// Lines in one colour; `px` pixels make a point.
    fn plain(
        &self,
        lines: &Arc<LineSet>,
        colour: Color32,
        (width, dash): LineStyle,
        px: f32,
    ) -> LineLayer {
        LineLayer {
            width: Width::Px(width * px),
            dash: Dash(dash.0.map(|length| length * px)),
            opacity: self.opacity(),
            opacity_after: self.opacity(),
            ..LineLayer::new(Arc::clone(lines), Ink::Flat(rgba(colour, 1.0)))
        }
    }

    /// Lines of which those that the beam has yet to run are weaker.
    fn timed(&self, strokes: &Strokes, colour: Color32, style: LineStyle, px: f32) -> LineLayer {
        let line = self.plain(&strokes.lines, colour, style, px);
        match self.step {
            Some(step) => {
                let opacity_after = self.opacity() * TO_COME;
                LineLayer { split: strokes.before(step), opacity_after, ..line }
            }
            None => line,
        }
    }

    /// Marks in the colours of the quantity that colour shows.
    fn marks(
        &self,
        strokes: &Strokes,
        colour: Color32,
        style: LineStyle,
        shade: &Arc<Vec<Shade>>,
        px: f32,
    ) -> LineLayer {
        if self.dose.is_some() {
            let line = self.timed(strokes, colour, HAIRLINE, px);
            let (opacity, opacity_after) =
                (line.opacity * OVER_DOSE, line.opacity_after * OVER_DOSE);
            return LineLayer { opacity, opacity_after, ..line };
        }
        let line = self.timed(strokes, colour, style, px);
        let line = LineLayer { shades: Some(Arc::clone(shade)), ..line };
        if self.ready.shades.quantity.leaves_marks_plain() {
            LineLayer { tone: 0.4, ..line }
        } else {
            LineLayer { ink: Ink::Scale(1.0), tone: 0.9, ..line }
        }
    }
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
