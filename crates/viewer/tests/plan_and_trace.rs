//! The plan and the trace in the real window, driven by accessible names, on whatever graphics
//! device there is.

mod common;

use eframe::egui::{
    Event, Key, Modifiers, MouseWheelSource, MouseWheelUnit, PointerButton, Pos2, Rect, TouchPhase,
    vec2,
};
use egui_kittest::{Harness, Node, kittest::NodeT as _, kittest::Queryable as _};
use std::fmt::Write as _;
use std::path::Path;
use viewer::{App, Start};

/// Two small blocks beside each other, 5 mm high, in a machine and with a recipe of the assets.
fn job(folder: &Path) -> std::path::PathBuf {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
    for file in ["machines/bench_co2_30w.ron", "recipes/pa12.ron"] {
        let name = Path::new(file).file_name().expect("a file");
        std::fs::copy(assets.join(file), folder.join(name)).expect("a copy");
    }
    std::fs::write(folder.join("block.obj"), block()).expect("written");
    let job = r#"(
        version: 3,
        name: "Two blocks",
        machine: "bench_co2_30w.ron",
        recipe: "pa12.ron",
        parts: [(
            name: "block",
            mesh: "block.obj",
            placements: [(location_mm: (-15, 0, 2.6)), (location_mm: (15, 0, 2.6))],
        )],
    )"#;
    let path = folder.join("two_blocks.ron");
    std::fs::write(&path, job).expect("written");
    path
}

/// A cuboid of 20 × 12 × 5 mm.
fn block() -> String {
    let mut text = String::new();
    for corner in 0..8 {
        let side = |bit: u32, size: u32| if corner >> bit & 1 == 1 { size } else { 0 };
        let (x, y, z) = (side(0, 20), side(1, 12), side(2, 5));
        writeln!(text, "v {x} {y} {z}").expect("a string takes all");
    }
    for [a, b, c, d] in
        [[1, 3, 4, 2], [5, 6, 8, 7], [1, 2, 6, 5], [3, 7, 8, 4], [1, 5, 7, 3], [2, 4, 8, 6]]
    {
        writeln!(text, "f {a} {b} {c} {d}").expect("a string takes all");
    }
    text
}

struct Window {
    harness: Harness<'static, App>,
    _folder: tempfile::TempDir,
}

impl Window {
    /// The job, open and computed, at layer 20.
    fn open() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let open = Some(job(folder.path()));
        let harness = Harness::builder()
            .with_size(vec2(1280.0, 800.0))
            .allow_missing_glyphs()
            .wgpu()
            .build_eframe(|cc| App::new(cc, Start { open, ..Start::default() }));
        let mut window = Self { harness, _folder: folder };
        window.settle();
        window.harness.key_press(Key::Home);
        for _ in 0..2 {
            window.harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
            window.harness.step();
        }
        window.settle();
        window
    }

    fn settle(&mut self) {
        common::settle(&mut self.harness);
    }

    fn steps(&mut self, count: usize) {
        self.harness.run_steps(count);
    }

    fn plan(&self) -> Node<'_> {
        self.harness.get_by_label_contains("Plan of layer")
    }

    /// A button of the plan's rows; the traveller may hold the same word.
    fn press(&mut self, name: &str) {
        let left = self.plan().rect().left() - 40.0;
        {
            let mut all = self.harness.query_all_by_label(name);
            all.find(|node| node.rect().left() > left).expect(name).click();
        }
        self.steps(3);
        self.settle(); // what is drawn is made in the background
    }

    fn click(&mut self, pos: Pos2, button: PointerButton) {
        self.harness.hover_at(pos);
        self.harness.step();
        for pressed in [true, false] {
            let modifiers = Modifiers::NONE;
            self.harness.event(Event::PointerButton { pos, button, pressed, modifiers });
            self.harness.step();
        }
        self.steps(3);
    }

    fn drag(&mut self, from: Pos2, to: Pos2) {
        self.harness.drag_at(from);
        self.harness.step();
        for part in 1..=4_u8 {
            self.harness.hover_at(from + (to - from) * (f32::from(part) / 4.0));
            self.harness.step();
        }
        self.harness.drop_at(to);
        self.steps(2);
    }

    /// How many pixels of the plan another look changed.
    fn changed(&mut self, change: impl FnOnce(&mut Self)) -> usize {
        let (before, after);
        let rect = self.plan().rect().shrink(30.0);
        self.harness.remove_cursor();
        self.steps(2);
        before = self.harness.render().expect("a picture");
        change(self);
        self.harness.remove_cursor();
        self.settle();
        self.steps(2);
        after = self.harness.render().expect("a picture");
        let pixels = before.enumerate_pixels().zip(after.pixels());
        let inside = |x: u32, y: u32| rect.contains(Pos2::new(x as f32, y as f32));
        pixels.filter(|((x, y, a), b)| inside(*x, *y) && a != b).count()
    }

    fn beam_s(&self) -> f64 {
        let slider = self.harness.get_by_label("Beam time in the layer, seconds");
        slider.accesskit_node().numeric_value().expect("a number")
    }
}

