//! Measures the chamber on whatever graphics adapter there is, without a window.
//!
//! ```text
//! frames [--placements 300] [--triangles 200000] [--frames 240] [--size 1920x1080]
//!        [--section] [--blueprint] [--parallel] [--png FILE]
//! ```
//!
//! Builds a chamber of heavy parts, orbits once around it, and prints the 50th and 95th percentile
//! of the time of a frame from the first instruction of our own to the last pixel on the adapter
//! (the frame is waited for, so nothing overlaps), and of our own share on the processor alone.

#![expect(clippy::print_stdout, reason = "prints its measurements")]

mod support;

use render::chamber::{ChamberRenderer, Instance, MeshId, Scene, State, build_space, prepare_mesh};
use render::{Camera, Direction, Projection};
use std::sync::Arc;
use std::time::Instant;
use support::{arguments::Arguments, device, parts, picture, theme};

const SPACE_MM: [f32; 3] = [330.0, 330.0, 420.0];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments = Arguments::read(std::env::args().skip(1))?;
    let (device, queue, name) = device::adapter(|_| wgpu::Limits {
        max_texture_dimension_2d: 8192,
        ..wgpu::Limits::downlevel_defaults()
    })?;
    println!("adapter            {name}");
    println!("build              {}", if cfg!(debug_assertions) { "debug" } else { "release" });

    let mut renderer = ChamberRenderer::new(&device, wgpu::TextureFormat::Rgba8Unorm);
    let kinds = upload(&mut renderer, &device, arguments.triangles)?;
    let mut scene = scene(&arguments, kinds);
    let mut times = Times::default();
    for frame in 0..arguments.frames {
        let angle = frame as f32 / arguments.frames as f32 * std::f32::consts::TAU;
        scene.camera.look_from(Direction::Corner);
        scene.camera.yaw += angle;
        let shown = Arc::new(scene.clone());
        let begin = Instant::now();
        submit(&mut renderer, &device, &queue, &shown);
        times.ours.push(begin.elapsed().as_secs_f64() * 1e3);
        device.poll(wgpu::PollType::wait_indefinitely())?;
        times.whole.push(begin.elapsed().as_secs_f64() * 1e3);
    }
    let shown = Arc::new(scene.clone());
    for _ in 0..100 {
        let again = Arc::new((*shown).clone());
        let begin = Instant::now();
        submit(&mut renderer, &device, &queue, &again);
        times.idle.push(begin.elapsed().as_secs_f64() * 1e3);
        device.poll(wgpu::PollType::wait_indefinitely())?;
    }
    times.print(&renderer, &arguments);

    if let Some(path) = &arguments.png {
        scene.camera.look_from(Direction::Corner);
        submit(&mut renderer, &device, &queue, &Arc::new(scene));
        let texture = renderer.picture().ok_or("nothing was drawn")?;
        std::fs::write(path, picture::png(&device, &queue, texture)?)?;
        println!("picture            {path}");
    }
    Ok(())
}

/// Makes the meshes ready and hands them to the renderer; returns how many.
fn upload(
    renderer: &mut ChamberRenderer,
    device: &wgpu::Device,
    triangles: usize,
) -> Result<u64, Box<dyn std::error::Error>> {
    let start = Instant::now();
    let meshes = parts::kinds(triangles);
    let (mut triangles, mut bytes, mut preparing) = (0, 0, 0.0_f64);
    for (id, (vertices, faces)) in (0..).zip(&meshes) {
        let begin = Instant::now();
        let mesh = prepare_mesh(vertices, faces, &|| false).ok_or("cancelled")?;
        preparing = preparing.max(begin.elapsed().as_secs_f64());
        println!("levels             {:?}", mesh.triangle_counts());
        triangles += faces.len();
        bytes += mesh.byte_count();
        renderer.upload(device, MeshId(id), &mesh);
    }
    println!("meshes             {} of {} triangles in all", meshes.len(), triangles);
    println!(
        "made ready in      {preparing:.2} s the slowest, {:.1} MB on the adapter",
        bytes as f64 / 1e6
    );
    println!("with making them   {:.1} s", start.elapsed().as_secs_f64());
    Ok(meshes.len() as u64)
}

