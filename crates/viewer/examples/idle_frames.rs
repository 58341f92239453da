//! What a frame in which nothing changes costs of our own code, and whether a resting window asks
//! for frames at all. Run it in software (lavapipe) to compare with the figures in DEVELOPERS.md:
//!
//! `cargo run --release -p viewer --example idle_frames [JOB.ron]`
//!
//! Counted is the processor time of the window's thread in the app: collecting results, laying out
//! strip, traveller and views, and making the drawings' data. Not counted is what the window
//! library and the graphics driver do with it.

#![expect(clippy::print_stdout, reason = "a measuring tool")]

mod support;

use eframe::egui;
use egui_kittest::Harness;
use std::path::PathBuf;
use std::time::Duration;
use support::Timed;
use viewer::{App, Start, demo_job};

const FRAMES: usize = 300;

fn main() {
    let job = std::env::args().nth(1).map(PathBuf::from).or_else(demo_job);
    let start = Start { open: job, type_paths: true, ..Start::default() };
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1920.0, 1080.0))
        .allow_missing_glyphs()
        .wgpu()
        .build_eframe(|cc| Timed::new(App::new(cc, start)));
    loop {
        harness.step();
        if harness.state().app.is_settled() {
            break;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    harness.run_steps(10); // pictures of parts, the last notices
    let asked = harness.try_run().map_or_else(|e| e.to_string(), |n| n.to_string());

    let frame = |_| {
        harness.step();
        harness.state().last.processor_ms
    };
    let mut frames: Vec<f64> = (0..FRAMES).map(frame).collect();
    frames.sort_by(f64::total_cmp);
    let at = |percent: usize| frames[(frames.len() - 1) * percent / 100];
    println!("{} idle frames, 1920 × 1080, processor time of our own code:", frames.len());
    println!("median {:.2} ms, p95 {:.2} ms, most {:.2} ms", at(50), at(95), at(100));
    println!("frames that the resting window asked for before it slept: {asked}");
}
