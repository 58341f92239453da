//! Parts moved by hand in the real window: chamber, elevation and plan, with the pointer, by
//! accessible names, against answers that are known for boxes.
//!
//! Set `HATCHWRIGHT_PICTURES` to a folder to keep a picture of each state.

mod common;

use base::{Affine, Progress};
use eframe::egui::{self, Event, Key, Modifiers, PointerButton, Pos2, Vec2, vec2};
use egui_kittest::{Harness, Node, kittest::NodeT as _, kittest::Queryable as _};
use nesting::{Body, Neighbours, Solid, Space};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use viewer::{App, Start};

/// Within two steps of the grid on which parts are moved by hand, mm.
const EXACT: f64 = 2e-6;
/// Views, as [`App::on_screen`] lists them.
const CHAMBER: usize = 0;
const ELEVATION: usize = 1;
const PLAN: usize = 2;
/// Clearances of the job, mm.
const PARTS_MM: f64 = 3.0;
const WALLS_MM: f64 = 5.0;
const SPACE_MM: [f64; 3] = [180.0, 180.0, 250.0];

/// Cubes of 20 mm, without shrinkage: two side by side, one above the second, and a long bar.
fn job(folder: &Path, locked: &str) -> PathBuf {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
    let machine = "machines/bench_co2_30w.ron";
    std::fs::copy(assets.join(machine), folder.join("machine.ron")).expect("a copy");
    let recipe = std::fs::read_to_string(assets.join("recipes/pa12.ron")).expect("a recipe");
    let recipe =
        recipe.replace("shrinkage_percent: (3.2, 3.2, 2.2)", "shrinkage_percent: (0, 0, 0)");
    std::fs::write(folder.join("recipe.ron"), recipe).expect("written");
    std::fs::write(folder.join("block.obj"), cuboid([20, 20, 20])).expect("written");
    std::fs::write(folder.join("bar.obj"), cuboid([40, 8, 8])).expect("written");
    let job = format!(
        r#"(
        version: 1,
        name: "Blocks",
        machine: "machine.ron",
        recipe: "recipe.ron",
        clearances: (parts_mm: {PARTS_MM:?}, walls_mm: {WALLS_MM:?}),
        parts: [
            (
                name: "block",
                mesh: "block.obj",
                nest: Some((locked: [{locked}])),
                placements: [
                    (location_mm: (-40, 0, 30)),
                    (location_mm: (20, 4, 30)),
                    (location_mm: (20, 0, 70)),
                ],
            ),
            (name: "bar", mesh: "bar.obj", placements: [(location_mm: (-30, 60, 40))]),
        ],
    )"#
    );
    let path = folder.join("blocks.ron");
    std::fs::write(&path, job).expect("written");
    path
}

fn cuboid(size: [u32; 3]) -> String {
    let mut text = String::new();
    for corner in 0..8 {
        let side = |bit: usize| if corner >> bit & 1 == 1 { size[bit] } else { 0 };
        writeln!(text, "v {} {} {}", side(0), side(1), side(2)).expect("a string takes all");
    }
    for face in ["1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"] {
        writeln!(text, "f {face}").expect("a string takes all");
    }
    text
}

struct Window {
    harness: Harness<'static, App>,
    _folder: tempfile::TempDir,
}

impl Window {
    fn open() -> Self {
        Self::with_locked("")
    }

    fn with_locked(locked: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let open = Some(job(folder.path(), locked));
        let state_folder = Some(folder.path().join("state"));
        let harness = Harness::builder()
            .with_size(vec2(1440.0, 900.0))
            .allow_missing_glyphs()
            .wgpu()
            .build_eframe(|cc| App::new(cc, Start { open, state_folder, ..Start::default() }));
        let mut window = Self { harness, _folder: folder };
        window.settle();
        window.press_button("Look from the front");
        window.steps(30); // the camera arrives
        window
    }

    fn settle(&mut self) {
        common::settle(&mut self.harness);
    }

    fn steps(&mut self, count: usize) {
        self.harness.run_steps(count);
    }

    fn press_button(&mut self, name: &str) {
        self.harness.get_by_label(name).click();
        self.steps(3);
    }

