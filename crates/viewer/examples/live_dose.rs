//! From a changed number to the dose: how long the plan takes, without a graphics card if run in
//! software (lavapipe), as with the figures in DEVELOPERS.md:
//!
//! `cargo run --release -p viewer --example live_dose [JOB.ron]`
//!
//! Types a beam offset into the traveller and looks when the new layer's dose is ready to be drawn, what
//! drawing the window then takes, and when the predicted outline is there.

#![expect(clippy::print_stdout, reason = "a measuring tool")]

use eframe::egui::{self, Key, Modifiers};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use egui_kittest::{Harness, Node};
use std::path::PathBuf;
use std::time::{Duration, Instant};
use viewer::{App, Start, demo_job};

const ROUNDS: u32 = 20;

fn main() {
    let job = std::env::args().nth(1).map(PathBuf::from).or_else(demo_job);
    let start = Start { open: job, type_paths: true, ..Start::default() };
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1440.0, 900.0))
        .allow_missing_glyphs()
        .wgpu()
        .build_eframe(|cc| App::new(cc, start));
    settle(&mut harness);
    for name in ["Recipe", "Colour shows", "dose"] {
        harness.get_by_label(name).click();
        harness.run_steps(3);
    }
    settle(&mut harness);
    wait(&mut harness, 1);
    println!("{} marks in the layer", harness.state().shown_marks());
    let mut times: [Vec<f64>; 4] = Default::default();
    for round in 0..ROUNDS {
        let measured = changed(&mut harness, 0.150 + 0.002 * f64::from(round));
        for (all, one) in times.iter_mut().zip(measured) {
            all.push(one);
        }
    }
    let names = [
        "from the change until the dose is ready to be drawn",
        "drawing the window then",
        "drawing it once more, which sums up nothing",
        "from the change to the outline, drawing included",
    ];
    for (name, mut times) in names.into_iter().zip(times) {
        times.sort_by(f64::total_cmp);
        let at = |percent: usize| times[(times.len() - 1) * percent / 100];
        println!("{name}: median {:.1} ms, p95 {:.1} ms, most {:.1} ms", at(50), at(95), at(100));
    }
}

fn settle(harness: &mut Harness<'_, App>) {
    for _ in 0..4 {
        loop {
            harness.step();
            if harness.state().is_settled() {
                break;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// Waits for the dose, or for the outline, too.
fn wait(harness: &mut Harness<'_, App>, which: usize) {
    harness.step(); // takes a change
    while !harness.state().shows_dose()[which] {
        std::thread::sleep(Duration::from_millis(1));
        harness.step();
    }
}

/// Changes the beam offset; ms until the dose is ready, for drawing it, and until the outline is there.
fn changed(harness: &mut Harness<'_, App>, offset_mm: f64) -> [f64; 4] {
    {
        let is_field =
            |node: &Node<'_>| node.accesskit_node().role() == egui::accesskit::Role::SpinButton;
        let mut all = harness.query_all_by_label("Beam offset");
        all.find(is_field).expect("the field").focus();
    }
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.step();
    harness.event(egui::Event::Text(format!("{offset_mm:.3}")));
    harness.step();
    harness.key_press(Key::Enter);
    let started = Instant::now();
    let ms = |since: Instant| since.elapsed().as_secs_f64() * 1e3;
    wait(harness, 0);
    let ready = ms(started);
    let drawn = [(); 2].map(|()| {
        let drawing = Instant::now();
        harness.render().expect("a picture");
        ms(drawing)
    });
    wait(harness, 1);
    [ready, drawn[0], drawn[1], ms(started)]
}
