//! A window on a few blocks, and a person at it.

use crate::common;
use base::{Affine, Progress};
pub(crate) use eframe::egui::{self, Event, Key, Modifiers, PointerButton, Pos2, Vec2, vec2};
pub(crate) use egui_kittest::kittest::{NodeT as _, Queryable as _};
use egui_kittest::{Harness, Node};
use nesting::{Body, PlacedBodies, Solid, Space};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use viewer::{App, Start};

/// Within three steps of the grid on which parts are moved by hand, mm: each of two contacts in a row
/// leaves a little more than one.
pub(crate) const EXACT: f64 = 3e-6;
/// Views, as [`App::on_screen`] lists them.
pub(crate) const CHAMBER: usize = 0;
pub(crate) const ELEVATION: usize = 1;
pub(crate) const PLAN: usize = 2;
/// Clearances of the job, mm.
pub(crate) const PARTS_MM: f64 = 3.0;
pub(crate) const WALLS_MM: f64 = 5.0;
pub(crate) const SPACE_MM: [f64; 3] = [180.0, 180.0, 250.0];

/// Cubes of 20 mm, without shrinkage: two side by side, one above the second, and a long bar.
pub(crate) fn job(folder: &Path, locked: &str) -> PathBuf {
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
        version: 3,
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

pub(crate) fn cuboid(size: [u32; 3]) -> String {
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

pub(crate) struct Window {
    pub(crate) harness: Harness<'static, App>,
    pub(crate) folder: tempfile::TempDir,
}

impl Window {
    pub(crate) fn open() -> Self {
        Self::with_locked("")
    }

    pub(crate) fn with_locked(locked: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let open = Some(job(folder.path(), locked));
        Self::on(folder, open)
    }

    /// A window on a job of so many cubes of 4 mm, each a part of its own, in rows of 20.
    pub(crate) fn of_many(count: usize) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let path = job(folder.path(), "");
        std::fs::write(folder.path().join("cube.obj"), cuboid([4, 4, 4])).expect("written");
        let mut text = std::fs::read_to_string(&path).expect("the job");
        text.truncate(text.find("parts: [").expect("parts"));
        text.push_str("parts: [");
        for number in 1..=count {
            let at = [number % 20, number / 20 % 20, number / 400].map(|k| k as f64 * 8.0);
            let [x, y, z] = [at[0] - 76.0, at[1] - 76.0, at[2] + 10.0];
            let placed = format!("placements: [(location_mm: ({x:?}, {y:?}, {z:?}))]");
            writeln!(text, "(name: \"part {number}\", mesh: \"cube.obj\", {placed}),")
                .expect("written");
        }
        text.push_str("])");
        std::fs::write(&path, text).expect("written");
        Self::on(folder, Some(path))
    }

    /// A window on the bar, and on two blocks that nesting is to place.
    pub(crate) fn with_unplaced() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let path = job(folder.path(), "");
        let text = std::fs::read_to_string(&path).expect("the job");
        let (from, to) =
            (text.find("nest: Some").expect("it"), text.find("name: \"bar\"").expect("it"));
        let text = [&text[..from], "nest: Some((quantity: Some(2)))), (", &text[to..]].concat();
        std::fs::write(&path, text).expect("written");
        Self::on(folder, Some(path))
    }

    /// A window on a job in a folder; a relative path starts there.
    pub(crate) fn on(folder: tempfile::TempDir, open: Option<PathBuf>) -> Self {
        let open = open.map(|job| folder.path().join(job));
        let state_folder = Some(folder.path().join("state"));
        let harness = Harness::builder()
            .with_size(vec2(1440.0, 900.0))
            .allow_missing_glyphs()
            .wgpu()
            .build_eframe(|cc| {
                App::new(cc, Start { open, state_folder, type_paths: true, ..Start::default() })
            });
        let mut window = Self { harness, folder };
        window.settle();
        window.press_button("Look from the front");
        window.steps(30); // the camera arrives
        window
    }

    pub(crate) fn settle(&mut self) {
        common::settle(&mut self.harness);
    }

    pub(crate) fn steps(&mut self, count: usize) {
        self.harness.run_steps(count);
    }

    pub(crate) fn press_button(&mut self, name: &str) {
        self.harness.get_by_label(name).click();
        self.steps(3);
    }

    /// What happens on contact, by the chamber's choice.
    pub(crate) fn on_contact(&mut self, name: &str) {
        self.harness.get_by_label_contains("On contact:").click();
        self.steps(3);
        self.press_button(name);
        let word = name.split([' ', ',']).next().expect("a word");
        self.harness.get_by_label(&format!("On contact: {word}"));
    }

    /// The middle of a number of the strip; the traveller, to its left, has the same ones.
    pub(crate) fn field(&self, name: &str) -> Pos2 {
        let all = self.harness.query_all_by_label(name);
        let is_field = |node: &Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        let left = |node: &Node<'_>| node.rect().left();
        let field = all.filter(is_field).max_by(|a, b| left(a).total_cmp(&left(b)));
        field.expect(name).rect().center()
    }

    /// Types into a number of the strip.
    pub(crate) fn type_number(&mut self, name: &str, number: &str) {
        let field = self.field(name);
        self.click(field);
        self.steps(2);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.harness.event(Event::Text(number.to_owned()));
        self.harness.key_press(Key::Enter);
        self.steps(2);
        self.settle();
    }

    pub(crate) fn at(&self, view: usize, mm: [f64; 3]) -> Pos2 {
        self.harness.state().on_screen(mm)[view].expect("a view that is shown")
    }

    pub(crate) fn location(&self, part: usize, copy: usize) -> [f64; 3] {
        self.harness.state().placement(part, copy).expect("a placement").location_mm
    }

    #[track_caller]
    pub(crate) fn stands(&self, part: usize, copy: usize, expected: [f64; 3]) {
        let found = self.location(part, copy);
        let off = (0..3).map(|k| (found[k] - expected[k]).abs()).fold(0.0, f64::max);
        assert!(off < EXACT, "{found:?} is not {expected:?}");
    }

    pub(crate) fn button(
        &mut self,
        pos: Pos2,
        button: PointerButton,
        pressed: bool,
        with: Modifiers,
    ) {
        self.harness.event(Event::PointerMoved(pos));
        self.harness.event(Event::PointerButton { pos, button, pressed, modifiers: with });
        self.harness.step();
    }

    pub(crate) fn click_with(&mut self, pos: Pos2, with: Modifiers) {
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

    pub(crate) fn click(&mut self, pos: Pos2) {
        self.click_with(pos, Modifiers::NONE);
    }

    /// Presses and moves, in steps, without letting go; waits for what the hand answers.
    pub(crate) fn hold(&mut self, from: Pos2, by: Vec2, button: PointerButton, with: Modifiers) {
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

    pub(crate) fn let_go(&mut self, at: Pos2, button: PointerButton) {
        self.button(at, button, false, Modifiers::NONE);
        self.harness.event(Event::ModifiersChanged(Modifiers::NONE));
        self.settle();
    }

    pub(crate) fn drag(&mut self, from: Pos2, by: Vec2) {
        self.hold(from, by, PointerButton::Primary, Modifiers::NONE);
        self.let_go(from + by, PointerButton::Primary);
    }

    /// Drags the arrow along X or Z of what is chosen, in the chamber seen from the front.
    pub(crate) fn drag_arrow(&mut self, middle: [f64; 3], along: usize, by_mm: f64) {
        let (from, by) = self.arrow(middle, along, by_mm);
        self.drag(from, by);
    }

    pub(crate) fn arrow(&self, middle: [f64; 3], along: usize, by_mm: f64) -> (Pos2, Vec2) {
        let mut to = middle;
        to[along] += by_mm;
        let (from, to) = (self.at(CHAMBER, middle), self.at(CHAMBER, to));
        let tip = if along == 0 { vec2(66.0, 0.0) } else { vec2(0.0, -66.0) };
        (from + tip, to - from)
    }

    pub(crate) fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.steps(2);
    }

    pub(crate) fn undo(&mut self) {
        self.key(Modifiers::COMMAND, Key::Z);
        self.settle();
    }

    pub(crate) fn undo_label(&self) -> Option<&str> {
        self.harness.state().undo_label()
    }

    pub(crate) fn chosen(&self) -> Vec<(usize, usize)> {
        self.harness.state().selected_copies()
    }

    /// What the drawing of the chamber says.
    pub(crate) fn chamber_says(&self) -> String {
        let chamber = self.harness.get_by_label_contains("Chamber drawing");
        chamber.accesskit_node().label().expect("a label")
    }

    pub(crate) fn number(&self, name: &str) -> f64 {
        let field = |node: &Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        let mut all = self.harness.query_all_by_label(name);
        all.find(field).expect(name).accesskit_node().numeric_value().expect("a number")
    }

    /// The smallest distance between two placements, as `nesting` measures it, and whether every
    /// wall is far enough.
    pub(crate) fn least_mm(&self) -> (f64, bool) {
        let cube = mesh(&cuboid([20, 20, 20]));
        let bar = mesh(&cuboid([40, 8, 8]));
        let state = self.harness.state();
        let placed = [(0, &cube), (1, &bar)].into_iter().flat_map(|(part, solid)| {
            let all = (0..).map_while(move |copy| state.placement(part, copy));
            all.map(move |placement| {
                let vertices = solid.mesh().vertices.iter().copied();
                let pose: Affine = placement.pose(vertices, [1.0; 3]);
                Body { solid: Arc::clone(solid), pose }
            })
        });
        let space =
            Space { size_mm: SPACE_MM, wall_clearance_mm: WALLS_MM, clearance_mm: PARTS_MM };
        let mut all = PlacedBodies::new(placed.collect(), space);
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
    pub(crate) fn touches_nothing(&self) {
        let (least, walls) = self.least_mm();
        assert!((least - PARTS_MM).abs() < EXACT && least > PARTS_MM - 1e-6, "{least}");
        assert!(walls);
    }

    pub(crate) fn picture(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("HATCHWRIGHT_PICTURES") else { return };
        let picture = self.harness.render().expect("a picture");
        picture.save(Path::new(&folder).join(format!("by_hand_{name}.png"))).expect("saved");
    }
}

fn mesh(obj: &str) -> Arc<Solid> {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("a.obj"), obj).expect("written");
    let text = r#"(version: 3, name: "a", machine: "a", recipe: "a", parts: [
        (name: "a", mesh: "a.obj", placements: [(location_mm: (0, 0, 0))])])"#;
    let job = job::Job::from_ron(text).expect("a job");
    let loaded = pipeline::load_part_mesh(folder.path(), &job.parts[0], &Progress::default());
    loaded.expect("a mesh").solid()
}

pub(crate) const FIRST: [f64; 3] = [-40.0, 0.0, 30.0];
pub(crate) const SECOND: [f64; 3] = [20.0, 4.0, 30.0];
pub(crate) const THIRD: [f64; 3] = [20.0, 0.0, 70.0];