    /// What happens on contact, by the chamber's choice.
    fn on_contact(&mut self, name: &str) {
        self.harness.get_by_label_contains("On contact:").click();
        self.steps(3);
        self.press_button(name);
        let word = name.split([' ', ',']).next().expect("a word");
        self.harness.get_by_label(&format!("On contact: {word}"));
    }

    /// Types into a number of the strip below the chamber; the traveller has the same ones.
    fn type_number(&mut self, name: &str, number: &str) {
        {
            let all = self.harness.query_all_by_label(name);
            let is_field = |node: &Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
            let right = |node: &Node<'_>| node.rect().left();
            let field = all.filter(is_field).max_by(|a, b| right(a).total_cmp(&right(b)));
            field.expect(name).click();
        }
        self.steps(2);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.harness.event(Event::Text(number.to_owned()));
        self.harness.key_press(Key::Enter);
        self.steps(2);
        self.settle();
    }

    fn at(&self, view: usize, mm: [f64; 3]) -> Pos2 {
        self.harness.state().on_screen(mm)[view].expect("a view that is shown")
    }

    fn location(&self, part: usize, copy: usize) -> [f64; 3] {
        self.harness.state().placement(part, copy).expect("a placement").location_mm
    }

    #[track_caller]
    fn stands(&self, part: usize, copy: usize, expected: [f64; 3]) {
        let found = self.location(part, copy);
        let off = (0..3).map(|k| (found[k] - expected[k]).abs()).fold(0.0, f64::max);
        assert!(off < EXACT, "{found:?} is not {expected:?}");
    }

    fn button(&mut self, pos: Pos2, button: PointerButton, pressed: bool, with: Modifiers) {
        self.harness.event(Event::PointerMoved(pos));
        self.harness.event(Event::PointerButton { pos, button, pressed, modifiers: with });
        self.harness.step();
    }

    fn click_with(&mut self, pos: Pos2, with: Modifiers) {
        self.harness.event(Event::ModifiersChanged(with));
        self.harness.event(Event::PointerMoved(pos));
        self.harness.step();
        self.button(pos, PointerButton::Primary, true, with);
        self.button(pos, PointerButton::Primary, false, with);
        self.harness.event(Event::ModifiersChanged(Modifiers::NONE));
        self.steps(2);
        // The next click is no double click.
        self.harness.event(Event::PointerMoved(pos + vec2(40.0, 40.0)));
        self.steps(30);
    }

    fn click(&mut self, pos: Pos2) {
        self.click_with(pos, Modifiers::NONE);
    }

    /// Presses and moves, in steps, without letting go; waits for what the hand answers.
    fn hold(&mut self, from: Pos2, by: Vec2, button: PointerButton, with: Modifiers) {
        self.harness.event(Event::ModifiersChanged(with));
        self.harness.event(Event::PointerMoved(from));
        self.harness.step();
        self.button(from, button, true, with);
        for part in 1..=5_u8 {
            self.harness.event(Event::PointerMoved(from + by * (f32::from(part) / 5.0)));
            self.steps(2);
        }
        self.settle();
    }

    fn let_go(&mut self, at: Pos2, button: PointerButton) {
        self.button(at, button, false, Modifiers::NONE);
        self.harness.event(Event::ModifiersChanged(Modifiers::NONE));
        self.settle();
    }

    fn drag(&mut self, from: Pos2, by: Vec2) {
        self.hold(from, by, PointerButton::Primary, Modifiers::NONE);
        self.let_go(from + by, PointerButton::Primary);
    }

    /// Drags the arrow along X or Z of what is chosen, in the chamber seen from the front.
    fn drag_arrow(&mut self, middle: [f64; 3], along: usize, by_mm: f64) {
        let (from, by) = self.arrow(middle, along, by_mm);
        self.drag(from, by);
    }

    fn arrow(&self, middle: [f64; 3], along: usize, by_mm: f64) -> (Pos2, Vec2) {
        let mut to = middle;
        to[along] += by_mm;
        let (from, to) = (self.at(CHAMBER, middle), self.at(CHAMBER, to));
        let tip = if along == 0 { vec2(66.0, 0.0) } else { vec2(0.0, -66.0) };
        (from + tip, to - from)
    }

    fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.steps(2);
    }

    fn undo(&mut self) {
        self.key(Modifiers::COMMAND, Key::Z);
        self.settle();
    }

    fn undo_label(&self) -> Option<&str> {
        self.harness.state().undo_label()
    }

    fn chosen(&self) -> Vec<(usize, usize)> {
        self.harness.state().chosen_copies()
    }

    /// What the drawing of the chamber says.
    fn chamber_says(&self) -> String {
        let chamber = self.harness.get_by_label_contains("Chamber drawing");
        chamber.accesskit_node().label().expect("a label")
    }

    fn number(&self, name: &str) -> f64 {
        let field = |node: &Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        let mut all = self.harness.query_all_by_label(name);
        all.find(field).expect(name).accesskit_node().numeric_value().expect("a number")
    }

    /// The smallest distance between two placements, as `nesting` measures it, and whether every
    /// wall is far enough.
    fn least_mm(&self) -> (f64, bool) {
        let cube = mesh(&cuboid([20, 20, 20]));
        let bar = mesh(&cuboid([40, 8, 8]));
        let state = self.harness.state();
        let placed = [(0, &cube), (1, &bar)].into_iter().flat_map(|(part, solid)| {
            let all = (0..).map_while(move |copy| state.placement(part, copy));
            all.map(move |placement| {
                let vertices = solid.surface().mesh().vertices.iter().copied();
                let pose: Affine = placement.pose(vertices, [1.0; 3]);
                Body { solid: Arc::clone(solid), pose }
            })
        });
        let space =
            Space { size_mm: SPACE_MM, wall_clearance_mm: WALLS_MM, clearance_mm: PARTS_MM };
        let mut all = Neighbours::new(placed.collect(), space);
        let mut least = f64::INFINITY;
        for number in 0..all.bodies().len() {
            let pose = all.bodies()[number].pose;
            let gaps = all.near(number, pose, 300.0, &Progress::default()).expect("not cancelled");
            least = gaps.iter().map(|gap| gap.distance_mm).fold(least, f64::min);
        }
        let walls = (0..all.bodies().len()).filter_map(|number| all.walls(number));
        (least, walls.flatten().all(|wall| !wall.violates))
    }

    #[track_caller]
    fn touches_nothing(&self) {
        let (least, walls) = self.least_mm();
        assert!((least - PARTS_MM).abs() < EXACT && least > PARTS_MM - 1e-6, "{least}");
        assert!(walls);
    }

    fn picture(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("HATCHWRIGHT_PICTURES") else { return };
        let picture = self.harness.render().expect("a picture");
        picture.save(Path::new(&folder).join(format!("by_hand_{name}.png"))).expect("saved");
    }
}

fn mesh(obj: &str) -> Arc<Solid> {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("a.obj"), obj).expect("written");
    let text = r#"(version: 1, name: "a", machine: "a", recipe: "a", parts: [
        (name: "a", mesh: "a.obj", placements: [(location_mm: (0, 0, 0))])])"#;
    let job = job::Job::from_ron(text).expect("a job");
    let loaded = pipeline::load_part_mesh(folder.path(), &job.parts[0], &Progress::default());
    loaded.expect("a mesh").solid()
}

const FIRST: [f64; 3] = [-40.0, 0.0, 30.0];
const SECOND: [f64; 3] = [20.0, 4.0, 30.0];
const THIRD: [f64; 3] = [20.0, 0.0, 70.0];

#[test]
fn clicks_choose_add_and_take_out_and_two_that_are_chosen_are_dimensioned() {
    let mut window = Window::open();
    let [first, second] = [FIRST, SECOND].map(|at| window.at(CHAMBER, at));
    let beside = window.at(CHAMBER, [-75.0, 0.0, 120.0]);
    window.click(first);
    assert_eq!(window.chosen(), [(0, 0)]);
    assert!((window.number("Location X") - FIRST[0]).abs() < 1e-9);
    window.click_with(second, Modifiers::SHIFT);
    assert_eq!(window.chosen(), [(0, 0), (0, 1)]);
    window.click_with(second, Modifiers::SHIFT);
    assert_eq!(window.chosen(), [(0, 0), (0, 1)], "Shift only adds");
    window.settle();
    window.steps(5);
    // 60 mm from middle to middle, less twice 10 mm; overlapping along Y and Z.
    for _ in 0..100 {
        if window.chamber_says().contains("apart") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
        window.steps(1);
    }
    assert!(window.chamber_says().contains(", 40.00 mm apart"), "{}", window.chamber_says());
    window.picture("two_chosen");
    window.click_with(beside, Modifiers::SHIFT);
    assert_eq!(window.chosen().len(), 2, "Shift beside all parts takes nothing away");
    window.click_with(first, Modifiers::COMMAND);
    assert_eq!(window.chosen(), [(0, 1)], "Ctrl takes out");
    window.click_with(first, Modifiers::COMMAND);
    assert_eq!(window.chosen(), [(0, 0), (0, 1)], "Ctrl takes in");
    window.click(second);
    assert_eq!(window.chosen(), [(0, 1)]);
    window.click(beside);
    assert_eq!(window.chosen(), []);
}

