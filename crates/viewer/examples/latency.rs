//! How long the window keeps a person waiting while it is busy: with a dense plan in sight, while parts are nested,
//! while a large mesh is read, and while a file is written.
//!
//! `cargo run --release -p viewer --example latency [SECONDS]`
//!
//! In every frame the pointer moves over the plan, and every few frames an arrow key asks for another layer. Told is
//! the longest frame of our own code by the clock, with whatever else ran on the same cores, and of the processor; the
//! longest time from an arrow key to the frame that shows its layer; and the longest drawing of a frame, graphics driver
//! included, which in software (lavapipe) is most of it: after the pointer alone has moved, and after another layer has come.

#![expect(clippy::print_stdout, reason = "a measuring tool")]

mod support;

use eframe::egui::{self, Event, Key, Modifiers, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use support::Timed;
use viewer::{App, Start, demo_job};

type Answer<T> = Result<T, Box<dyn std::error::Error>>;

/// Plates in the dense job, in rows of ten, and lines of the hatch in each.
const PLATES: usize = 100;
const LINES: f64 = 400.0;
const PLATE_MM: f64 = 15.0;
/// A ring with twice so many triangles.
const RING: [usize; 2] = [1000, 700];
/// Frames between two steps of a layer, and between two drawings.
const STEP_EVERY: usize = 12;
const DRAW_EVERY: usize = 6;

fn main() -> Answer<()> {
    let seconds = std::env::args().nth(1).map_or(Ok(10.0), |text| text.parse())?;
    let limit = Duration::from_secs_f64(seconds);
    let folder = tempfile::tempdir()?;
    let dense = dense_job(folder.path())?;
    println!(
        "longest, ms:            own frame (processor)   step of a layer   drawn: hover    step"
    );
    let mut window = Window::open(dense.clone())?;
    println!("(the plan has {} marks)", window.harness.state().app.shown_marks());
    window.drive("dense plan, nothing else", limit);

    window.key(Modifiers::COMMAND, Key::Enter);
    window.drive("the same while it is written", limit);
    drop(window);

    let ring = folder.path().join("ring.stl");
    std::fs::write(&ring, ring_stl())?;
    let mut window = Window::open(dense)?;
    window.harness.state_mut().app.add_mesh_files(&[ring]);
    window.drive("1.4 M triangles come", limit);
    drop(window);

    let demo = demo_job().ok_or("the demo job is not there: start this in the project's folder")?;
    let mut window = Window::open(demo)?;
    window.key(Modifiers::COMMAND, Key::K);
    window.harness.event(Event::Text("nest all".to_owned()));
    window.harness.run_steps(2);
    window.key(Modifiers::NONE, Key::Enter);
    window.drive("the demo while it is nested", limit);
    Ok(())
}

struct Window {
    harness: Harness<'static, Timed>,
    /// Where the plan is drawn.
    plan: egui::Rect,
}

impl Window {
    fn open(job: PathBuf) -> Answer<Self> {
        let start = Start { open: Some(job), type_paths: true, ..Start::default() };
        let mut harness = Harness::builder()
            .with_size(vec2(1440.0, 900.0))
            .allow_missing_glyphs()
            .wgpu()
            .build_eframe(|cc| Timed::new(App::new(cc, start)));
        let started = Instant::now();
        while !harness.state().app.is_settled() {
            if started.elapsed() > Duration::from_mins(5) {
                return Err("the window does not settle".into());
            }
            harness.step();
            std::thread::sleep(Duration::from_millis(5));
        }
        harness.run_steps(10);
        let plan = harness.get_by_label_contains("Plan of layer").rect();
        let mut window = Self { harness, plan };
        window.harness.render()?; // what is uploaded once
        Ok(window)
    }

    fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.harness.run_steps(2);
    }

    /// A place over the plan that moves on from frame to frame.
    fn pointer(&self, frame: usize) -> Pos2 {
        let [x, y] = [0.37, 0.61].map(|pace: f32| (frame as f32 * pace * 0.1).sin() * 0.4 + 0.5);
        self.plan.lerp_inside(vec2(x, y))
    }

    fn drive(&mut self, what: &str, limit: Duration) {
        let (mut own, mut worked, mut step) = (0.0_f64, 0.0_f64, 0.0_f64);
        // after the pointer alone has moved, and after another layer has come
        let mut drawn = [0.0_f64; 2];
        let mut last_drawn = self.harness.state().app.shown_layer();
        let mut waits: Option<(Instant, u32)> = None;
        let started = Instant::now();
        for frame in 0.. {
            if started.elapsed() > limit {
                break;
            }
            self.harness.event(Event::PointerMoved(self.pointer(frame)));
            if waits.is_none() && frame % STEP_EVERY == 0 {
                let is_up = frame / STEP_EVERY % 8 < 4;
                let before = self.harness.state().app.shown_layer();
                let after = if is_up { before + 1 } else { before.saturating_sub(1) };
                waits = Some((Instant::now(), after));
                let key = if is_up { Key::ArrowUp } else { Key::ArrowDown };
                self.harness.key_press(key);
            }
            self.harness.step();
            let app = &self.harness.state().app;
            own = own.max(self.harness.state().last.clock_ms);
            worked = worked.max(self.harness.state().last.processor_ms);
            if let Some((asked, layer)) = waits
                && app.shown_layer() == layer
                && app.shown_marks() > 0
            {
                step = step.max(asked.elapsed().as_secs_f64() * 1e3);
                waits = None;
            }
            if frame % DRAW_EVERY == 0 {
                let before = Instant::now();
                let layer = self.harness.state().app.shown_layer();
                if self.harness.render().is_ok() {
                    let took = &mut drawn[usize::from(layer != last_drawn)];
                    *took = took.max(before.elapsed().as_secs_f64() * 1e3);
                }
                last_drawn = layer;
            }
        }
        let unanswered = waits.map_or(0.0, |(asked, _)| asked.elapsed().as_secs_f64() * 1e3);
        let step = step.max(unanswered);
        let [hover, other] = drawn;
        println!("{what:<27} {own:>5.1} {worked:>11.1} {step:>17.1} {hover:>14.0} {other:>7.0}");
    }
}