#[test]
fn each_kind_of_line_can_be_left_out_and_colour_shows_what_is_chosen() {
    let mut window = Window::open();
    assert_eq!(window.changed(|_| ()), 0, "a still window changes");
    for name in ["Section", "Contours", "Hatch", "Jumps", "Run-ins"] {
        let changed = window.changed(|window| window.press(name));
        assert!(changed > 50, "{name} changes {changed} pixels");
    }
    window.press("Hatch"); // shown again
    let changed = window.changed(|window| {
        window.harness.get_by_label("Colour shows").click();
        window.steps(3);
        window.harness.get_by_label("power").click();
        window.steps(3);
    });
    assert!(changed > 500, "{changed}");
    window.harness.get_by_label_contains("Legend: power from");
}

#[test]
fn hovering_tells_what_a_mark_is_and_the_menu_brings_the_beam_to_it() {
    let mut window = Window::open();
    let at = window.plan().rect().center() + vec2(0.25, 0.0) * window.plan().rect().width();
    window.harness.hover_at(at);
    window.steps(8);
    window.harness.get_by_label_contains(" of block 2 of 2, ");
    window.harness.get_by_label_contains(" mm long");
    window.harness.get_by_label_contains(" W at ");
    assert!(window.beam_s() < 1e-12);
    window.click(at, PointerButton::Secondary);
    window.harness.get_by_label("Bring the beam to this mark").click();
    window.steps(3);
    assert!(window.beam_s() > 0.0);
}

#[test]
fn the_measure_snaps_to_corners_and_says_its_length() {
    let mut window = Window::open();
    let rect = window.plan().rect();
    let (low, high) = ink_bounds(&mut window, rect);
    window.harness.key_press(Key::M);
    window.steps(2);
    // from the lower left corner of all that is drawn to the lower right one, a few pixels off,
    // outside: inside, ends of hatch lines would be nearer
    window.drag(Pos2::new(low.x - 3.0, high.y + 3.0), Pos2::new(high.x + 3.0, high.y + 3.0));
    let plan = window.harness.get_by_label_contains("measured:");
    let said = plan.accesskit_node().label().expect("a label");
    // 30 mm between the locations and a block of 20 mm, over 1 - 0.032
    let wanted = format!("{:.3} mm at 0.0°", 30.0 + 20.0 / (1.0 - 0.032));
    assert!(said.contains(&wanted), "{said}, not {wanted}");
    // Two clicks measure as well, here the other way; the second ends it.
    for x in [high.x + 3.0, low.x - 3.0, 0.5 * (low.x + high.x)] {
        window.click(Pos2::new(x, high.y + 3.0), PointerButton::Primary);
        let plan = window.harness.get_by_label_contains("measured:");
        let said = plan.accesskit_node().label().expect("a label");
        assert_eq!(said.contains("at 180.0°"), (x - (low.x - 3.0)).abs() < 1.0, "{said} at {x}");
    }
}