#[test]
fn a_part_stops_exactly_at_the_clearance_and_slides_along() {
    let mut window = Window::open();
    window.on_contact("stop, keep the clearance");
    window.click(window.at(CHAMBER, FIRST));
    let (from, by) = window.arrow(FIRST, 0, 90.0);
    window.hold(from, by, PointerButton::Primary, Modifiers::NONE);
    assert!(window.chamber_says().contains("3.00 mm to block 2 of 3"), "{}", window.chamber_says());
    assert!(!window.chamber_says().contains("too near"), "{}", window.chamber_says());
    window.picture("stopped");
    window.let_go(from + by, PointerButton::Primary);
    window.stands(0, 0, [-3.0, 0.0, 30.0]);
    window.touches_nothing();
    assert_eq!(window.undo_label(), Some("move block 1 of 3"));
    window.undo();
    window.stands(0, 0, FIRST);
    assert_eq!(window.undo_label(), None, "a drag is one step");

    // The other way, to the wall.
    window.drag_arrow(FIRST, 0, -70.0);
    window.stands(0, 0, [-90.0 + WALLS_MM + 10.0, 0.0, 30.0]);
    window.undo();

    // Held by its body it goes on along what it meets: level, and out of the drawing.
    window.press_button("Look from above");
    window.steps(30);
    let off = vec2(-9.0, 9.0); // beside the handles
    for (to_y, x_wanted) in [(15.0, -3.0), (32.0, 10.0)] {
        let [from, to] = [FIRST, [10.0, to_y, 30.0]].map(|mut at| {
            at[2] = 40.0; // where it is touched
            window.at(CHAMBER, at) + off
        });
        window.drag(from, to - from);
        let [x, y, z] = window.location(0, 0);
        assert!((y - to_y).abs() < 0.3 && (z - 30.0).abs() < EXACT, "{y}, {z}");
        if to_y < 27.0 {
            window.touches_nothing();
            assert!((x - x_wanted).abs() < EXACT, "held by the second block: {x}");
        } else {
            assert!((x - x_wanted).abs() < 0.3, "past it, it comes to the pointer: {x}");
        }
        window.undo();
    }
}

#[test]
fn passing_through_marks_what_is_too_near() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    let (from, by) = window.arrow(FIRST, 0, 38.0);
    window.hold(from, by, PointerButton::Primary, Modifiers::NONE);
    for _ in 0..100 {
        if window.chamber_says().contains("too near") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
        window.steps(1);
    }
    let says = window.chamber_says();
    let x = window.location(0, 0)[0];
    assert!((x + 2.0).abs() < 0.3, "{x}");
    let wanted = format!("{:.2} mm, too near to block 2 of 3", -x);
    assert!(says.contains(&wanted), "{says}");
    window.picture("too_near");
    window.let_go(from + by, PointerButton::Primary);
    assert!(!window.chamber_says().contains("too near"), "only while it is held");
}

