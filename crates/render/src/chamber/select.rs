//! Which instances are drawn this frame, at which level of detail, in which order.

use super::prepare::PreparedMesh;
use super::scene::{Instance, MeshId, Scene, State};
use crate::camera::{Camera, Projection, corners};
use glam::{DMat3, DVec3, Mat4, Vec3, Vec4};
use std::collections::HashMap;
use std::ops::Range;

/// Things below this many pixels across are a speck; leaving them out shows no difference.
const SPECK_PIXELS: f32 = 0.7;

/// What selection must know of a mesh; the rest is on the adapter.
#[derive(Clone, Debug)]
pub(super) struct Outline {
    pub origin: DVec3,
    pub half_extent: Vec3,
    /// Error in mm, and whether the level closes where the mesh does; finest first.
    pub levels: Vec<(f32, bool)>,
}

impl From<&PreparedMesh> for Outline {
    fn from(mesh: &PreparedMesh) -> Self {
        Self {
            origin: mesh.origin,
            half_extent: mesh.half_extent,
            levels: mesh.levels.iter().map(|l| (l.error_mm, l.keeps_closed)).collect(),
        }
    }
}

/// An instance as the adapter gets it: 64 bytes.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq, bytemuck::Pod, bytemuck::Zeroable)]
pub(super) struct Placed {
    rows: [[f32; 4]; 3],
    colour: [u8; 4],
    /// See [`STATE_BITS`].
    mark: u32,
    padding: [u32; 2],
}

/// A mark is a number that tells neighbours apart, above these bits for the state.
const STATE_BITS: u32 = 3;

fn mark(number: usize, state: State) -> u32 {
    let kind = match state {
        State { selected: true, .. } => 2,
        State { hovered: true, .. } => 1,
        State { faulty: true, .. } => 3,
        State { faint: true, .. } => 4,
        _ => 0,
    };
    // 0 is the ground, so count from 1; numbers may repeat, which only matters side by side.
    let number = u32::try_from(number % 8190).unwrap_or(0) + 1;
    number << STATE_BITS | kind
}

/// Instances of one mesh at one level, drawn by one call.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Batch {
    pub mesh: MeshId,
    pub level: usize,
    /// Whether the section plane passes through them.
    pub cut: bool,
    /// Into [`Selection::placed`].
    pub instances: Range<u32>,
}

/// What is drawn.
#[derive(Clone, Debug, Default)]
pub(super) struct Selection {
    pub placed: Vec<Placed>,
    /// Uncut ones first.
    pub batches: Vec<Batch>,
    /// A box around all instances of the scene, seen or not, mm.
    pub bounds: Option<(Vec3, Vec3)>,
}

/// Chooses for one frame. O(n log n) in the number of instances.
pub(super) fn select(scene: &Scene, meshes: &HashMap<MeshId, Outline>) -> Selection {
    let mut selection = Selection::default();
    let mut chosen: Vec<((bool, MeshId, usize), Placed)> =
        Vec::with_capacity(scene.instances.len());
    let boxes: Vec<_> = scene.instances.iter().map(|i| posed_box(i, meshes)).collect();
    for &(low, high) in boxes.iter().flatten() {
        let (l, h) = selection.bounds.unwrap_or((low, high));
        selection.bounds = Some((l.min(low), h.max(high)));
    }
    let Some((low, high)) = selection.bounds else { return selection };
    let frustum = Frustum::new(scene.camera.view_projection(low, high));
    for (number, (instance, bounds)) in scene.instances.iter().zip(boxes).enumerate() {
        let (Some((low, high)), Some(mesh)) = (bounds, meshes.get(&instance.mesh)) else {
            continue;
        };
        let above = scene.section_mm.is_some_and(|z| low.z >= z);
        if above || !frustum.touches(low, high) {
            continue;
        }
        let cut = scene.section_mm.is_some_and(|z| high.z > z);
        let mm_per_pixel = finest_pixel(&scene.camera, low, high);
        if (high - low).length() < SPECK_PIXELS * mm_per_pixel {
            continue;
        }
        let allowed_mm = scene.detail_pixels * mm_per_pixel / largest_stretch(instance);
        let level = mesh.levels.iter().rposition(|&(error_mm, keeps_closed)| {
            error_mm <= allowed_mm && (keeps_closed || !cut)
        });
        let Some(level) = level else { continue };
        chosen.push(((cut, instance.mesh, level), place(instance, mesh, number)));
    }
    chosen.sort_by_key(|(key, _)| *key);
    for group in chosen.chunk_by(|a, b| a.0 == b.0) {
        let (cut, mesh, level) = group[0].0;
        let start = selection.placed.len();
        selection.placed.extend(group.iter().map(|(_, placed)| *placed));
        let index = |i: usize| u32::try_from(i).unwrap_or(u32::MAX);
        let instances = index(start)..index(selection.placed.len());
        selection.batches.push(Batch { mesh, level, cut, instances });
    }
    selection
}

/// Millimetres per pixel where a box comes nearest to the eye.
fn finest_pixel(camera: &Camera, low: Vec3, high: Vec3) -> f32 {
    let eye = camera.eye();
    let nearest = match camera.projection {
        Projection::Perspective => eye.clamp(low, high),
        Projection::Parallel => low,
    };
    camera.mm_per_pixel(nearest)
}

fn linear(instance: &Instance) -> (DMat3, DVec3) {
    let [x, y, z] = instance.pose;
    let rows = DMat3::from_cols_array_2d(&[x, y, z].map(|r| [r[0], r[1], r[2]]));
    (rows.transpose(), DVec3::new(x[3], y[3], z[3]))
}

