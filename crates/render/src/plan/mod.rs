//! A layer from above: millions of lines and filled regions, in the plane.
//!
//! Give [`PlanRenderer::prepare`] a [`PlanFrame`] (what is to be seen) as often as you like: it
//! draws into a picture of its own, and only when something changed.
//! [`PlanRenderer::paint`] puts the picture onto the window. Lines and fills are handed over in
//! [`Arc`](std::sync::Arc)s and uploaded once.

mod fill;
mod frame;
mod lines;
mod pipelines;
mod scale;
mod store;
mod tone;
mod view;

pub use fill::FillSet;
pub use frame::{BUDGET, FillLayer, PlanFrame};
pub use lines::{Dash, Ink, LineLayer, LineSet, Segment, Shade, Width};
pub use scale::{ColourScale, Ground, oklab};
pub use view::PlanView;

use crate::blit::{Blit, COLOUR};
use crate::picture::{texture, view_of};
use frame::{seen, view_uniform};
use pipelines::{Pipelines, STENCIL, StyleUniform, ViewUniform};
use std::ops::Range;
use store::{Fan, Store};
use wgpu::util::DeviceExt as _;

/// The picture, and what shows it.
struct Picture {
    size_px: [u32; 2],
    colour: wgpu::TextureView,
    stencil: wgpu::TextureView,
    blit: wgpu::BindGroup,
}

/// Bytes from one style to the next: the largest alignment that any device asks for.
const STYLE_STEP: usize = 256;
/// From this scale on, fills are clipped before they are uploaded: the error of single precision
/// at the far side of a build space would exceed a fifth of a pixel.
const CLIP_FROM_PX_PER_NM: f64 = 0.02;

/// Draws plans. Holds what is on the graphics card.
pub struct PlanRenderer {
    pipelines: Pipelines,
    blit: Blit,
    store: Store,
    view: wgpu::Buffer,
    scale: wgpu::Texture,
    view_group: wgpu::BindGroup,
    picture: Option<Picture>,
    shown: Option<PlanFrame>,
}

/// One call to draw lines: a run of segments with a style.
struct Stroke<'a> {
    layer: &'a LineLayer,
    /// Runs of groups of segments, see [`tone`].
    runs: Vec<Range<usize>>,
    style: usize,
    level: usize,
}