#[test]
fn esc_puts_back_what_is_dragged_and_stops_nothing_else() {
    let mut window = Window::open();
    for contact in ["pass through", "stop, keep the clearance"] {
        if contact != "pass through" {
            window.on_contact(contact);
        }
        window.click(window.at(CHAMBER, FIRST));
        let (from, by) = window.arrow(FIRST, 0, 25.0);
        window.hold(from, by, PointerButton::Primary, Modifiers::NONE);
        assert!((window.location(0, 0)[0] - FIRST[0] - 25.0).abs() < 0.3);
        window.key(Modifiers::NONE, Key::Escape);
        window.stands(0, 0, FIRST);
        assert_eq!(window.undo_label(), None, "as if it had never been");
        assert_eq!(window.chosen(), [(0, 0)], "Esc ended the drag and nothing else");
        window.settle();
        assert!(window.harness.state().shown_marks() > 0, "the layer is computed all the same");
        // The pointer moves on, with the button down: nothing follows.
        window.harness.event(Event::PointerMoved(from + by * 0.5));
        window.steps(3);
        window.let_go(from, PointerButton::Primary);
        window.stands(0, 0, FIRST);
        window.key(Modifiers::NONE, Key::Escape);
        assert_eq!(window.chosen(), [], "without a drag, Esc goes on to the choice");
    }
}

#[test]
fn alt_moves_freely_and_shift_with_the_other_button_pans() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    let is_whole = |mm: f64| ((mm * 10.0) - (mm * 10.0).round()).abs() < 1e-6;
    let (from, by) = window.arrow(FIRST, 0, 10.07);
    window.drag(from, by);
    assert!(is_whole(window.location(0, 0)[0]), "{:?}", window.location(0, 0));
    window.undo();
    window.hold(from, by, PointerButton::Primary, Modifiers::ALT);
    let free = window.location(0, 0)[0];
    window.let_go(from + by, PointerButton::Primary);
    assert!((free - FIRST[0] - 10.07).abs() < 0.2 && !is_whole(free), "{free}");
    window.undo();

    let before = window.at(CHAMBER, SECOND);
    let at = window.at(CHAMBER, [-75.0, 0.0, 120.0]);
    let by = vec2(35.0, 20.0);
    window.hold(at, by, PointerButton::Secondary, Modifiers::SHIFT);
    window.let_go(at + by, PointerButton::Secondary);
    let moved = window.at(CHAMBER, SECOND) - before;
    assert!(moved.x > 20.0 && moved.y > 10.0, "{moved:?}");
    assert_eq!(window.undo_label(), None, "panning changes no part");
}

#[test]
fn buttons_duplicate_and_delete_what_is_chosen() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    window.press_button("Duplicate");
    window.settle();
    assert_eq!(window.harness.state().placement_count(), 5);
    assert_eq!(window.chosen(), [(0, 3)], "the copy is chosen");
    assert_eq!(window.undo_label(), Some("duplicate a placement"));
    window.press_button("Delete");
    window.settle();
    assert_eq!(window.harness.state().placement_count(), 4);
    window.undo();
    window.undo();
    assert_eq!(window.undo_label(), None);
    window.stands(0, 0, FIRST);
}

#[test]
fn pushing_takes_along_what_is_in_the_way_but_not_what_is_locked() {
    let mut window = Window::open();
    window.on_contact("push aside");
    window.click(window.at(CHAMBER, FIRST));
    let (from, by) = window.arrow(FIRST, 0, 60.0);
    window.hold(from, by, PointerButton::Primary, Modifiers::NONE);
    window.picture("pushed");
    window.let_go(from + by, PointerButton::Primary);
    let x = window.location(0, 0)[0];
    assert!((x - 20.0).abs() < 0.3, "{x}");
    window.stands(0, 1, [x + 23.0, SECOND[1], SECOND[2]]);
    window.stands(0, 2, THIRD);
    window.touches_nothing();
    window.undo();
    window.stands(0, 0, FIRST);
    window.stands(0, 1, SECOND);
    assert_eq!(window.undo_label(), None, "all of it is one step");
    // As far as the wall lets what is pushed.
    window.drag_arrow(FIRST, 0, 120.0);
    window.stands(0, 1, [75.0, SECOND[1], SECOND[2]]);
    window.stands(0, 0, [52.0, 0.0, 30.0]);
    window.touches_nothing();

    let mut window = Window::with_locked("1");
    window.on_contact("push aside");
    window.click(window.at(CHAMBER, FIRST));
    window.drag_arrow(FIRST, 0, 60.0);
    window.stands(0, 0, [-3.0, 0.0, 30.0]);
    window.stands(0, 1, SECOND);
}

