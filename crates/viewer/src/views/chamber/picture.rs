//! From the model to what the renderer draws.

use super::handles::Handles;
use super::mesh_cache::MeshCache;
use crate::state::arrangement::{PosedPlacement, single, vec3};
use crate::state::model::Model;
use crate::widgets::scene_colours::{palette, rgba};
use base::PlacementId;
use eframe::egui_wgpu::{CallbackResources, CallbackTrait, ScreenDescriptor};
use glam::Vec3;
use render::Camera;
use render::chamber::{
    ChamberRenderer, Colour, Instance, Line3, MeshId, PreparedMesh, Scene, State, build_space,
};
use std::sync::Arc;

/// How a person wants to see the chamber, beside the camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ViewSettings {
    /// Height of the section, mm.
    pub(super) section_mm: Option<f64>,
    pub(super) hovered: Option<PlacementId>,
    pub(super) pixels_per_point: f32,
}

/// Everything to draw.
pub(super) fn scene(
    model: &Model,
    meshes: &MeshCache,
    camera: Camera,
    settings: ViewSettings,
    handles: Option<&Handles>,
) -> Scene {
    let ink = &model.ink;
    let arrangement = &model.arrangement;
    let placed = arrangement.placed.iter();
    let instances = placed.filter_map(|placed| instance(model, meshes, placed, settings)).collect();
    let px = settings.pixels_per_point;
    let mut lines = Vec::new();
    if let Some(content) = model.content() {
        let size = content.machine.build_space_mm.map(single);
        lines.extend(build_space(size, rgba(ink.soft, 0.75), [rgba(ink.ink, 1.0); 3]));
        if model.layer_count() > 0 {
            lines.extend(layer_plane(
                size,
                single(model.cursor_height_mm()),
                rgba(ink.accent, 0.8),
            ));
        }
    }
    for placed in &arrangement.placed {
        lines.extend(faults(placed, rgba(ink.stop, 1.0)));
    }
    for (_, location) in &arrangement.missing {
        lines.extend(cross(vec3(*location), 6.0, rgba(ink.stop, 1.0), 2.0));
    }
    if let Some(point) = model.attention_mm {
        lines.extend(cross(vec3(point), 8.0, rgba(ink.accent, 1.0), 2.5));
    }
    lines.extend(handles.into_iter().flat_map(|handles| handles.lines(&camera, ink)));
    for line in &mut lines {
        line.width *= px;
    }
    Scene {
        camera,
        instances,
        lines,
        section_mm: settings.section_mm.map(single),
        palette: palette(ink),
        pixels_per_point: px,
        detail_pixels: 0.6,
    }
}

fn instance(
    model: &Model,
    meshes: &MeshCache,
    placed: &PosedPlacement,
    settings: ViewSettings,
) -> Option<Instance> {
    let cached = meshes.cached(&placed.loaded)?;
    Some(Instance {
        mesh: cached.id,
        pose: placed.pose.rows,
        colour: rgba(model.ink.surface, 1.0),
        state: State {
            selected: model.selection.contains(&placed.at),
            hovered: settings.hovered == Some(placed.at),
            faulty: placed.is_faulty(),
            faint: is_newer_than_proof(model, placed),
        },
    })
}

/// Whether a placement stands where the newest proof of clearances has none: the proof says nothing
/// of it. Without any proof this holds for none, as all are equally unknown.
fn is_newer_than_proof(model: &Model, placed: &PosedPlacement) -> bool {
    let Some(proven) = model.results.proven.as_ref() else { return false };
    if proven.revision == model.revision() {
        return false;
    }
    let name = model.content().and_then(|content| content.job.parts.get(placed.at.part));
    let was = name.and_then(|part| {
        let parts = &proven.build.loaded.job.parts;
        parts.iter().find(|other| other.name == part.name)
    });
    was.is_none_or(|part| !part.placements.contains(&placed.placement))
}

/// Open, over-shared and wrongly oriented edges as lines, other faults as dots.
fn faults(placed: &PosedPlacement, colour: Colour) -> Vec<Line3> {
    let health = &placed.loaded.health;
    let mesh = &placed.loaded.mesh;
    let at = |p: [f64; 3]| vec3(placed.pose.apply(p)).to_array();
    let line = |a, b, width| Line3 { a, b, colour, width, on_top: true };
    let edges = [&health.open_edges, &health.over_shared_edges, &health.inconsistent_edges];
    let edges = edges.into_iter().flat_map(|faults| &faults.first).filter_map(|edge| {
        let [p, q] = edge.vertices.map(|v| mesh.vertices.get(v as usize).copied());
        Some(line(at(p?), at(q?), 2.5))
    });
    let triangles = [&health.duplicate_triangles].into_iter().flat_map(|faults| &faults.first);
    let contacts = health.self_intersections.first.iter().map(|contact| contact.point_mm);
    let dots = triangles.map(|t| t.point_mm).chain(contacts).map(|p| line(at(p), at(p), 6.0));
    edges.chain(dots).collect()
}

/// The border of the layer that all views show.
fn layer_plane(size: [f32; 3], z: f32, colour: Colour) -> [Line3; 4] {
    let [x, y] = [size[0] * 0.5, size[1] * 0.5];
    let corner = [[-x, -y, z], [x, -y, z], [x, y, z], [-x, y, z]];
    [0, 1, 2, 3].map(|k| Line3 {
        a: corner[k],
        b: corner[(k + 1) % 4],
        colour,
        width: 1.4,
        on_top: false,
    })
}

/// Three short lines through a point.
fn cross(at: Vec3, reach: f32, colour: Colour, width: f32) -> [Line3; 3] {
    [Vec3::X, Vec3::Y, Vec3::Z].map(|axis| Line3 {
        a: (at - axis * reach).to_array(),
        b: (at + axis * reach).to_array(),
        colour,
        width,
        on_top: true,
    })
}

/// Draws in the window's paint callback.
pub(super) struct Painting {
    pub(super) scene: Arc<Scene>,
    pub(super) meshes: Vec<(MeshId, Arc<PreparedMesh>)>,
}

impl CallbackTrait for Painting {
    fn prepare(
        &self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        _screen: &ScreenDescriptor,
        encoder: &mut wgpu::CommandEncoder,
        resources: &mut CallbackResources,
    ) -> Vec<wgpu::CommandBuffer> {
        if let Some(renderer) = resources.get_mut::<ChamberRenderer>() {
            renderer.retain(|id| self.meshes.iter().any(|(kept, _)| *kept == id));
            for (id, mesh) in &self.meshes {
                if !renderer.holds(*id) {
                    renderer.upload(device, *id, mesh);
                }
            }
            renderer.prepare(device, queue, encoder, &self.scene);
        }
        Vec::new()
    }

    fn paint(
        &self,
        _info: egui::PaintCallbackInfo,
        pass: &mut wgpu::RenderPass<'static>,
        resources: &CallbackResources,
    ) {
        if let Some(renderer) = resources.get::<ChamberRenderer>() {
            renderer.paint(pass);
        }
    }
}