impl PlanRenderer {
    /// Prepares for a window whose colours have the format `target`, without multisampling or
    /// depth.
    pub fn new(device: &wgpu::Device, target: wgpu::TextureFormat) -> Self {
        let pipelines = Pipelines::new(device);
        let blit = Blit::new(device, target);
        let view = device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("plan view"),
            size: size_of::<ViewUniform>() as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let usage = wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_DST;
        let scale = texture(device, "plan scale", [256, 1], COLOUR, 1, usage);
        let view_group = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("plan view"),
            layout: &pipelines.view_layout,
            entries: &[
                wgpu::BindGroupEntry { binding: 0, resource: view.as_entire_binding() },
                wgpu::BindGroupEntry {
                    binding: 1,
                    resource: wgpu::BindingResource::TextureView(&view_of(&scale)),
                },
            ],
        });
        let store = Store::new();
        Self { pipelines, blit, store, view, scale, view_group, picture: None, shown: None }
    }

    /// Draws a frame into the picture, unless the picture already shows it. Returns whether
    /// anything was drawn. The size is limited to what the device can do.
    pub fn prepare(
        &mut self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        encoder: &mut wgpu::CommandEncoder,
        mut frame: PlanFrame,
    ) -> bool {
        frame.view = frame.view.limited();
        let most = device.limits().max_texture_dimension_2d;
        frame.size_px = frame.size_px.map(|size| size.clamp(1, most));
        if self.shown.as_ref() == Some(&frame) {
            return false;
        }
        if self.shown.as_ref().is_none_or(|shown| shown.scale != frame.scale) {
            self.write_scale(queue, &frame.scale);
        }
        if self.picture.as_ref().is_none_or(|picture| picture.size_px != frame.size_px) {
            self.picture = Some(self.new_picture(device, frame.size_px));
        }
        let view = view_uniform(&frame);
        queue.write_buffer(&self.view, 0, bytemuck::bytes_of(&view));

        let clipped = self.fetch_fills(device, &frame);
        let mut styles = Vec::new();
        for fill in &frame.fills {
            let colour = fill.colour;
            styles.push(StyleUniform { colour, opacity: 1.0, ..Default::default() });
        }
        let strokes = strokes(&frame, &mut styles);
        for Stroke { layer, level, .. } in &strokes {
            self.store.fetch_lines(device, &layer.lines, layer.shades.as_ref(), *level);
        }
        self.store.drop_unused();
        if let Some(picture) = &self.picture {
            let styles = self.style_group(device, &styles);
            self.draw(encoder, picture, &frame, &styles, &strokes, &clipped);
        }
        self.shown = Some(frame);
        true
    }

    /// Puts the picture onto the viewport of a render pass, over what is there.
    pub fn paint(&self, pass: &mut wgpu::RenderPass<'_>) {
        if let Some(picture) = &self.picture {
            self.blit.paint(pass, &picture.blit);
        }
    }

    fn draw(
        &self,
        encoder: &mut wgpu::CommandEncoder,
        picture: &Picture,
        frame: &PlanFrame,
        styles: &wgpu::BindGroup,
        strokes: &[Stroke<'_>],
        clipped: &[Fan],
    ) {
        let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: Some("plan"),
            color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                view: &picture.colour,
                depth_slice: None,
                resolve_target: None,
                ops: wgpu::Operations {
                    load: wgpu::LoadOp::Clear(wgpu::Color::TRANSPARENT),
                    store: wgpu::StoreOp::Store,
                },
            })],
            depth_stencil_attachment: Some(wgpu::RenderPassDepthStencilAttachment {
                view: &picture.stencil,
                depth_ops: None,
                stencil_ops: Some(wgpu::Operations {
                    load: wgpu::LoadOp::Clear(0),
                    store: wgpu::StoreOp::Discard,
                }),
            }),
            ..Default::default()
        });
        pass.set_bind_group(0, &self.view_group, &[]);
        for (index, fill) in frame.fills.iter().enumerate() {
            let Some(fan) = clipped.get(index).or_else(|| self.store.fill(&fill.fill)) else {
                continue;
            };
            if fan.index_count == 0 {
                continue;
            }
            pass.set_bind_group(1, styles, &[offset(index)]);
            pass.set_pipeline(&self.pipelines.count);
            pass.set_vertex_buffer(0, fan.points.slice(..));
            pass.set_index_buffer(fan.indices.slice(..), wgpu::IndexFormat::Uint32);
            pass.draw_indexed(0..fan.index_count, 0, 0..1);
            pass.set_pipeline(&self.pipelines.cover);
            pass.draw(0..3, 0..1);
        }
        pass.set_pipeline(&self.pipelines.lines);
        for stroke in strokes {
            let (lines, shades) = (&stroke.layer.lines, stroke.layer.shades.as_ref());
            pass.set_bind_group(1, styles, &[offset(stroke.style)]);
            for run in &stroke.runs {
                self.store.draw_lines(&mut pass, lines, shades, run.clone(), stroke.level);
            }
        }
    }

    /// Uploads fills, or at deep zoom what is left of each after clipping, in order.
    fn fetch_fills(&mut self, device: &wgpu::Device, frame: &PlanFrame) -> Vec<Fan> {
        let is_deep = frame.view.px_per_nm() > CLIP_FROM_PX_PER_NM;
        let (low, high) = seen(frame, f64::from(frame.size_px[0].max(frame.size_px[1])));
        let mut clipped = Vec::new();
        for fill in &frame.fills {
            if is_deep {
                clipped.push(Store::fan(device, &fill.fill.clipped(low, high)));
            } else {
                self.store.fetch_fill(device, &fill.fill);
            }
        }
        clipped
    }

    fn style_group(&self, device: &wgpu::Device, styles: &[StyleUniform]) -> wgpu::BindGroup {
        let mut bytes = vec![0; STYLE_STEP * styles.len().max(1)];
        for (slot, style) in bytes.chunks_exact_mut(STYLE_STEP).zip(styles) {
            slot[..size_of::<StyleUniform>()].copy_from_slice(bytemuck::bytes_of(style));
        }
        let buffer = device.create_buffer_init(&wgpu::util::BufferInitDescriptor {
            label: Some("plan styles"),
            contents: &bytes,
            usage: wgpu::BufferUsages::UNIFORM,
        });
        device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("plan styles"),
            layout: &self.pipelines.style_layout,
            entries: &[wgpu::BindGroupEntry {
                binding: 0,
                resource: wgpu::BindingResource::Buffer(wgpu::BufferBinding {
                    buffer: &buffer,
                    offset: 0,
                    size: std::num::NonZeroU64::new(size_of::<StyleUniform>() as u64),
                }),
            }],
        })
    }

    fn write_scale(&self, queue: &wgpu::Queue, scale: &ColourScale) {
        queue.write_texture(
            self.scale.as_image_copy(),
            scale.colours.as_flattened(),
            wgpu::TexelCopyBufferLayout {
                offset: 0,
                bytes_per_row: Some(1024),
                rows_per_image: None,
            },
            wgpu::Extent3d { width: 256, height: 1, depth_or_array_layers: 1 },
        );
    }

    fn new_picture(&self, device: &wgpu::Device, size_px: [u32; 2]) -> Picture {
        let attachment = wgpu::TextureUsages::RENDER_ATTACHMENT;
        let usage =
            attachment | wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_SRC;
        let colour = view_of(&texture(device, "plan", size_px, COLOUR, 1, usage));
        let stencil = view_of(&texture(device, "plan stencil", size_px, STENCIL, 1, attachment));
        let blit = self.blit.bind(device, &colour);
        Picture { size_px, colour, stencil, blit }
    }
}