#[test]
fn what_is_let_down_lands_exactly() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, THIRD));
    window.key(Modifiers::NONE, Key::PageDown);
    window.settle();
    window.stands(0, 2, [THIRD[0], THIRD[1], 40.0 + PARTS_MM + 10.0]);
    window.touches_nothing();
    assert_eq!(window.undo_label(), Some("let down block 3 of 3"));
    window.undo();
    window.stands(0, 2, THIRD);
    assert_eq!(window.undo_label(), None);
    // Both of the pile, the lower one first.
    window.click_with(window.at(CHAMBER, SECOND), Modifiers::SHIFT);
    assert_eq!(window.chosen(), [(0, 1), (0, 2)]);
    window.press_button("Let down");
    window.settle();
    window.stands(0, 1, [SECOND[0], SECOND[1], WALLS_MM + 10.0]);
    window.stands(0, 2, [THIRD[0], THIRD[1], WALLS_MM + 20.0 + PARTS_MM + 10.0]);
    window.touches_nothing();
    window.undo();
    window.stands(0, 1, SECOND);
    window.stands(0, 2, THIRD);
    assert_eq!(window.undo_label(), None, "both are one step");
}

#[test]
fn the_elevation_chooses_moves_and_turns() {
    let mut window = Window::open();
    window.on_contact("stop, keep the clearance");
    let layer = window.harness.state().shown_layer();
    let first = window.at(ELEVATION, FIRST);
    // A drag on what is not chosen draws the layer's line.
    window.drag(first, vec2(0.0, -30.0));
    assert_ne!(window.harness.state().shown_layer(), layer);
    window.stands(0, 0, FIRST);
    let layer = window.harness.state().shown_layer();
    window.click(first);
    assert_eq!(window.chosen(), [(0, 0)]);
    assert_eq!(window.harness.state().shown_layer(), layer, "a click on a part chooses it");

    // It moves across and up; the second block holds it across, and it goes on up.
    let to = window.at(ELEVATION, [20.0, 0.0, 40.0]);
    window.hold(first, to - first, PointerButton::Primary, Modifiers::NONE);
    let layer_label = window.harness.get_by_label_contains("Layer, of");
    let says = layer_label.accesskit_node().label().expect("a label");
    assert!(says.contains("3.00 mm to block 2 of 3"), "{says}");
    window.picture("elevation");
    window.let_go(to, PointerButton::Primary);
    let [x, y, z] = window.location(0, 0);
    assert!((x + 3.0).abs() < EXACT && y.abs() < 1e-12, "{x}, {y}");
    assert!((z - 40.0).abs() < 0.6, "{z}");
    window.touches_nothing();
    assert_eq!(window.harness.state().shown_layer(), layer, "the layer's line stays");
    window.undo();
    window.stands(0, 0, FIRST);
    assert_eq!(window.undo_label(), None, "a drag is one step");

    // The knob above the bar, drawn round to its right: a quarter clockwise, about Y.
    let bar = [-30.0, 60.0, 40.0];
    window.click(window.at(ELEVATION, [-48.0, 60.0, 42.0]) + vec2(0.0, 0.0));
    if window.chosen() != [(1, 0)] {
        // The block stands in front of it: take the bar by its row.
        window.press_button("bar");
    }
    assert_eq!(window.chosen(), [(1, 0)]);
    let middle = window.at(ELEVATION, bar);
    let knob = window.at(ELEVATION, [bar[0], bar[1], bar[2] + 4.0]) - vec2(0.0, 18.0);
    let to = middle + vec2(40.0, 0.0);
    window.drag(knob, to - knob);
    let turned = window.harness.state().placement(1, 0).expect("the bar");
    assert!((turned.turns_deg[1].abs() - 90.0).abs() < 1e-6, "{:?}", turned.turns_deg);
    assert_eq!(turned.location_mm, bar);
    assert_eq!(window.undo_label(), Some("turn bar"));
    window.picture("turned");
    window.undo();
    assert_eq!(window.harness.state().placement(1, 0).expect("the bar").turns_deg, [0.0; 3]);
    assert_eq!(window.undo_label(), None);
}

