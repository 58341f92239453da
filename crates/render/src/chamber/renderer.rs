//! Draws a [`Scene`] into textures of its own, and copies the picture into the window.

use super::frame::{Frame, fractions};
use super::pipelines::Pipelines;
use super::prepare::PreparedMesh;
use super::scene::{Line3, MeshId, Scene};
use super::select::{Batch, Outline, Selection, select};
use super::store::{Growing, StoredMesh, Stroke, store};
use super::targets::Targets;
use glam::Vec3;
use std::collections::HashMap;
use std::sync::Arc;
use wgpu::{BindGroup, Buffer, CommandEncoder, Device, Queue, RenderPass, TextureFormat};

/// What the last frame took, for those who measure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FrameStats {
    /// Instances drawn.
    pub instances: usize,
    /// Draw calls for their faces.
    pub draws: usize,
    /// Triangles drawn, at the levels of detail that were chosen.
    pub triangles: u64,
    /// Triangles that the drawn instances have in full.
    pub triangles_in_full: u64,
}

/// Draws the chamber. One for each view; needs no feature beyond the WebGPU base.
pub struct ChamberRenderer {
    pipelines: Pipelines,
    samples: u32,
    frame: Buffer,
    frame_group: BindGroup,
    placed: Growing,
    strokes: Growing,
    meshes: HashMap<MeshId, StoredMesh>,
    outlines: HashMap<MeshId, Outline>,
    targets: Option<Targets>,
    /// What the picture shows; `None` after a mesh came or went.
    shown: Option<Arc<Scene>>,
    stats: FrameStats,
}