fn largest_stretch(instance: &Instance) -> f32 {
    let (linear, _) = linear(instance);
    let axes = [linear.x_axis, linear.y_axis, linear.z_axis];
    axes.into_iter().map(|axis| axis.as_vec3().length()).fold(1e-9, f32::max)
}

/// A box around the posed bounding box of the mesh, mm; `None` for what cannot be drawn.
fn posed_box(instance: &Instance, meshes: &HashMap<MeshId, Outline>) -> Option<(Vec3, Vec3)> {
    let mesh = meshes.get(&instance.mesh)?;
    let (linear, shift) = linear(instance);
    let middle = (linear * mesh.origin + shift).as_vec3();
    let half = mesh.half_extent.as_dvec3();
    let reach = (linear.x_axis.abs() * half.x
        + linear.y_axis.abs() * half.y
        + linear.z_axis.abs() * half.z)
        .as_vec3();
    (middle.is_finite() && reach.is_finite() && !mesh.levels.is_empty())
        .then_some((middle - reach, middle + reach))
}

fn place(instance: &Instance, mesh: &Outline, number: usize) -> Placed {
    let (linear, shift) = linear(instance);
    let shift = (linear * mesh.origin + shift).as_vec3();
    let rows = linear.transpose().as_mat3();
    let row = |axis: Vec3, t: f32| axis.extend(t).to_array();
    Placed {
        rows: [row(rows.x_axis, shift.x), row(rows.y_axis, shift.y), row(rows.z_axis, shift.z)],
        colour: instance.colour,
        mark: mark(number, instance.state),
        padding: [0; 2],
    }
}

/// The part of space that is seen, as planes whose positive sides hold it.
struct Frustum([Vec4; 4]);

impl Frustum {
    fn new(map: Mat4) -> Self {
        let (x, y, w) = (map.row(0), map.row(1), map.row(3));
        Self([w + x, w - x, w + y, w - y])
    }

    fn touches(&self, low: Vec3, high: Vec3) -> bool {
        let corners = corners(low, high);
        self.0.iter().all(|plane| corners.iter().any(|c| plane.dot(c.extend(1.0)) >= 0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chamber::scene::Palette;

    const POSE: [[f64; 4]; 3] = [[1., 0., 0., 0.], [0., 1., 0., 0.], [0., 0., 1., 0.]];

    fn at(x: f64, y: f64, z: f64) -> Instance {
        let mut pose = POSE;
        pose[0][3] = x;
        pose[1][3] = y;
        pose[2][3] = z;
        Instance { mesh: MeshId(1), pose, colour: [200; 4], state: State::default() }
    }

    fn scene(instances: Vec<Instance>) -> Scene {
        let mut camera = Camera::default();
        camera.fit(Vec3::splat(-50.0), Vec3::splat(50.0));
        Scene {
            camera,
            instances,
            lines: Vec::new(),
            section_mm: None,
            palette: Palette {
                ground: [0; 4],
                crease: [0; 4],
                outline: [0; 4],
                shade: [0; 4],
                section: [0; 4],
                section_hatch: [0; 4],
                inside: [0; 4],
                selected: [0; 4],
                hovered: [0; 4],
                faulty: [0; 4],
            },
            pixels_per_point: 1.0,
            detail_pixels: 0.5,
        }
    }

    fn meshes() -> HashMap<MeshId, Outline> {
        let outline = Outline {
            origin: DVec3::ZERO,
            half_extent: Vec3::splat(10.0),
            levels: vec![(0.0, true), (0.1, true), (1.0, false), (10.0, false)],
        };
        HashMap::from([(MeshId(1), outline)])
    }

    fn levels(scene: &Scene) -> Vec<(usize, bool, u32)> {
        let batches = select(scene, &meshes()).batches;
        let count = |b: &Batch| b.instances.end - b.instances.start;
        batches.iter().map(|b| (b.level, b.cut, count(b))).collect()
    }

    #[test]
    fn what_is_out_of_sight_or_unknown_is_not_drawn() {
        let mut unknown = at(0.0, 0.0, 0.0);
        unknown.mesh = MeshId(7);
        let mut broken = at(0.0, 0.0, 0.0);
        broken.pose[0][0] = f64::NAN;
        let seen =
            select(&scene(vec![at(0., 0., 0.), at(5e3, 0., 0.), unknown, broken]), &meshes());
        assert_eq!(seen.placed.len(), 1);
    }

    #[test]
    fn farther_and_finer_choose_the_level() {
        let mut scene = scene(vec![at(0., 0., 0.), at(20., 0., 0.)]);
        let near = levels(&scene)[0].0;
        scene.camera.zoom(12.0, Vec3::ZERO);
        let far = levels(&scene)[0].0;
        assert!(near < far, "{near} {far}");
        scene.detail_pixels = 0.0;
        assert_eq!(levels(&scene), [(0, false, 2)]);
    }

    #[test]
    fn a_section_parts_the_instances_and_keeps_them_closed() {
        let mut scene = scene(vec![at(0., 0., 0.), at(0., 0., 40.), at(0., 0., 80.)]);
        scene.camera.zoom(30.0, Vec3::ZERO);
        scene.section_mm = Some(41.0);
        let [whole, cut] = levels(&scene)[..] else { panic!("one below, one through, one above") };
        assert!(!whole.1 && cut.1);
        assert!(cut.0 <= 1 && whole.0 > 1, "the cut one must be of a closed level");
    }

    #[test]
    fn specks_are_left_out() {
        let mut scene = scene(vec![at(0., 0., 0.)]);
        scene.camera.distance = 50_000.0;
        scene.camera.viewport = glam::Vec2::splat(100.0);
        assert!(levels(&scene).is_empty());
    }
}