/// A job of plates side by side, each hatched so finely that the layer has 40,000 vectors.
fn dense_job(folder: &Path) -> Answer<PathBuf> {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
    std::fs::copy(assets.join("machines/bench_co2_30w.ron"), folder.join("machine.ron"))?;
    let recipe = std::fs::read_to_string(assets.join("recipes/pa12.ron"))?;
    let spacing = format!("spacing_mm: {:.4},", PLATE_MM / LINES);
    std::fs::write(folder.join("recipe.ron"), recipe.replace("spacing_mm: 0.2,", &spacing))?;
    let mut plate = String::new();
    for corner in 0..8 {
        let side = |bit: usize, size: f64| if corner >> bit & 1 == 1 { size } else { 0.0 };
        writeln!(plate, "v {} {} {}", side(0, PLATE_MM), side(1, PLATE_MM), side(2, 10.0))?;
    }
    for face in ["1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"] {
        writeln!(plate, "f {face}")?;
    }
    std::fs::write(folder.join("plate.obj"), plate)?;
    let place = |number: usize| {
        let at = [number % 10, number / 10].map(|k| k as f64 * (PLATE_MM + 2.0) - 76.5);
        format!("(location_mm: ({:?}, {:?}, 7))", at[0], at[1])
    };
    let places: Vec<String> = (0..PLATES).map(place).collect();
    let job = format!(
        "(version: 3, name: \"Plates\", machine: \"machine.ron\", recipe: \"recipe.ron\", clearances: \
         (parts_mm: 1.0, walls_mm: 1.0), parts: [(name: \"plate\", mesh: \"plate.obj\", placements: [{}])])",
        places.join(", ")
    );
    let path = folder.join("plates.ron");
    std::fs::write(&path, job)?;
    Ok(path)
}

/// A ring of 1.4 million triangles, 40 mm across, as a binary STL file.
fn ring_stl() -> Vec<u8> {
    let [around, across] = RING;
    let at = |i: usize, k: usize| {
        let turn = |n: usize, of: usize| (n % of) as f64 / of as f64 * std::f64::consts::TAU;
        let (a, b) = (turn(i, around), turn(k, across));
        let radius = 15.0 + 5.0 * b.cos();
        [radius * a.cos(), radius * a.sin(), 5.0 * b.sin()]
    };
    let mut bytes = vec![0; 80];
    let count = u32::try_from(2 * around * across).unwrap_or(0);
    bytes.extend(count.to_le_bytes());
    for i in 0..around {
        for k in 0..across {
            let [p, q, r, s] = [at(i, k), at(i + 1, k), at(i + 1, k + 1), at(i, k + 1)];
            for triangle in [[p, q, r], [p, r, s]] {
                bytes.extend([0; 12]); // no normal
                #[expect(clippy::cast_possible_truncation, reason = "what the format holds")]
                let corners = triangle.as_flattened().iter().map(|c| *c as f32);
                bytes.extend(corners.flat_map(f32::to_le_bytes));
                bytes.extend([0; 2]);
            }
        }
    }
    bytes
}
