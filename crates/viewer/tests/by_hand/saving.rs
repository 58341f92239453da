//! Saving: what other jobs may share stays as it is, and the person is told what was written.

use crate::window::*;
use std::collections::BTreeSet;
use std::path::Path;

impl Window {
    pub(crate) fn held(&self, name: &str) -> String {
        std::fs::read_to_string(self.folder.path().join(name)).expect(name)
    }

    fn files(&self) -> BTreeSet<String> {
        let entries = std::fs::read_dir(self.folder.path()).expect("a folder").flatten();
        let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
        names.filter(|name| name != "state").collect()
    }

    pub(crate) fn says(&self, text: &str) -> bool {
        self.harness.query_all_by_label_contains(text).next().is_some()
    }

    fn save(&mut self) {
        self.key(Modifiers::COMMAND, Key::S);
        self.settle();
    }

    /// Types a number into the sheet, to which it may have to roll.
    pub(crate) fn type_in_sheet(&mut self, name: &str, number: &str) {
        let field =
            |node: &egui_kittest::Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        self.harness.query_all_by_label(name).find(field).expect(name).scroll_to_me();
        self.steps(8);
        self.harness.query_all_by_label(name).find(field).expect(name).focus();
        self.steps(2);
        self.type_over(number);
        self.harness.key_press(Key::Enter);
        self.steps(2);
        self.settle();
    }

    fn type_over(&mut self, text: &str) {
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.steps(1);
        self.harness.event(Event::Text(text.to_owned()));
        self.steps(1);
    }

    /// Answers the question for a path.
    pub(crate) fn type_path(&mut self, name: &str) {
        self.settle();
        self.harness.get_by_label("Path").focus();
        self.steps(1);
        let path = self.folder.path().join(name).display().to_string();
        self.type_over(&path);
        self.press_button("Go on");
        self.settle();
    }

    fn new_job(&mut self) {
        self.key(Modifiers::COMMAND, Key::N);
        let mesh = self.folder.path().join("block.obj");
        self.harness.state_mut().add_mesh_files(&[mesh]);
        self.settle();
    }
}

fn names(names: &[&str]) -> BTreeSet<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

const ALL: [&str; 5] = ["bar.obj", "block.obj", "blocks.ron", "machine.ron", "recipe.ron"];

#[test]
fn a_changed_recipe_is_saved_beside_the_job_and_the_shared_one_stays() {
    let mut window = Window::open();
    let shared = window.held("recipe.ron");
    assert_eq!(window.files(), names(&ALL));
    window.press_in_sheet("Recipe", egui::Role::Button);
    window.settle();
    window.type_in_sheet("Beam offset", "0.25");
    window.save();
    assert_eq!(window.files(), names(&[&ALL[..], &["blocks.recipe.ron"]].concat()));
    assert_eq!(window.held("recipe.ron"), shared);
    assert!(window.held("blocks.ron").contains("recipe: \"blocks.recipe.ron\""));
    let own = window.held("blocks.recipe.ron");
    assert!(own.contains("beam_offset_mm: 0.25, // computed;"), "{own}");
    assert!(own.contains("// A recipe of blocks.ron alone"), "{own}");
    assert!(window.says("blocks.recipe.ron") && window.says("is as it was: recipe.ron"));
    window.picture("saved_beside");

    // The second save writes the same file, and leaves nothing else behind.
    window.type_in_sheet("Beam offset", "0.26");
    window.save();
    assert_eq!(window.files(), names(&[&ALL[..], &["blocks.recipe.ron"]].concat()));
    assert!(window.held("blocks.recipe.ron").contains("beam_offset_mm: 0.26, // computed;"));
    assert_eq!(window.held("recipe.ron"), shared);

    // Undo takes back what the person did, and nothing that the save did.
    window.undo();
    window.undo();
    assert_eq!(window.number("Beam offset"), 0.184);
    window.save();
    assert!(window.held("blocks.recipe.ron").contains("beam_offset_mm: 0.184, // computed;"));
}

#[test]
fn only_the_job_is_written_where_only_the_job_was_changed() {
    let mut window = Window::open();
    let (machine, recipe) = (window.held("machine.ron"), window.held("recipe.ron"));
    let job = window.held("blocks.ron");
    window.press_in_sheet("block", egui::Role::Button);
    window.key(Modifiers::NONE, Key::Delete);
    window.settle();
    window.save();
    assert_eq!(window.files(), names(&ALL));
    assert_eq!((window.held("machine.ron"), window.held("recipe.ron")), (machine, recipe));
    assert_ne!(window.held("blocks.ron"), job);
    assert!(!window.says("Saved:"));
}

#[test]
fn a_save_over_what_the_job_is_made_of_is_refused_in_words() {
    let mut window = Window::open();
    let before = window.held("recipe.ron");
    window.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    window.type_path("recipe.ron");
    assert!(window.says("Not saved: this is the recipe"));
    window.press_in_sheet("Recipe", egui::Role::Button);
    window.settle();
    window.press_in_sheet("Save a copy…", egui::Role::Button);
    window.type_path("machine.ron");
    assert!(window.says("Not saved: this is the machine"));
    assert_eq!((window.files(), window.held("recipe.ron")), (names(&ALL), before));
}

/// The shared recipe is written over where the person names it, and what it held is kept.
#[test]
fn a_shared_recipe_changes_when_the_person_says_so() {
    let mut window = Window::open();
    let shared = window.held("recipe.ron");
    window.press_in_sheet("Recipe", egui::Role::Button);
    window.settle();
    window.type_in_sheet("Beam offset", "0.25");
    window.press_in_sheet("Save a copy…", egui::Role::Button);
    window.type_path("recipe.ron");
    assert_eq!(window.held("recipe.ron.old"), shared);
    assert!(window.held("recipe.ron").contains("beam_offset_mm: 0.25, // computed;"));
    window.save();
    assert_eq!(window.files(), names(&[&ALL[..], &["recipe.ron.old"]].concat()));
}

/// Two new jobs in one folder have nothing in common, and none leaves anything where the program was started.
#[test]
fn new_jobs_have_machines_and_recipes_of_their_own() {
    let here = |name: &str| Path::new(name).exists();
    let mut window = Window::open();
    window.new_job();
    window.press_in_sheet("Nesting", egui::Role::Button);
    window.settle();
    window.press_in_sheet("block", egui::Role::Button);
    window.settle();
    window.press_in_sheet("Cage the selected parts", egui::Role::Button);
    window.settle();
    assert!(window.says("Save the job first"), "a cage would be written beside it");
    window.save();
    window.type_path("first.ron");
    let first = ["first.machine.ron", "first.recipe.ron", "first.ron"];
    assert_eq!(window.files(), names(&[&ALL[..], &first].concat()));
    assert!(window.says("first.machine.ron"), "the person is told");
    let recipe = window.held("first.recipe.ron");
    assert!(recipe.contains("Reference") && recipe.contains("// computed;"), "{recipe}");

    window.new_job();
    window.press_in_sheet("Recipe", egui::Role::Button);
    window.settle();
    window.type_in_sheet("Beam offset", "0.25");
    window.save();
    window.type_path("second.ron");
    let second = ["second.machine.ron", "second.recipe.ron", "second.ron"];
    assert_eq!(window.files(), names(&[&ALL[..], &first, &second].concat()));
    assert_eq!(window.held("first.recipe.ron"), recipe);
    assert!(window.held("second.recipe.ron").contains("beam_offset_mm: 0.25"));
    for name in ["machine.ron", "recipe.ron", "cage.obj", "first.ron", "second.ron"] {
        assert!(!here(name), "{name} lies where the test runs");
    }
}