/// Corners of what stands out from the sheet within a rectangle, less its rulers.
fn ink_bounds(window: &mut Window, rect: Rect) -> (Pos2, Pos2) {
    window.harness.remove_cursor();
    window.steps(2);
    let picture = window.harness.render().expect("a picture");
    let inside = rect.shrink(4.0);
    let dark = picture.enumerate_pixels().filter(|(x, y, pixel)| {
        inside.contains(Pos2::new(*x as f32, *y as f32)) && pixel.0[0] < 90
    });
    dark.fold((Pos2::new(1e9, 1e9), Pos2::new(0.0, 0.0)), |(low, high), (x, y, _)| {
        let at = Pos2::new(x as f32, y as f32);
        (low.min(at), high.max(at + vec2(1.0, 1.0)))
    })
}

#[test]
fn the_beam_runs_steps_and_follows_the_pointer_in_the_trace() {
    let mut window = Window::open();
    window.harness.get_by_label("at commanded speeds");
    window.harness.get_by_label("Next mark").click();
    window.steps(2);
    let first = window.beam_s();
    window.harness.get_by_label("Next mark").click();
    window.steps(2);
    let second = window.beam_s();
    assert!(second > first && first > 0.0, "{first}, {second}");
    window.harness.get_by_label("Previous mark").click();
    window.steps(2);
    assert!((window.beam_s() - first).abs() < 1e-12);

    window.harness.get_by_label("Run the beam").click();
    window.steps(6);
    assert!(window.beam_s() > first);
    window.harness.get_by_label("Halt the beam").click();
    window.steps(2);
    let halted = window.beam_s();
    window.steps(4);
    assert!((window.beam_s() - halted).abs() < 1e-15);

    let slider = window.harness.get_by_label("Beam time in the layer, seconds").rect();
    let at = |share: f32| slider.left_center() + vec2(slider.width() * share, 0.0);
    window.drag(at(0.2), at(0.5));
    let half = window.beam_s();
    window.drag(at(0.5), at(1.0) - vec2(0.5, 0.0));
    let whole = window.beam_s();
    assert!((half / whole - 0.5).abs() < 0.01, "{half} of {whole}");
}

#[test]
fn a_chosen_placement_follows_a_drag_in_one_step_of_undo() {
    let mut window = Window::open();
    let rect = window.plan().rect();
    let (_, before) = ink_bounds(&mut window, rect);
    let block = rect.center() + vec2(0.25 * rect.width(), 0.0);
    window.click(block, PointerButton::Primary);
    window.drag(block, block + vec2(0.0, 60.0));
    window.settle();
    window.harness.get_by_label_contains("move block 2 of 2");
    let (_, after) = ink_bounds(&mut window, rect);
    assert!((after.y - before.y - 60.0).abs() < 3.0, "{before:?} to {after:?}");
    window.harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.settle();
    let (_, back) = ink_bounds(&mut window, rect);
    // it is still chosen, with a heavier outline
    assert!((back.y - before.y).abs() < 2.5, "{before:?} to {back:?}");
}

#[test]
fn the_wheel_goes_down_to_nanometres_and_fit_comes_back() {
    let mut window = Window::open();
    let at = window.plan().rect().center();
    let changed = window.changed(|window| {
        window.harness.hover_at(at);
        for _ in 0..60 {
            window.harness.event(Event::MouseWheel {
                unit: MouseWheelUnit::Point,
                delta: vec2(0.0, 80.0),
                phase: TouchPhase::Move,
                source: MouseWheelSource::Wheel,
                modifiers: Modifiers::NONE,
            });
            window.harness.step();
        }
        window.steps(10);
    });
    assert!(changed > 1000, "{changed}");
    let changed = window.changed(|window| window.press("Fit the plan"));
    assert!(changed > 1000, "{changed}");
}
