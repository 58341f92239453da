//! The chamber drawn on whatever adapter there is (software Vulkan in CI), judged by its pixels.

#![allow(dead_code, reason = "files shared with the examples hold more than this test needs")]
#![expect(clippy::unwrap_used, reason = "helpers of a test")]

#[path = "headless/device.rs"]
mod device;
#[path = "../examples/support/theme.rs"]
mod theme;

use glam::{Vec2, Vec3};
use render::chamber::{
    ChamberRenderer, Colour, Instance, Line3, MeshId, Scene, State, prepare_mesh,
};
use render::{Camera, Direction};
use std::sync::Arc;

const IDENTITY: [[f64; 4]; 3] = [[1., 0., 0., 0.], [0., 1., 0., 0.], [0., 0., 1., 0.]];

struct Bench {
    device: wgpu::Device,
    queue: wgpu::Queue,
    renderer: ChamberRenderer,
}

impl Bench {
    fn new() -> Self {
        let (device, queue, _) = device::adapter(|_| wgpu::Limits::downlevel_defaults()).unwrap();
        let renderer = ChamberRenderer::new(&device, wgpu::TextureFormat::Rgba8Unorm);
        Self { device, queue, renderer }
    }

    /// A box from the origin with these edges, hollow if `open` leaves its lid off.
    fn upload_box(&mut self, id: u64, size: [f64; 3], open: bool) {
        let corner = |i: usize| [0, 1, 2].map(|k| if i >> k & 1 == 1 { size[k] } else { 0.0 });
        let vertices: Vec<[f64; 3]> = (0..8).map(corner).collect();
        let quads = [[0, 2, 3, 1], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let lid = [[4, 5, 7, 6]];
        let quads = quads.iter().chain(lid.iter().filter(|_| !open));
        let triangles: Vec<[u32; 3]> =
            quads.flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        let mesh = prepare_mesh(&vertices, &triangles, &|| false).unwrap();
        self.renderer.upload(&self.device, MeshId(id), &mesh);
    }

    fn draw(&mut self, scene: &Scene) -> bool {
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let scene = Arc::new(scene.clone());
        let drew = self.renderer.prepare(&self.device, &self.queue, &mut encoder, &scene);
        self.queue.submit([encoder.finish()]);
        drew
    }

    fn count(&self, colour: Colour) -> usize {
        let texture = self.renderer.picture().unwrap();
        let pixels = render::read_back(&self.device, &self.queue, texture).unwrap();
        pixels.as_chunks::<4>().0.iter().filter(|pixel| pixel[..3] == colour[..3]).count()
    }
}

/// A box of 40 × 40 × 40 mm from above, cut or not.
fn from_above(section_mm: Option<f32>) -> Scene {
    let mut camera = Camera { viewport: Vec2::new(200.0, 160.0), ..Camera::default() };
    camera.look_from(Direction::Top);
    camera.fit(Vec3::ZERO, Vec3::splat(40.0));
    let (palette, tones) = theme::paper();
    let state = State::default();
    let instance = Instance { mesh: MeshId(1), pose: IDENTITY, colour: tones[0], state };
    Scene {
        camera,
        instances: vec![instance],
        lines: Vec::new(),
        section_mm,
        palette,
        pixels_per_point: 1.0,
        detail_pixels: 0.5,
    }
}

#[test]
fn an_unchanged_scene_is_not_drawn_again() {
    let mut bench = Bench::new();
    bench.upload_box(1, [40.0; 3], false);
    let mut scene = from_above(None);
    assert!(bench.draw(&scene));
    assert!(!bench.draw(&scene), "equal, though another value");
    scene.instances[0].state.selected = true;
    assert!(bench.draw(&scene));
    bench.upload_box(2, [1.0; 3], false);
    assert!(bench.draw(&scene), "a mesh came");
}

#[test]
fn a_cut_solid_is_filled_and_hatched_and_a_whole_one_is_not() {
    let mut bench = Bench::new();
    bench.upload_box(1, [40.0; 3], false);
    let scene = from_above(None);
    let section = scene.palette.section;
    bench.draw(&scene);
    assert_eq!(bench.count(section), 0);
    bench.draw(&from_above(Some(15.0)));
    // At 15 mm the square is some 120 pixels wide; the hatch leaves most of its ground free.
    assert!(bench.count(section) > 5_000, "{}", bench.count(section));
    assert_eq!(bench.count(scene.palette.inside), 0, "no inner wall shows");
    bench.draw(&from_above(Some(45.0)));
    assert_eq!(bench.count(section), 0, "the plane passes above it");
    bench.draw(&from_above(Some(-5.0)));
    assert_eq!(bench.count(section), 0, "all of it is cut away");
    let ground = bench.count(scene.palette.ground);
    assert_eq!(ground, 200 * 160);
}

#[test]
fn an_open_box_shows_its_inside() {
    let mut bench = Bench::new();
    bench.upload_box(1, [40.0; 3], true);
    let scene = from_above(None);
    bench.draw(&scene);
    assert!(bench.count(scene.palette.inside) > 500);
}

#[test]
fn lines_are_hidden_by_parts_unless_they_are_on_top() {
    let mut bench = Bench::new();
    bench.upload_box(1, [40.0; 3], false);
    let colour = [255, 0, 255, 255];
    for on_top in [false, true] {
        let mut scene = from_above(None);
        let (a, b) = ([10.0, 20.0, 5.0], [30.0, 20.0, 5.0]); // within the box
        scene.lines.push(Line3 { a, b, colour, width: 5.0, on_top });
        bench.draw(&scene);
        assert_eq!(bench.count(colour) > 100, on_top, "{} pixels", bench.count(colour));
    }
}
