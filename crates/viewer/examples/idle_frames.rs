//! What a frame in which nothing changes costs of our own code, and whether a resting window asks
//! for frames at all. Run it in software (lavapipe) to compare with the figures in DEVELOPERS.md:
//!
//! `cargo run --release -p viewer --example idle_frames [JOB.ron]`
//!
//! Counted is the processor time of the window's thread in the app: collecting results, laying out
//! strip, traveller and views, and making the drawings' data. Not counted is what the window
//! library and the graphics driver do with it.

#![expect(clippy::print_stdout, reason = "a measuring tool")]

use cpu_time::ThreadTime;
use eframe::egui;
use egui_kittest::Harness;
use std::path::PathBuf;
use std::time::Duration;
use viewer::{App, Start, demo_job};

const FRAMES: usize = 300;

/// The app, and how long each of its frames took, ms.
struct Timed {
    app: App,
    frames_ms: Vec<f64>,
    logic_ms: f64,
}

impl eframe::App for Timed {
    fn logic(&mut self, ctx: &egui::Context, frame: &mut eframe::Frame) {
        let before = ThreadTime::now();
        self.app.logic(ctx, frame);
        self.logic_ms = before.elapsed().as_secs_f64() * 1e3;
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        let before = ThreadTime::now();
        self.app.ui(ui, frame);
        self.frames_ms.push(self.logic_ms + before.elapsed().as_secs_f64() * 1e3);
    }
}

fn main() {
    let job = std::env::args().nth(1).map(PathBuf::from).or_else(demo_job);
    let start = Start { open: job, type_paths: true, ..Start::default() };
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1920.0, 1080.0))
        .allow_missing_glyphs()
        .wgpu()
        .build_eframe(|cc| Timed {
            app: App::new(cc, start),
            frames_ms: Vec::new(),
            logic_ms: 0.0,
        });
    loop {
        harness.step();
        if harness.state().app.is_settled() {
            break;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    harness.run_steps(10); // pictures of parts, the last notices
    let asked = harness.try_run().map_or_else(|e| e.to_string(), |n| n.to_string());

    harness.state_mut().frames_ms.clear();
    harness.run_steps(FRAMES);
    let mut frames = std::mem::take(&mut harness.state_mut().frames_ms);
    frames.sort_by(f64::total_cmp);
    let at = |percent: usize| frames[(frames.len() - 1) * percent / 100];
    println!("{} idle frames, 1920 × 1080, processor time of our own code:", frames.len());
    println!("median {:.2} ms, p95 {:.2} ms, most {:.2} ms", at(50), at(95), at(100));
    println!("frames that the resting window asked for before it slept: {asked}");
}