#[test]
fn what_turns_stops_or_makes_room() {
    let mut window = Window::open();
    window.press_button("bar");
    // Level between two blocks, 6 mm from each; a typed number is taken at its word.
    for (name, number) in [("Location X", "20"), ("Location Y", "0"), ("Location Z", "50")] {
        window.type_number(name, number);
    }
    window.stands(1, 0, [20.0, 0.0, 50.0]);
    let knob_to = |window: &mut Window, name: &str| {
        let middle = window.at(ELEVATION, [20.0, 0.0, 50.0]);
        let knob = window.at(ELEVATION, [20.0, 0.0, 54.0]) - vec2(0.0, 18.0);
        let to = middle + 60.0 * vec2(-0.5, -0.75_f32.sqrt()); // 30° counter-clockwise
        window.hold(knob, to - knob, PointerButton::Primary, Modifiers::NONE);
        window.picture(name);
        window.let_go(to, PointerButton::Primary);
        window.harness.state().placement(1, 0).expect("the bar").turns_deg[1]
    };
    window.on_contact("stop, keep the clearance");
    let turned = knob_to(&mut window, "turn_stopped");
    // The upper face of the bar passes (10 tan φ + 4 / cos φ) above its middle at the block's edge.
    let (sin, cos) = turned.to_radians().sin_cos();
    let gap = (10.0 - 10.0 * sin.abs() / cos - 4.0 / cos) * cos;
    assert!((gap - PARTS_MM).abs() < EXACT && turned < -10.0, "{turned}: {gap}");
    window.undo();

    window.on_contact("push aside");
    let turned = knob_to(&mut window, "turn_pushed");
    assert!((turned + 30.0).abs() < 1e-6, "{turned}");
    let (least, walls) = window.least_mm();
    assert!(least > PARTS_MM - 1e-6 && least < PARTS_MM + 0.06 && walls, "{least}");
    assert!(window.location(0, 1)[2] < SECOND[2] - 1.0, "{:?}", window.location(0, 1));
    assert!(window.location(0, 2)[2] > THIRD[2] + 1.0, "{:?}", window.location(0, 2));
    window.undo();
    window.stands(0, 1, SECOND);
    window.stands(0, 2, THIRD);
    assert_eq!(window.harness.state().placement(1, 0).expect("the bar").turns_deg, [0.0; 3]);
}

#[test]
fn the_plan_pans_beside_what_is_chosen_and_moves_it() {
    let mut window = Window::open();
    window.on_contact("stop, keep the clearance");
    window.key(Modifiers::NONE, Key::Home);
    for _ in 0..30 {
        window.harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
        window.harness.step();
    }
    window.settle();
    window.steps(5);
    let first = window.at(PLAN, FIRST);
    window.drag(first, vec2(30.0, 10.0));
    window.stands(0, 0, FIRST);
    let panned = window.at(PLAN, FIRST) - first;
    assert!((panned - vec2(30.0, 10.0)).length() < 1.0, "{panned:?}");
    let first = window.at(PLAN, FIRST);
    window.click(first);
    assert_eq!(window.chosen(), [(0, 0)]);
    let to = window.at(PLAN, [5.0, 12.0, 0.0]);
    window.hold(first, to - first, PointerButton::Primary, Modifiers::NONE);
    let plan = window.harness.get_by_label_contains("Plan of layer");
    let says = plan.accesskit_node().label().expect("a label");
    assert!(says.contains("3.00 mm to block 2 of 3"), "{says}");
    window.picture("plan");
    window.let_go(to, PointerButton::Primary);
    let [x, y, z] = window.location(0, 0);
    assert!((x + 3.0).abs() < EXACT && (y - 12.0).abs() < 0.5 && z == 30.0, "{x} {y} {z}");
    window.touches_nothing();
    window.undo();
    window.stands(0, 0, FIRST);
    assert_eq!(window.undo_label(), None);
}

#[test]
fn what_happens_on_contact_is_remembered() {
    let mut window = Window::open();
    window.key(Modifiers::COMMAND, Key::K);
    window.harness.event(Event::Text("contact push".to_owned()));
    window.steps(2);
    window.harness.key_press(Key::Enter);
    window.steps(3);
    window.harness.get_by_label("On contact: push");
    let state = window._folder.path().join("state");
    eframe::App::on_exit(window.harness.state_mut());
    let kept = std::fs::read_to_string(state.join("window.ron")).expect("settings");
    assert!(kept.contains("on_contact: Push"), "{kept}");
}
