//! Small pictures of the parts for the traveller: one drawing in which they stand side by side.
//!
//! It is a chamber scene of its own, so parts look here as they do there; it is drawn anew only
//! when a part, its way up, the theme or the scale of the window changes.

use crate::state::arrangement::single;
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::widgets::drawable::DrawableMesh;
use crate::widgets::scene_colours::{palette, rgba};
use crate::widgets::theme::Ink;
use eframe::egui_wgpu::RenderState;
use egui::{
    Color32, Rect, Response, Role, Sense, Stroke, StrokeKind, TextureId, Ui, WidgetInfo, vec2,
};
use glam::{Vec2, Vec3};
use render::chamber::{ChamberRenderer, Instance, MeshId, Scene, State};
use render::{Camera, Projection};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Side of a picture in the traveller, points.
const SIDE: f32 = 36.0;
/// Pictures in a row of the drawing.
const COLUMNS: usize = 16;
/// Parts beyond these have no picture: a texture has an end.
const MOST: usize = 1024;
/// Side of a cell of the drawing, mm, and what a part may fill of it.
const CELL_MM: f32 = 10.0;
const FILLED: f32 = 0.84;

/// See the module.
#[derive(Default)]
pub(super) struct Thumbnails {
    gpu: Option<Gpu>,
    scene: Option<Arc<Scene>>,
    texture: Option<TextureId>,
    /// What was last looked at.
    seen: Option<Seen>,
    /// Where each part's picture lies in the drawing, by index into the job's parts.
    cells: BTreeMap<usize, Rect>,
}

/// Of every part, where its mesh lies in memory and how it is rotated; the meshes that are ready; ink; pixels per
/// point.
type Seen = (Vec<(Option<usize>, [f64; 3])>, Vec<MeshId>, Ink, f32);

struct Gpu {
    state: RenderState,
    renderer: ChamberRenderer,
}

impl Thumbnails {
    /// Draws with this graphics device; without one there are no pictures.
    pub(super) fn new(gpu: Option<&RenderState>) -> Self {
        let gpu = gpu.map(|gpu| Gpu {
            state: gpu.clone(),
            renderer: ChamberRenderer::new(&gpu.device, gpu.target_format),
        });
        Self { gpu, ..Self::default() }
    }

    /// The drawing, and which part of it shows a part of the job.
    fn of(&self, part: usize) -> Option<(TextureId, Rect)> {
        self.texture.zip(self.cells.get(&part).copied())
    }

    /// Shows the picture of a part, or an empty frame while there is none.
    pub(super) fn show(&self, ui: &mut Ui, ink: &Ink, part: usize, name: &str) -> Response {
        let (rect, response) = ui.allocate_exact_size(vec2(SIDE, SIDE), Sense::CLICK);
        let called = format!("Picture of {name}");
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &called));
        if let Some((texture, cell)) = self.of(part) {
            ui.painter().image(texture, rect, cell, Color32::WHITE);
        } else {
            let stroke = Stroke::new(1.0, ink.faint);
            ui.painter().rect_stroke(rect.shrink(6.0), 0.0, stroke, StrokeKind::Inside);
        }
        response
    }

    /// Whether the drawing is up to date; to look at hundreds of meshes takes longer than a frame has.
    fn has_seen(
        &mut self,
        model: &Model,
        prepared: &[DrawableMesh],
        pixels_per_point: f32,
    ) -> bool {
        let ready = prepared.iter().map(|mesh| mesh.id).collect();
        let now = (looks(model), ready, model.ink, pixels_per_point);
        let is_seen = self.seen.as_ref() == Some(&now);
        self.seen = Some(now);
        is_seen
    }

    /// Draws what has changed. `prepared` are the meshes that are ready to be drawn.
    pub(super) fn keep_up(
        &mut self,
        model: &Model,
        prepared: &[DrawableMesh],
        pixels_per_point: f32,
    ) {
        if self.has_seen(model, prepared, pixels_per_point) {
            return;
        }
        let Some(gpu) = &mut self.gpu else { return };
        let parts = model.content().map_or(0, |content| content.job.parts.len()).min(MOST);
        let rows = parts.div_ceil(COLUMNS);
        let camera = camera(rows, pixels_per_point);
        let (mut cells, mut instances) = (BTreeMap::new(), Vec::new());
        for part in 0..parts {
            let loaded = model.mesh(part).and_then(MeshState::ready);
            let ready = loaded.and_then(|l| prepared.iter().find(|p| Arc::ptr_eq(&p.loaded, l)));
            let Some(ready) = ready else { continue };
            let cell = [part % COLUMNS, part / COLUMNS];
            let Some(pose) = pose(model, part, ready, &camera, cell, rows) else { continue };
            instances.push(Instance {
                mesh: ready.id,
                pose,
                colour: rgba(model.ink.surface, 1.0),
                state: State::default(),
            });
            let at = vec2(cell[0] as f32 / COLUMNS as f32, cell[1] as f32 / rows as f32);
            let size = vec2(1.0 / COLUMNS as f32, 1.0 / rows as f32);
            cells.insert(part, Rect::from_min_size(at.to_pos2(), size));
        }
        self.cells = cells;
        let scene = scene(camera, instances, &model.ink, pixels_per_point);
        if self.cells.is_empty() || self.scene.as_deref() == Some(&scene) {
            return;
        }
        let scene = Arc::new(scene);
        let used = |id| scene.instances.iter().any(|instance| instance.mesh == id);
        gpu.renderer.retain(used);
        let (device, queue) = (&gpu.state.device, &gpu.state.queue);
        for mesh in prepared.iter().filter(|mesh| used(mesh.id)) {
            if !gpu.renderer.holds(mesh.id) {
                gpu.renderer.upload(device, mesh.id, &mesh.drawn);
            }
        }
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        gpu.renderer.prepare(device, queue, &mut encoder, &scene);
        queue.submit([encoder.finish()]);
        self.scene = Some(scene);
        let Some(picture) = gpu.renderer.picture() else { return };
        let view = picture.create_view(&wgpu::TextureViewDescriptor::default());
        let mut window = gpu.state.renderer.write();
        if let Some(old) = self.texture.take() {
            window.free_texture(&old);
        }
        let linear = wgpu::FilterMode::Linear;
        self.texture = Some(window.register_native_texture(device, &view, linear));
    }
}