impl ChamberRenderer {
    /// For a window of this format. Compiles all pipelines: some milliseconds.
    pub fn new(device: &Device, target_format: TextureFormat) -> Self {
        // OpenGL ES 3.0 cannot read single samples; every other backend must offer four.
        let samples = if device.adapter_info().backend == wgpu::Backend::Gl { 1 } else { 4 };
        let pipelines = Pipelines::new(device, target_format, samples);
        let frame = device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("chamber frame"),
            size: size_of::<Frame>() as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let frame_group = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("chamber frame"),
            layout: &pipelines.frame_layout,
            entries: &[wgpu::BindGroupEntry { binding: 0, resource: frame.as_entire_binding() }],
        });
        Self {
            placed: Growing::new(device, "chamber instances"),
            strokes: Growing::new(device, "chamber lines"),
            pipelines,
            samples,
            frame,
            frame_group,
            meshes: HashMap::new(),
            outlines: HashMap::new(),
            targets: None,
            shown: None,
            stats: FrameStats::default(),
        }
    }

    /// Puts a mesh on the adapter under an id, in place of what had that id.
    pub fn upload(&mut self, device: &Device, id: MeshId, mesh: &PreparedMesh) {
        self.remove(id);
        if let Some((stored, outline)) = store(device, mesh) {
            self.meshes.insert(id, stored);
            self.outlines.insert(id, outline);
            self.shown = None;
        }
    }

    /// Whether something can be drawn under this id.
    pub fn holds(&self, id: MeshId) -> bool {
        self.meshes.contains_key(&id)
    }

    /// Forgets a mesh.
    pub fn remove(&mut self, id: MeshId) {
        self.outlines.remove(&id);
        if self.meshes.remove(&id).is_some() {
            self.shown = None;
        }
    }

    /// Forgets every mesh that `keep` does not want.
    pub fn retain(&mut self, keep: impl Fn(MeshId) -> bool) {
        let before = self.meshes.len();
        self.meshes.retain(|&id, _| keep(id));
        self.outlines.retain(|&id, _| keep(id));
        if self.meshes.len() != before {
            self.shown = None;
        }
    }

    /// Draws the scene into the renderer's own picture, unless the picture shows it already.
    /// Returns whether it drew. The picture has the size of the scene's viewport, up to what the
    /// device allows.
    pub fn prepare(
        &mut self,
        device: &Device,
        queue: &Queue,
        encoder: &mut CommandEncoder,
        scene: &Arc<Scene>,
    ) -> bool {
        if self.shown.as_ref().is_some_and(|s| Arc::ptr_eq(s, scene) || s == scene) {
            return false;
        }
        let most = device.limits().max_texture_dimension_2d as f32;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to a texture's size"
        )]
        let size = scene.camera.viewport.to_array().map(|c| c.clamp(1.0, most) as u32);
        if self.targets.as_ref().is_none_or(|targets| targets.size != size) {
            self.targets = Some(Targets::new(device, &self.pipelines, size, self.samples));
        }
        let Some(targets) = &self.targets else { return false };

        let selection = select(scene, &self.outlines);
        let (low, high) = bounds(scene, &selection);
        queue.write_buffer(&self.frame, 0, bytemuck::bytes_of(&Frame::new(scene, low, high)));
        self.placed.write(device, queue, &selection.placed);
        // Lines that hide behind parts come first, those on top of all after them.
        let (on_top, behind): (Vec<&Line3>, Vec<&Line3>) =
            scene.lines.iter().partition(|line| line.on_top);
        let strokes: Vec<Stroke> = behind.iter().chain(&on_top).map(|&l| Stroke::from(l)).collect();
        self.strokes.write(device, queue, &strokes);
        let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let (behind, all) = (count(behind.len()), count(strokes.len()));

        let mut pass = scene_pass(encoder, targets, scene);
        pass.set_bind_group(0, &self.frame_group, &[]);
        self.draw_batches(&mut pass, &selection, scene);
        self.draw_strokes(&mut pass, &self.pipelines.lines, 0..behind);
        drop(pass);

        let mut pass = compose_pass(encoder, targets);
        pass.set_bind_group(0, &self.frame_group, &[]);
        pass.set_bind_group(1, &targets.compose, &[]);
        pass.set_pipeline(&self.pipelines.compose);
        pass.draw(0..3, 0..1);
        self.draw_strokes(&mut pass, &self.pipelines.lines_on_top, behind..all);
        drop(pass);

        self.stats = self.measure(&selection);
        self.shown = Some(Arc::clone(scene));
        true
    }

    fn draw_batches(&self, pass: &mut RenderPass<'_>, selection: &Selection, scene: &Scene) {
        let draw = |pass: &mut RenderPass<'_>, batch: &Batch, edges: bool| {
            let Some(mesh) = self.meshes.get(&batch.mesh) else { return };
            let Some(level) = mesh.levels.get(batch.level) else { return };
            pass.set_vertex_buffer(0, mesh.vertices.slice(..));
            pass.set_vertex_buffer(1, self.placed.buffer.slice(..));
            pass.set_index_buffer(mesh.indices.slice(..), wgpu::IndexFormat::Uint32);
            let range = if edges { &level.edges } else { &level.faces };
            if !range.is_empty() {
                pass.draw_indexed(range.clone(), level.base_vertex, batch.instances.clone());
            }
        };
        let cut = selection.batches.partition_point(|batch| !batch.cut);
        let (whole, cut) = selection.batches.split_at(cut);
        let mut draw_all = |batches: &[Batch], pipeline, edges: bool| {
            if !batches.is_empty() {
                pass.set_pipeline(pipeline);
            }
            for batch in batches {
                draw(pass, batch, edges);
            }
        };
        draw_all(whole, &self.pipelines.faces[0], false);
        draw_all(cut, &self.pipelines.faces[1], false);
        draw_all(cut, &self.pipelines.count, false);
        draw_all(whole, &self.pipelines.creases[0], true);
        draw_all(cut, &self.pipelines.creases[1], true);
        if scene.section_mm.is_some() && !cut.is_empty() {
            pass.set_pipeline(&self.pipelines.section);
            pass.set_stencil_reference(0);
            pass.draw(0..4, 0..1);
        }
    }

    fn draw_strokes(
        &self,
        pass: &mut RenderPass<'_>,
        pipeline: &wgpu::RenderPipeline,
        range: std::ops::Range<u32>,
    ) {
        if range.is_empty() {
            return;
        }
        pass.set_pipeline(pipeline);
        pass.set_vertex_buffer(0, self.strokes.buffer.slice(..));
        pass.draw(0..4, range);
    }

    /// Copies the picture into the pass's viewport. Draws nothing before the first
    /// [`Self::prepare`].
    pub fn paint(&self, pass: &mut RenderPass<'_>) {
        if let Some(targets) = &self.targets {
            pass.set_pipeline(&self.pipelines.blit);
            pass.set_bind_group(0, &targets.blit, &[]);
            pass.draw(0..3, 0..1);
        }
    }

    /// The picture itself, RGBA of 8 bits with sRGB values, for who wants to keep it; may be copied
    /// from. `None` before the first [`Self::prepare`].
    pub fn picture(&self) -> Option<&wgpu::Texture> {
        self.targets.as_ref().map(|targets| &targets.picture)
    }

    /// What the last drawn frame took.
    pub fn stats(&self) -> FrameStats {
        self.stats
    }

    fn measure(&self, selection: &Selection) -> FrameStats {
        let mut stats = FrameStats { draws: selection.batches.len(), ..FrameStats::default() };
        for batch in &selection.batches {
            let Some(mesh) = self.meshes.get(&batch.mesh) else { continue };
            let count = batch.instances.len();
            let triangles = |level: usize| mesh.levels[level].faces.len() as u64 / 3 * count as u64;
            stats.instances += count;
            stats.triangles += triangles(batch.level);
            stats.triangles_in_full += triangles(0);
        }
        stats
    }
}

