//! The dose in the window's plan and what follows from it, driven by accessible names, on whatever
//! graphics device there is.

mod common;

use base::Progress;
use eframe::egui::{self, Key, Modifiers, Pos2, vec2};
use eframe::egui_wgpu::WgpuSetup;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use egui_kittest::{Harness, SnapshotOptions};
use estimate::DoseField;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use viewer::{App, Start};

struct Window {
    harness: Harness<'static, App>,
    folder: tempfile::TempDir,
}

/// What a graphics device is to be able to do.
#[derive(Clone, Copy, PartialEq)]
enum Device {
    Any,
    /// Draw, but not compute.
    DrawsOnly,
}

impl Window {
    /// The coupon, open and computed, on a copy of the demo's files.
    fn open(device: Device) -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let folder = tempfile::tempdir().expect("a folder");
        for part in ["assets/machines", "assets/recipes", "assets/parts", "demo-jobs"] {
            let (from, to) = (root.join(part), folder.path().join(part));
            std::fs::create_dir_all(&to).expect("a folder");
            for entry in std::fs::read_dir(from).expect("the demo's files") {
                let entry = entry.expect("an entry");
                std::fs::copy(entry.path(), to.join(entry.file_name())).expect("a copy");
            }
        }
        let open = Some(folder.path().join("demo-jobs/coupon.ron"));
        let builder = Harness::builder().with_size(vec2(1280.0, 800.0)).allow_missing_glyphs();
        let builder = match device {
            Device::Any => builder.wgpu(),
            Device::DrawsOnly => builder.wgpu_setup(without_compute()),
        };
        let harness = builder.build_eframe(|cc| App::new(cc, Start { open, ..Start::default() }));
        let mut window = Self { harness, folder };
        window.settle();
        window
    }

    /// More than once: an outline is asked for when the dose is there, and another after it.
    fn settle(&mut self) {
        for _ in 0..4 {
            common::settle(&mut self.harness);
        }
    }

    fn job(&self) -> PathBuf {
        self.folder.path().join("demo-jobs/coupon.ron")
    }

    fn press(&mut self, name: &str) {
        self.harness.get_by_label(name).scroll_to_me();
        self.harness.run_steps(8);
        self.harness.get_by_label(name).click();
        self.harness.run_steps(3);
        self.settle();
    }

    fn show_dose(&mut self) {
        self.press("Colour shows");
        self.press("dose");
    }

    /// What is said in a label that contains some words.
    fn said(&self, words: &str) -> String {
        let node = self.harness.get_by_label_contains(words);
        let node = node.accesskit_node();
        node.value().or_else(|| node.label()).expect("words")
    }

    fn says(&self, text: &str) -> bool {
        self.harness.query_all_by_label_contains(text).next().is_some()
    }

    /// The colour of the window at a place.
    fn pixel(&mut self, at: Pos2) -> [u8; 4] {
        self.harness.remove_cursor();
        self.harness.run_steps(2);
        let picture = self.harness.render().expect("a picture");
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a pixel")]
        let pixel = picture.get_pixel(at.x as u32, at.y as u32);
        pixel.0
    }
}

/// What the least device of WebGL 2 can do, which is not to compute.
fn without_compute() -> WgpuSetup {
    let mut setup = egui_kittest::wgpu::default_wgpu_setup();
    if let WgpuSetup::CreateNew(new) = &mut setup {
        new.device_descriptor = Arc::new(|adapter| wgpu::DeviceDescriptor {
            required_limits: wgpu::Limits::downlevel_webgl2_defaults()
                .using_resolution(adapter.limits()),
            ..Default::default()
        });
    }
    setup
}

/// Numbers of a text, a true minus being one.
fn numbers(text: &str) -> Vec<f64> {
    let text = text.replace('−', "-");
    text.split_whitespace().filter_map(|word| word.parse().ok()).collect()
}

#[test]
fn the_dose_has_a_legend_and_the_value_under_the_pointer_is_that_of_the_field() {
    let mut window = Window::open(Device::Any);
    let layer = window.harness.state().shown_layer();
    let progress = Progress::default();
    let loaded = pipeline::load(&window.job(), &progress).expect("the job");
    let build = pipeline::Build::new(loaded, &progress).expect("a build");
    let computed = build.layer(layer, &progress).expect("a layer");
    let strokes = pipeline::strokes(&computed.layer.blocks, &build.header.exposures);
    let field = DoseField::new(&strokes, build.melt(0).beam).expect("finite strokes");

    window.show_dose();
    let legend = window.said("Legend: dose from 0 to");
    // J/mm²: ρ·(cp·ΔT + L)·z/A of the recipe's material, 0.4545e-3·(2.5·17 + 100)·0.1/0.95
    assert!(legend.contains("0.00682 J/mm²: melts powder as deep as one layer"), "{legend}");
    assert!(legend.contains("0.03 J/mm²: mean of the core's hatch"), "{legend}");

    // in the middle of a stroke, at its end, and outside of everything
    let stroke = strokes[strokes.len() / 2];
    let middle = [0, 1].map(|axis| f64::midpoint(stroke.from[axis], stroke.to[axis]));
    for place in [middle, stroke.to, [stroke.to[0] + 0.3, stroke.to[1]]] {
        let at = window.harness.state().on_screen([place[0], place[1], 0.0])[2].expect("in sight");
        window.harness.hover_at(at.round());
        window.harness.run_steps(4);
        let said = window.said(" J/mm², ");
        let [x, y, dose, times] = numbers(&said)[..] else { panic!("{said}") };
        let exact = field.at([x, y]);
        // digits shown: half of the last one, and places half a µm off
        let slope = field.gradient_at([x, y]).iter().map(|c| c.abs()).sum::<f64>();
        assert!((dose - exact).abs() < 0.6e-5 + 0.6e-3 * slope, "{said}: not {exact}");
        assert!((times - dose / build.melt(0).threshold_j_mm2).abs() < 0.02, "{said}");
    }
}

