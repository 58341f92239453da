//! A day at the window: the real app, driven by accessible names, on software Vulkan.
//!
//! Set `HATCHWRIGHT_PICTURES` to a folder to keep a picture of each state.

mod common;

use eframe::egui::{self, Key, Modifiers, vec2};
use egui_kittest::kittest::{By, NodeT as _, Queryable as _};
use egui_kittest::{Harness, Node, SnapshotOptions};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use viewer::{App, Start};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

struct Day {
    harness: Harness<'static, App>,
    folder: tempfile::TempDir,
}

impl Day {
    /// A window on a copy of the demo's files, opened on one of the demo jobs.
    fn open(job: Option<&str>, size: [f32; 2], scale: f32) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        for part in ["assets/machines", "assets/recipes", "assets/parts", "demo-jobs"] {
            let (from, to) = (root().join(part), folder.path().join(part));
            fs::create_dir_all(&to).expect("a folder");
            for entry in fs::read_dir(from).expect("the demo's files") {
                let entry = entry.expect("an entry");
                fs::copy(entry.path(), to.join(entry.file_name())).expect("a copy");
            }
        }
        let open = job.map(|job| folder.path().join("demo-jobs").join(job));
        let start = Start {
            open,
            state_folder: Some(folder.path().join("state")),
            type_paths: true,
            ..Start::default()
        };
        let harness = Harness::builder()
            .with_size(vec2(size[0] / scale, size[1] / scale))
            .with_pixels_per_point(scale)
            .allow_missing_glyphs()
            .wgpu()
            .build_eframe(|cc| App::new(cc, start));
        let mut day = Self { harness, folder };
        day.settle();
        day
    }

    fn settle(&mut self) {
        common::settle(&mut self.harness);
    }

    fn press(&mut self, name: &str) {
        self.harness.get_by_label(name).scroll_to_me();
        self.harness.run_steps(8); // the sheet may have to roll
        self.harness.get_by_label(name).click();
        self.harness.run_steps(2);
    }

    fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.harness.run_steps(2);
    }

    /// Types a number into a field of the traveller.
    fn type_into(&mut self, name: &str, number: &str) {
        let field = |node: &Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        {
            let mut all = self.harness.query_all_by_label(name);
            let field = all.find(field).expect(name);
            field.focus();
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

    /// All text that the window shows at present.
    fn says(&self, text: &str) -> bool {
        self.harness.query_all_by_label_contains(text).next().is_some()
    }

    /// Compares the whole window with the picture in `snapshots/`; `UPDATE_SNAPSHOTS=1` renews it.
    fn snapshot(&mut self, name: &str) {
        // Another version of the software renderer may round some edges otherwise.
        let options = SnapshotOptions::new().threshold(2.0).max_failed_pixels(1500_usize);
        self.harness.snapshot_options(name, &options);
        self.picture(name);
    }

    fn picture(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("HATCHWRIGHT_PICTURES") else { return };
        let picture = self.harness.render().expect("a picture");
        picture.save(Path::new(&folder).join(format!("{name}.png"))).expect("saved");
    }
}

/// The main job at the window: open, tune, undo, write, proven.
#[test]
fn tuning_redraws_undo_restores_and_the_written_file_is_verified() {
    let mut day = Day::open(Some("coupon.ron"), [1440.0, 900.0], 1.0);
    day.press("Recipe");
    day.settle();
    day.snapshot("coupon");
    let before = day.harness.state().shown_marks();
    assert!(before > 100, "{before} marks");
    let steps = day.harness.try_run().expect("an idle window asks for no more frames");
    assert!(steps <= 2, "{steps} frames until the window rests");

    day.type_into("Hatch spacing", "0.4");
    let coarse = day.harness.state().shown_marks();
    assert!(coarse * 10 < before * 7, "{before} marks became {coarse}");
    assert!(day.says("changed"));

    day.key(Modifiers::COMMAND, Key::Z);
    day.settle();
    assert_eq!(day.harness.state().shown_marks(), before);
    assert!(day.says("saved"));

    day.press("Recipe"); // folded, so that the output comes into sight
    day.press("Elsewhere…");
    day.settle();
    let path = day.folder.path().join("coupon.hwv");
    day.harness.get_by_label("Path").focus();
    day.harness.run_steps(1);
    day.key(Modifiers::COMMAND, Key::A);
    day.harness.event(egui::Event::Text(path.display().to_string()));
    day.harness.run_steps(1);
    day.press("Go on");
    day.settle();
    assert!(day.says("Written and verified"));
    assert!(day.says(&path.display().to_string()), "and where it lies");
    // Outside source: the plain Python reader written from SPEC.md alone.
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/read_vectors.py");
    let said = Command::new("python3").arg(script).arg(&path).output().unwrap();
    let said = String::from_utf8_lossy(&said.stdout);
    assert!(said.contains("\"marks\":") && !said.contains("refused"), "{said}");
    day.picture("written");

    // Unless it is said otherwise it goes beside the job, and while it is verified the sheet says so.
    let path = day.folder.path().join("demo-jobs/out/coupon.hwv");
    day.press("Write and verify the vector file");
    let started = std::time::Instant::now();
    let mut verifying = false;
    while !path.exists() || !verifying {
        assert!(started.elapsed().as_secs() < 120, "never verified");
        day.harness.step();
        verifying |= day.says("3 of 3: being verified");
    }
    day.picture("verifying");
    day.settle();
    assert!(!day.says("being verified") && day.says(&path.display().to_string()));
}

/// A verification that is given up leaves a file behind of which nobody knows whether it is right.
#[test]
fn a_file_whose_verification_is_cancelled_is_said_to_be_unverified() {
    let mut day = Day::open(Some("tide_gauge_kit.ron"), [1280.0, 800.0], 1.0);
    day.press("Write and verify the vector file");
    let started = std::time::Instant::now();
    while !day.says("3 of 3: being verified") {
        assert!(started.elapsed().as_secs() < 240, "never verified");
        day.harness.step();
    }
    day.key(Modifiers::NONE, Key::Escape);
    day.settle();
    assert!(day.says("Written, verification did not end"));
    assert!(day.says("Do not run this file"));
    assert!(day.says("Class 4 laser · part cake hot for hours"), "always in sight");
    day.picture("unverified");
}

/// A broken mesh is told in words with a place, and the place is a button that moves the views.
#[test]
fn a_broken_mesh_is_a_finding_that_leads_to_its_place() {
    let mut day = Day::open(Some("coupon.ron"), [1280.0, 800.0], 1.0);
    let layer = day.harness.state().shown_layer();
    // A box without its lid, 30 mm high.
    let mut obj = String::new();
    for corner in 0..8 {
        let side = |bit: u32, size: u32| if corner >> bit & 1 == 1 { size } else { 0 };
        let (x, y, z) = (side(0, 20), side(1, 12), side(2, 30));
        writeln!(obj, "v {x} {y} {z}").expect("a string takes all");
    }
    for face in ["1 3 4 2", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"] {
        writeln!(obj, "f {face}").expect("a string takes all");
    }
    let mesh = day.folder.path().join("open_box.obj");
    fs::write(&mesh, obj).expect("written");
    day.harness.state_mut().add_mesh_files(&[mesh]);
    day.settle();
    assert!(day.says("4 edges"), "the finding counts the open edges");
    day.snapshot("broken");
    {
        let mut places = day.harness.query_all_by_label_contains("open_box.obj");
        let button = |node: &Node<'_>| node.accesskit_node().role() == egui::Role::Button;
        places.find(button).expect("a place to go to").click();
    }
    day.harness.run_steps(2);
    day.settle();
    assert_ne!(day.harness.state().shown_layer(), layer, "the height follows the finding");
    assert!(day.says("open box"));
}

/// A question has the keyboard to itself, and a job with stop findings is written only if the person
/// insists.
#[test]
fn what_must_not_be_built_is_written_only_on_demand() {
    let mut day = Day::open(Some("coupon.ron"), [1280.0, 800.0], 1.0);
    day.press("bracket");
    day.key(Modifiers::COMMAND, Key::D);
    day.settle();
    assert!(!day.says("overlap"), "the copy stands where there is room");
    day.type_into("Location X", "5");
    day.type_into("Location Y", "5");
    day.type_into("Location Z", "20");
    assert!(day.says("overlap"));
    assert!(day.says("too near in"), "and the summary of nesting says so");
    let path = day.folder.path().join("coupon.hwv");
    let named = day.folder.path().join("coupon.not-fit.hwv");
    assert!(day.says("Refused as it is"), "the sheet says why");
    for (answer, is_written) in [("Do not write it", false), ("Write it all the same", true)] {
        day.press("Elsewhere…");
        day.settle();
        day.key(Modifiers::COMMAND, Key::A);
        day.harness.event(egui::Event::Text(path.display().to_string()));
        day.harness.run_steps(1);
        assert_eq!(day.harness.state().selected_copies().len(), 1, "the sheet heard no Ctrl+A");
        day.press("Go on");
        assert!(day.says("in spite of stop findings"));
        day.picture("write_anyway");
        day.press(answer);
        day.settle();
        assert_eq!((named.exists(), path.exists()), (is_written, false));
    }
    assert!(day.says("written, NOT verified"));
    day.picture("written_anyway");
    // What is said about a job goes when the job changes.
    assert!(day.says("Do not run this file"));
    day.key(Modifiers::COMMAND, Key::Z);
    assert!(!day.says("do not build it"));
}

fn is_nesting(day: &Day) -> bool {
    day.harness.query_by_label("Cancel: Nesting all parts").is_some()
}

/// While a search goes on its curve shows, and the button beside it keeps the best arrangement so far.
#[test]
fn a_search_is_watched_and_stopped() {
    let mut day = Day::open(Some("tide_gauge_kit.ron"), [1280.0, 800.0], 1.0);
    day.press("Nesting");
    day.press("Nest all");
    let started = std::time::Instant::now();
    let is_found = |day: &Day| day.says("Stop, keep this one") && day.says("23 of 23 parts placed");
    while !is_found(&day) {
        assert!(started.elapsed().as_secs() < 120, "no arrangement is shown");
        day.harness.step();
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    day.picture("nesting_curve");
    day.press("Stop, keep this one");
    day.settle();
    assert!(!day.says("Stop, keep this one") && day.says("The search was stopped"));
    assert!(day.says("parts placed"), "the curve stays to be read");
    day.picture("nesting_curve_ended");
}

/// Escape ends what the person began, a search with the best that it found, and nothing else.
#[test]
fn escape_ends_a_search_and_spares_the_survey() {
    let mut day = Day::open(Some("tide_gauge_kit.ron"), [1280.0, 800.0], 1.0);
    day.press("Nesting");
    day.press("Nest all");
    let started = std::time::Instant::now();
    while !is_nesting(&day) {
        assert!(started.elapsed().as_secs() < 60, "the search is never said");
        day.harness.step();
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    day.key(Modifiers::COMMAND, Key::A);
    let chosen = day.harness.state().selected_copies();
    assert!(!chosen.is_empty());
    // One press ends one thing: the menu, then the measuring, then the search, then the choice.
    day.key(Modifiers::NONE, Key::M);
    day.press("Edit");
    let ends =
        |day: &Day| [day.says("Select nothing"), day.says("Stop measuring"), is_nesting(day)];
    assert_eq!(ends(&day), [true, true, true]);
    day.key(Modifiers::NONE, Key::Escape);
    assert_eq!(ends(&day), [false, true, true]);
    day.key(Modifiers::NONE, Key::Escape);
    assert_eq!(ends(&day), [false, false, true]);
    day.key(Modifiers::NONE, Key::Escape);
    assert_eq!(ends(&day), [false, false, false]);
    assert_eq!(day.harness.state().selected_copies(), chosen);
    day.settle(); // the best arrangement is made exact
    day.key(Modifiers::NONE, Key::Escape);
    assert!(day.harness.state().selected_copies().is_empty());
    day.key(Modifiers::NONE, Key::A); // no more than a key: the window lives on
    day.settle();
    assert!(!day.says("Searching on"));
    assert!(!day.says("layers; stopped") && !day.says("still looking") && !day.says("summing up"));
    // Now only the survey runs.
    day.key(Modifiers::COMMAND, Key::A);
    day.key(Modifiers::NONE, Key::Delete);
    day.key(Modifiers::COMMAND, Key::Z);
    let looking = |day: &Day| day.says("Looking through all layers");
    let started = std::time::Instant::now();
    while !looking(&day) && started.elapsed().as_secs() < 60 {
        day.harness.step();
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert!(looking(&day));
    day.key(Modifiers::NONE, Key::Escape);
    day.settle();
    assert!(!day.says("layers; stopped") && !day.says("still looking") && !day.says("summing up"));
}

/// A job that has no file yet is saved on the way out: the question for its path stands before the one
/// for closing, and giving it up leads back there.
#[test]
fn a_job_without_a_file_is_saved_on_closing() {
    let mut day = Day::open(None, [1280.0, 800.0], 1.0);
    let part = day.folder.path().join("assets/parts/snap_clip.stl");
    day.harness.state_mut().add_mesh_files(&[part]);
    day.settle();
    let root = day.harness.input_mut().viewports.entry(egui::ViewportId::ROOT).or_default();
    root.events.push(egui::ViewportEvent::Close);
    day.harness.run_steps(3);
    assert!(day.says("Close the window?"));
    for (answer, is_saved) in [("Cancel", false), ("Go on", true)] {
        day.press("Save and close");
        day.settle();
        let path = day.folder.path().join("mine.ron");
        day.key(Modifiers::COMMAND, Key::A);
        day.harness.event(egui::Event::Text(path.display().to_string()));
        day.harness.run_steps(1);
        day.press(answer);
        day.settle();
        assert_eq!((path.exists(), day.says("Close the window?")), (is_saved, !is_saved));
    }
}

/// Delete, duplicate and a quantity are undone step by step; closing keeps nothing back.
#[test]
fn edits_of_parts_are_steps_of_undo() {
    let mut day = Day::open(Some("coupon.ron"), [1280.0, 800.0], 1.0);
    let count = day.harness.state().placement_count();
    day.key(Modifiers::COMMAND, Key::A);
    day.key(Modifiers::COMMAND, Key::D);
    assert_eq!(day.harness.state().placement_count(), 2 * count);
    day.key(Modifiers::NONE, Key::Delete);
    assert_eq!(day.harness.state().placement_count(), count);
    day.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(day.harness.state().placement_count(), 2 * count);
    day.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(day.harness.state().placement_count(), count);
    day.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    assert_eq!(day.harness.state().placement_count(), 2 * count);
}

/// A mesh that is not where the job says is shown as missing, in words, and the window lives on.
#[test]
fn a_missing_mesh_is_shown_and_can_be_found_again() {
    let mut day = Day::open(None, [1280.0, 800.0], 1.0);
    let parts = day.folder.path().join("assets/parts");
    let job = day.folder.path().join("demo-jobs/coupon.ron");
    let text = fs::read_to_string(&job).expect("the job");
    let mesh = text.split("../assets/parts/").nth(1).expect("a mesh").split('"').next();
    let mesh = mesh.expect("its name").to_owned();
    fs::rename(parts.join(&mesh), parts.join("moved.obj")).expect("moved");
    day.harness.state_mut().open_job(job);
    day.settle();
    assert!(day.says("missing"));
    day.picture("missing");
    day.press("Find the file…");
    day.settle();
    day.harness.get_by_label("Path").focus();
    day.harness.run_steps(1);
    day.key(Modifiers::COMMAND, Key::A);
    let path = parts.join("moved.obj").display().to_string();
    day.harness.event(egui::Event::Text(path));
    day.harness.run_steps(1);
    day.press("Go on");
    day.settle();
    assert!(!day.says("missing"));
    day.key(Modifiers::SHIFT, Key::ArrowUp); // the lowest layers are left to the melt from above
    day.settle();
    assert!(day.harness.state().shown_marks() > 0);
}

/// Copies on one spot are told apart by nesting, as one step of undo.
#[test]
fn nesting_sets_apart_what_overlaps_and_undo_puts_it_back() {
    let mut day = Day::open(Some("coupon.ron"), [1280.0, 800.0], 1.0);
    day.press("bracket");
    for place in ["5", "10", "15"] {
        day.key(Modifiers::COMMAND, Key::D);
        day.settle();
        for axis in ["Location X", "Location Y"] {
            day.type_into(axis, place);
        }
        day.type_into("Location Z", "20");
    }
    assert_eq!(day.harness.state().placement_count(), 4);
    assert!(day.says("too near in"));
    assert!(day.says("overlap"), "which, is a finding");
    day.press("Nesting");
    day.snapshot("nesting");
    day.press("Nest all");
    day.settle();
    day.picture("nested");
    assert!(day.says("clear, and every part can be taken out"));
    assert!(day.says("ended by itself"));
    day.picture("nested");
    // Nothing to do the second time; then one undo takes the whole search back.
    day.key(Modifiers::COMMAND, Key::Z);
    day.settle();
    assert!(day.says("too near in"));
    assert_eq!(day.harness.state().placement_count(), 4);
}

/// What is chosen goes into a cage, which is a part of its own from then on.
#[test]
fn small_parts_go_into_a_cage() {
    let mut day = Day::open(Some("coupon.ron"), [1280.0, 800.0], 1.0);
    day.press("Nesting");
    day.press("bracket");
    day.settle();
    day.type_into("Location Z", "30");
    day.press("Cage the selected parts");
    day.settle();
    assert!(day.folder.path().join("demo-jobs/cage.obj").is_file());
    assert_eq!(day.harness.state().placement_count(), 1);
    assert!(day.says("cage"));
    assert!(day.says("clear, and every part can be taken out"));
    day.picture("caged");
    day.key(Modifiers::COMMAND, Key::Z);
    day.settle();
    assert!(day.says("bracket"));
}

/// What was not saved is offered at the next start, and taken up only if wanted.
#[test]
fn unsaved_work_is_offered_after_a_crash() {
    let folder = tempfile::tempdir().expect("a folder");
    let state = folder.path().join("state");
    fs::create_dir_all(&state).expect("a folder");
    let mut day = Day::open(Some("coupon.ron"), [1280.0, 800.0], 1.0);
    day.press("Recipe");
    day.type_into("Beam offset", "0.25");
    day.harness.state_mut().keep_for_recovery();
    day.settle();
    // The window "crashes": its files stay, its lock goes with it.
    let kept = day.folder.path().join("state");
    for entry in fs::read_dir(kept).expect("state").flatten() {
        fs::copy(entry.path(), state.join(entry.file_name())).expect("a copy");
    }
    let start = Start { state_folder: Some(state), type_paths: true, ..Start::default() };
    let mut harness = Harness::builder()
        .with_size(vec2(1280.0, 800.0))
        .allow_missing_glyphs()
        .wgpu()
        .build_eframe(|cc| App::new(cc, start));
    common::settle(&mut harness);
    assert!(harness.query_all_by_label_contains("was not saved").next().is_some());
    harness.get_by_label("Take it up again").click();
    harness.run_steps(3);
    assert!(harness.state().placement_count() > 0);
    assert!(harness.query_all_by_label_contains("offset 0.25 mm").next().is_some());
}

/// An empty sheet invites a file or the demo, and every command can be found.
#[test]
fn an_empty_sheet_invites() {
    let mut empty = Day::open(None, [1280.0, 800.0], 1.0);
    assert!(empty.says("No job yet"));
    empty.snapshot("empty");
    empty.key(Modifiers::COMMAND, Key::K);
    assert!(empty.says("Save as"));
    empty.snapshot("search");
}

/// The demo at the smallest size against its pictures, in both inks; with a folder in
/// `HATCHWRIGHT_PICTURES` also at twice the size, for the eye.
#[test]
fn the_demo_looks_as_it_did() {
    let mut day = Day::open(Some("tide_gauge_kit.ron"), [1280.0, 800.0], 1.0);
    day.snapshot("demo_paper");
    day.key(Modifiers::COMMAND, Key::B);
    day.settle();
    day.snapshot("demo_blueprint");
    day.key(Modifiers::COMMAND, Key::Num1);
    day.picture("plan_alone");
    if std::env::var_os("HATCHWRIGHT_PICTURES").is_none() {
        return; // the rest is for the eye, and takes its time on two cores
    }
    let mut large = Day::open(Some("tide_gauge_kit.ron"), [2560.0, 1600.0], 2.0);
    large.picture("demo_double");
}

/// At the smallest size of the window everything in the sheet ends within it, with all sections open; with a folder in
/// `HATCHWRIGHT_PICTURES` also in other sizes, for the eye.
#[test]
fn nothing_in_the_sheet_reaches_beyond_it() {
    let mut day = Day::open(Some("coupon.ron"), [960.0, 600.0], 1.0);
    let sheet_right = day.harness.get_by_label("Border of the traveller").rect().left();
    for section in ["Machine", "Recipe", "Nesting"] {
        day.press(section);
    }
    day.press("bracket");
    day.settle();
    let roles = [
        egui::Role::Button,
        egui::Role::ComboBox,
        egui::Role::SpinButton,
        egui::Role::TextInput,
        egui::Role::Label,
    ];
    // Nodes out of sight are there, too.
    let wanted = By::new().include_labels().predicate(|node| roles.contains(&node.role()));
    let is_of_sheet = |node: &Node<'_>| {
        let rect = node.rect();
        rect.left() < sheet_right && rect.width() > 0.0 && rect.top() > 32.0
    };
    let of_sheet: Vec<_> = day.harness.query_all(wanted).filter(is_of_sheet).collect();
    assert!(of_sheet.len() > 60, "{}", of_sheet.len());
    for node in of_sheet {
        let rect = node.rect();
        let label = node.accesskit_node().label().or(node.accesskit_node().value());
        let is_foot = label.as_ref().is_some_and(|label| label.starts_with("Class 4 laser ·"));
        assert!(rect.right() <= sheet_right || is_foot, "{label:?} ends at {rect:?}");
    }
    if std::env::var_os("HATCHWRIGHT_PICTURES").is_some() {
        pictures_in_other_sizes();
    }
}

fn pictures_in_other_sizes() {
    for (name, size, scale, zooms) in [
        ("small", [960.0, 600.0], 1.0, 0),
        ("double", [1920.0, 1200.0], 2.0, 0),
        ("zoomed", [1280.0, 800.0], 1.0, 2),
    ] {
        let mut day = Day::open(Some("tide_gauge_kit.ron"), size, scale);
        for _ in 0..zooms {
            day.key(Modifiers::COMMAND, Key::Plus);
        }
        day.settle();
        day.picture(name);
        day.press("shield plate");
        for view in [Key::Num1, Key::Num2, Key::Num3, Key::Num4] {
            day.key(Modifiers::COMMAND, view);
            day.settle();
            day.picture(&format!("{name}_{view:?}"));
            day.key(Modifiers::COMMAND, view);
        }
        day.press("Parts");
        for section in ["Findings", "Estimates", "Output"] {
            day.press(section);
        }
        day.press("Recipe");
        day.settle();
        day.picture(&format!("{name}_recipe"));
        day.press("Recipe");
        day.press("Nesting");
        day.key(Modifiers::COMMAND, Key::B);
        day.settle();
        day.picture(&format!("{name}_nesting"));
        day.press("Nesting");
        day.press("Machine");
        day.picture(&format!("{name}_machine"));
        day.key(Modifiers::NONE, Key::F1);
        day.picture(&format!("{name}_keys"));
    }
}