fn submit(
    renderer: &mut ChamberRenderer,
    device: &wgpu::Device,
    queue: &wgpu::Queue,
    scene: &Arc<Scene>,
) {
    let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
    renderer.prepare(device, queue, &mut encoder, scene);
    queue.submit([encoder.finish()]);
}

/// What frames took, ms.
#[derive(Default)]
struct Times {
    /// From our first instruction to the last pixel.
    whole: Vec<f64>,
    /// Our share of it on the processor.
    ours: Vec<f64>,
    /// Our share where nothing changed.
    idle: Vec<f64>,
}

impl Times {
    fn print(&mut self, renderer: &ChamberRenderer, arguments: &Arguments) {
        let stats = renderer.stats();
        let [w, h] = arguments.size;
        println!(
            "placements         {} of {} triangles, {} million in all",
            arguments.placements,
            arguments.triangles,
            stats.triangles_in_full / 1_000_000
        );
        println!(
            "last frame         {} instances, {} draws, {} triangles at the level chosen",
            stats.instances, stats.draws, stats.triangles
        );
        let line = |what: &str, times: &mut [f64], digits: usize| {
            let (p50, p95) = (share(times, 0.5), share(times, 0.95));
            println!("{what:<18} p50 {p50:.digits$} ms  p95 {p95:.digits$} ms");
        };
        line(&format!("frame at {w}x{h} "), &mut self.whole, 2);
        line("ours alone", &mut self.ours, 2);
        line("nothing changed", &mut self.idle, 3);
    }
}

/// The value below which this share of the values lies (nearest rank).
fn share(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
    let rank = (values.len() as f64 * share).ceil() as usize;
    values.get(rank.saturating_sub(1)).copied().unwrap_or(f64::NAN)
}

/// Parts on a lattice that fills the build space, turned this way and that.
fn scene(arguments: &Arguments, kinds: u64) -> Scene {
    let [sx, sy, sz] = SPACE_MM;
    let pitch = (sx * sy * sz / arguments.placements.max(1) as f32).cbrt().min(sx);
    let across = (1_u16..1000).find(|&n| f32::from(n) * pitch > sx - pitch * 0.5).unwrap_or(1);
    let across = u64::from(across);
    let layers = (arguments.placements as u64).div_ceil(across * across).max(1);
    let step = [sx / across as f32, sy / across as f32, sz / layers as f32];
    let size = f64::from(step[0].min(step[2])) * 0.46; // parts are made to fit a ball of radius 1
    let (palette, part_tones) =
        if arguments.blueprint { theme::blueprint() } else { theme::paper() };
    let instances = (0..arguments.placements as u64).map(|i| {
        let cell = [i % across, i / across % across, i / across / across];
        let centre = [0, 1, 2].map(|k| {
            let low = if k == 2 { 0.0 } else { -SPACE_MM[k] * 0.5 };
            f64::from(low + (cell[k] as f32 + 0.5) * step[k])
        });
        let (sin, cos) = (i as f64 * 0.7).sin_cos();
        let kind = (i * 7 + i / across) % kinds;
        Instance {
            mesh: MeshId(kind),
            pose: [
                [size * cos, -size * sin, 0.0, centre[0]],
                [size * sin, size * cos, 0.0, centre[1]],
                [0.0, 0.0, size, centre[2]],
            ],
            colour: part_tones[usize::try_from(kind).unwrap_or(0) % part_tones.len()],
            state: State { selected: i == 3, faulty: i == 11, faint: i % 29 == 17, hovered: false },
        }
    });
    let viewport = glam::Vec2::new(arguments.size[0] as f32, arguments.size[1] as f32);
    let projection =
        if arguments.parallel { Projection::Parallel } else { Projection::Perspective };
    let mut camera = Camera { viewport, projection, ..Camera::default() };
    camera.fit(glam::Vec3::new(-sx * 0.5, -sy * 0.5, 0.0), glam::Vec3::new(sx * 0.5, sy * 0.5, sz));
    let axes = [palette.selected, palette.hovered, palette.outline];
    let fine = [palette.outline[0], palette.outline[1], palette.outline[2], 110];
    Scene {
        camera,
        instances: instances.collect(),
        lines: build_space(SPACE_MM, fine, axes),
        section_mm: arguments.section.then_some(sz * 0.55),
        palette,
        pixels_per_point: 1.0,
        detail_pixels: 0.5,
    }
}