#[test]
fn the_outline_and_its_deviations_follow_a_changed_offset() {
    let mut window = Window::open(Device::Any);
    window.show_dose();
    let mean = |window: &Window| {
        let said = window.said("Predicted outline off the section");
        assert!(said.contains("over steady depth: mean"), "{said}");
        let numbers = numbers(&said.replace(['%', ','], " "));
        assert!(numbers.len() >= 6, "{said}");
        [numbers[0], numbers[3]] // nominal and steady depth
    };
    let before = mean(&window);
    assert!(before[0].abs() < 0.02, "the recipe's offset suits its energy: {before:?}");
    assert!(before[1] < before[0], "deeper powder melts less wide: {before:?}");
    window.press("Recipe");
    window.type_into("Beam offset", "0.284");
    let after = mean(&window);
    for (before, after) in before.iter().zip(after) {
        // contours lie 0.1 mm farther in, and so does the melt, but for corners
        assert!((before - after - 0.1).abs() < 0.01, "{before} to {after}");
    }
    window.press("Predicted outline");
    assert!(!window.says("Predicted outline off the section"));
}

#[test]
fn a_predicted_offset_is_taken_over_and_undone_in_one_step() {
    let mut window = Window::open(Device::Any);
    let progress = Progress::default();
    let loaded = pipeline::load(&window.job(), &progress).expect("the job");
    let recipe = &loaded.recipes[0].recipe;
    let proposed = pipeline::proposed_offsets(recipe, &loaded.machine).expect("a beam");
    let before = recipe.beam_offset_mm;
    window.press("Recipe");
    assert!(window.says(&format!("offset {before} mm")));
    assert!(window.says("melts from 0.0068 J/mm²; the core's hatch brings 4.4 times that"));
    for offset_mm in [proposed.nominal_mm, proposed.steady_mm] {
        let offset = format!("{:.3}", offset_mm.expect("it melts"));
        window.press(&format!("Use {offset} mm"));
        let offset: f64 = offset.parse().expect("a number");
        assert!(window.says(&format!("offset {offset} mm")), "{offset}");
        window.harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        window.harness.run_steps(2);
        window.settle();
        assert!(window.says(&format!("offset {before} mm")), "{offset}");
    }
}

#[test]
fn a_device_that_cannot_compute_is_told_in_words() {
    let mut window = Window::open(Device::DrawsOnly);
    assert!(!window.says("cannot be drawn"), "nobody asked");
    window.show_dose();
    assert!(window.says("The dose cannot be drawn: this graphics driver cannot compute"));
    // Nothing wrong is shown: the section as ever, and the numbers, which need no graphics device.
    assert!(window.says("Predicted outline off the section"));
}

/// In both inks against their pictures, all of the layer and one corner of it.
#[test]
fn the_dose_looks_as_it_did() {
    let mut window = Window::open(Device::Any);
    window.show_dose();
    // on the lower right leg of the bracket
    let leg = window.harness.state().on_screen([9.0, -20.5, 0.0])[2].expect("in sight").round();
    let pale = window.pixel(leg);
    window.snapshot("dose_paper");
    window.harness.key_press_modifiers(Modifiers::COMMAND, Key::B);
    window.harness.run_steps(2);
    window.settle();
    window.snapshot("dose_blueprint");
    assert_ne!(window.pixel(leg), pale, "another ink");
    window.harness.hover_at(leg);
    for _ in 0..8 {
        window.harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: vec2(0.0, 80.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Wheel,
            modifiers: Modifiers::NONE,
        });
        window.harness.step();
    }
    window.harness.run_steps(20);
    window.harness.remove_cursor();
    window.harness.run_steps(2);
    window.settle();
    window.snapshot("dose_near");
}

impl Window {
    /// Types a number into a field of the traveller.
    fn type_into(&mut self, name: &str, number: &str) {
        {
            let is_field = |node: &egui_kittest::Node<'_>| {
                node.accesskit_node().role() == egui::Role::SpinButton
            };
            let mut all = self.harness.query_all_by_label(name);
            all.find(is_field).expect(name).focus();
        }
        self.harness.run_steps(2);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.harness.run_steps(1);
        self.harness.event(egui::Event::Text(number.to_owned()));
        self.harness.run_steps(1);
        self.harness.key_press(Key::Enter);
        self.harness.run_steps(2);
        self.settle();
    }

    fn snapshot(&mut self, name: &str) {
        let options = SnapshotOptions::new().threshold(2.0).max_failed_pixels(1500_usize);
        self.harness.snapshot_options(name, &options);
    }
}
