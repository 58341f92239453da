//! The numbers of one frame as the shaders get them. Mirrors `frame.wgsl`.

use super::scene::{Colour, Scene};
use crate::camera::Projection;
use glam::{Vec3, Vec4};

#[repr(C)]
#[derive(Clone, Copy, Debug, bytemuck::Pod, bytemuck::Zeroable)]
pub(super) struct Frame {
    view_projection: [[f32; 4]; 4],
    eye: [f32; 4],
    light: [f32; 4],
    viewport: [f32; 4],
    depth: [f32; 4],
    floor: [f32; 4],
    colours: [[f32; 4]; 10],
}

impl Frame {
    /// `low` and `high` hold all that is drawn.
    pub(super) fn new(scene: &Scene, low: Vec3, high: Vec3) -> Self {
        let camera = &scene.camera;
        let basis = camera.basis();
        let perspective = camera.projection == Projection::Perspective;
        let eye = if perspective { camera.eye().extend(1.0) } else { basis.z_axis.extend(0.0) };
        // From the upper left of the picture, so that a drawing reads the same from every side,
        // and from above, so that up-facing faces are the lightest.
        let light = basis * Vec3::new(-0.35, 0.45, 0.75) + Vec3::Z * 0.45;
        let [near, far] = camera.depths(low, high);
        let one_mm_away = basis.z_axis * (camera.distance - 1.0) + camera.target;
        let viewport = camera.viewport.extend(scene.pixels_per_point);
        let flag = f32::from(u8::from(perspective));
        let p = &scene.palette;
        let colours = [
            p.ground,
            p.crease,
            p.outline,
            p.shade,
            p.section,
            p.section_hatch,
            p.inside,
            p.selected,
            p.hovered,
            p.faulty,
        ];
        Self {
            view_projection: camera.view_projection(low, high).to_cols_array_2d(),
            eye: eye.to_array(),
            light: light.normalize_or(Vec3::Z).extend(0.0).to_array(),
            viewport: viewport.extend(camera.mm_per_pixel(one_mm_away)).to_array(),
            depth: [near, far, flag, scene.section_mm.unwrap_or(f32::MAX)],
            floor: Vec4::new(low.x, low.y, high.x, high.y).to_array(),
            colours: colours.map(fractions),
        }
    }
}

/// The parts of a colour, 0 to 1.
pub(super) fn fractions(colour: Colour) -> [f32; 4] {
    colour.map(|c| f32::from(c) / 255.0)
}