/// A box that holds everything that is drawn.
fn bounds(scene: &Scene, selection: &Selection) -> (Vec3, Vec3) {
    let (mut low, mut high) = selection.bounds.unwrap_or((Vec3::ZERO, Vec3::ZERO));
    for end in scene.lines.iter().flat_map(|line| [line.a, line.b]).map(Vec3::from) {
        if end.is_finite() {
            low = low.min(end);
            high = high.max(end);
        }
    }
    (low, high)
}

fn scene_pass<'a>(
    encoder: &'a mut CommandEncoder,
    targets: &Targets,
    scene: &Scene,
) -> RenderPass<'a> {
    let [r, g, b, _] = fractions(scene.palette.ground).map(f64::from);
    let clear = |color, store| wgpu::Operations { load: wgpu::LoadOp::Clear(color), store };
    let keep = wgpu::StoreOp::Store;
    let colour_kept = if targets.resolved.is_some() { wgpu::StoreOp::Discard } else { keep };
    let attachment = |view, resolve_target, ops| {
        Some(wgpu::RenderPassColorAttachment { view, depth_slice: None, resolve_target, ops })
    };
    let ground = clear(wgpu::Color { r, g, b, a: 1.0 }, colour_kept);
    let unmarked = clear(wgpu::Color { r: 0.0, g: 0.0, b: 0.0, a: 0.0 }, keep);
    encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
        label: Some("chamber scene"),
        color_attachments: &[
            attachment(&targets.colour, targets.resolved.as_ref(), ground),
            attachment(&targets.marks, None, unmarked),
        ],
        depth_stencil_attachment: Some(wgpu::RenderPassDepthStencilAttachment {
            view: &targets.depth,
            depth_ops: Some(wgpu::Operations { load: wgpu::LoadOp::Clear(1.0), store: keep }),
            stencil_ops: Some(wgpu::Operations {
                load: wgpu::LoadOp::Clear(0),
                store: wgpu::StoreOp::Discard,
            }),
        }),
        ..wgpu::RenderPassDescriptor::default()
    })
}

fn compose_pass<'a>(encoder: &'a mut CommandEncoder, targets: &Targets) -> RenderPass<'a> {
    encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
        label: Some("chamber compose"),
        color_attachments: &[Some(wgpu::RenderPassColorAttachment {
            view: &targets.picture_view,
            depth_slice: None,
            resolve_target: None,
            ops: wgpu::Operations {
                load: wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                store: wgpu::StoreOp::Store,
            },
        })],
        ..wgpu::RenderPassDescriptor::default()
    })
}