/// The lines of a frame as calls to draw, with their styles added to `styles`.
fn strokes<'a>(frame: &'a PlanFrame, styles: &mut Vec<StyleUniform>) -> Vec<Stroke<'a>> {
    let (low, high) = seen(frame, 64.0);
    let mut strokes = Vec::new();
    for layer in &frame.lines {
        let width_px = layer.width.px(frame.view.px_per_mm).max(0.05);
        let spacing_px = layer.lines.spacing_nm().map(|nm| nm * frame.view.px_per_nm());
        let visible = layer.lines.visible(low, high);
        let count = visible.iter().map(ExactSizeIterator::len).sum();
        let drawing = tone::drawing(spacing_px, width_px, layer.tone, count, frame.budget);
        let (colour, uses_scale) = match layer.ink {
            Ink::Flat(colour) => (colour, 0.0),
            Ink::Scale(opacity) => ([0.0, 0.0, 0.0, opacity], 1.0),
        };
        let group = 1 << drawing.level;
        let split = layer.split / group;
        for (opacity, range) in
            [(layer.opacity, 0..split), (layer.opacity_after, split..usize::MAX)]
        {
            let within = |run: &Range<usize>| {
                let groups = run.start / group..run.end.div_ceil(group);
                groups.start.max(range.start)..groups.end.min(range.end)
            };
            let runs: Vec<_> = visible.iter().map(within).filter(|run| !run.is_empty()).collect();
            if opacity <= 0.0 || runs.is_empty() {
                continue;
            }
            strokes.push(Stroke { layer, runs, style: styles.len(), level: drawing.level });
            // overlapping ends would show as beads in lines that one can see through
            let closes_corners = layer.closes_corners && opacity >= 1.0;
            styles.push(StyleUniform {
                colour,
                dash_px: layer.dash.0,
                width_px,
                blur_px: drawing.blur_px,
                opacity: opacity * drawing.opacity,
                uses_scale,
                cap_px: if closes_corners { width_px / 2.0 } else { 0.0 },
                padding: [0.0; 3],
            });
        }
    }
    strokes
}

fn offset(style: usize) -> u32 {
    u32::try_from(style * STYLE_STEP).unwrap_or(0)
}