/// What the picture of every part depends on.
fn looks(model: &Model) -> Vec<(Option<usize>, [f64; 3])> {
    let parts = model.content().map_or(&[][..], |content| &content.job.parts);
    let look = |part: &job::PartEntry| {
        let mesh = model.results.mesh(part).and_then(MeshState::ready);
        let rotation = part.placements.first().map_or([0.0; 3], |first| first.rotation_deg);
        (mesh.map(|mesh| Arc::as_ptr(mesh).addr()), rotation)
    };
    parts.iter().map(look).collect()
}

/// Looks at the middle of all cells.
fn camera(rows: usize, pixels_per_point: f32) -> Camera {
    let side = (SIDE * pixels_per_point).ceil();
    let viewport = Vec2::new(COLUMNS as f32, rows.max(1) as f32) * side;
    let mut camera = Camera {
        target: Vec3::ZERO,
        projection: Projection::Parallel,
        viewport,
        ..Camera::default()
    };
    // The scale of a parallel view is proportional to the distance.
    camera.distance *= CELL_MM / side / camera.mm_per_pixel(Vec3::ZERO);
    camera
}

/// Puts a part, in the orientation of its first placement, in the middle of its cell, as large as it fits.
fn pose(
    model: &Model,
    part: usize,
    ready: &DrawableMesh,
    camera: &Camera,
    [column, row]: [usize; 2],
    rows: usize,
) -> Option<[[f64; 4]; 3]> {
    let placement = model.content()?.job.parts.get(part)?.placements.first();
    let rotated =
        base::Affine::rotation_deg(placement.map_or([0.0; 3], |first| first.rotation_deg));
    let (low, high) = ready.loaded.mesh.bounds()?;
    let basis = camera.basis();
    let corners = (0..8).map(|corner| {
        let side = |k: usize| if corner >> k & 1 == 0 { low[k] } else { high[k] };
        Vec3::from_array(rotated.apply([0, 1, 2].map(side)).map(single))
    });
    let seen = corners.map(|corner| basis.transpose() * corner);
    let (least, most) = seen
        .fold((Vec3::INFINITY, Vec3::NEG_INFINITY), |(least, most), p| (least.min(p), most.max(p)));
    let size = (most - least).truncate().max_element();
    let scale = f64::from(CELL_MM * FILLED / size.max(1e-6));
    let cell =
        Vec2::new(column as f32 + 0.5 - 0.5 * COLUMNS as f32, 0.5 * rows as f32 - row as f32 - 0.5);
    let to = basis * (cell * CELL_MM).extend(0.0);
    let from = basis * ((least + most) * 0.5);
    let mut rows = rotated.rows;
    for (k, row) in rows.iter_mut().enumerate() {
        row[3] -= f64::from(from[k]);
        *row = row.map(|c| c * scale);
        row[3] += f64::from(to[k]);
    }
    Some(rows)
}

fn scene(camera: Camera, instances: Vec<Instance>, ink: &Ink, pixels_per_point: f32) -> Scene {
    let mut palette = palette(ink);
    palette.ground = rgba(ink.desk, 1.0); // of the traveller
    Scene {
        camera,
        instances,
        lines: Vec::new(),
        section_mm: None,
        palette,
        pixels_per_point,
        detail_pixels: 0.4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_as_many_pixels_as_the_picture_in_the_traveller() {
        for (rows, ppp) in [(1, 1.0), (7, 1.5), (3, 2.0)] {
            let camera = camera(rows, ppp);
            let side = (SIDE * ppp).ceil();
            assert!((CELL_MM / camera.mm_per_pixel(Vec3::ZERO) - side).abs() < 1e-3);
        }
    }
}
