//! Mesh files that come, change, are replaced or are lost.

use crate::window::*;

impl Window {
    /// Answers the question for a path.
    fn answer_with(&mut self, path: &std::path::Path) {
        self.harness.get_by_label("Path").focus();
        self.steps(1);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.harness.event(Event::Text(path.display().to_string()));
        self.steps(1);
        self.press_button("Go on");
        self.settle();
    }
}

#[test]
fn new_meshes_come_to_free_places_on_the_platform_and_the_height_goes_to_them() {
    let mut window = Window::open();
    let files = ["block.obj", "bar.obj", "block.obj", "photo.png"];
    let paths = files.map(|file| window.folder.path().join(file));
    window.harness.state_mut().add_mesh_files(&paths);
    window.settle();
    window.picture("meshes_added");
    assert!(window.says("since it is no mesh") && window.says("photo.png"));
    assert_eq!(window.undo_label(), Some("add 3 parts"));
    assert_eq!(window.chosen(), [(2, 0), (3, 0), (4, 0)]);
    // Walls keep 5 mm: a block of 20 mm stands with its middle at 15 mm, a bar of 8 mm at 9 mm.
    assert_eq!([2, 3, 4].map(|part| window.location(part, 0)[2]), [15.0, 9.0, 15.0]);
    assert_eq!(window.harness.state().shown_layer(), 150);
    assert!(window.harness.state().shown_marks() > 0);
    // Two blocks on the platform, and the bar between or beside them: 3 mm apart at least.
    let sizes = [[20.0, 20.0], [40.0, 8.0], [20.0, 20.0]];
    for (a, b) in [(0, 1), (0, 2), (1, 2)] {
        let (p, q) = (window.location(a + 2, 0), window.location(b + 2, 0));
        let gap = |k: usize| (p[k] - q[k]).abs() - f64::midpoint(sizes[a][k], sizes[b][k]);
        assert!(gap(0).max(gap(1)) > PARTS_MM - 1e-6, "{p:?} and {q:?}");
    }
    assert!(!window.says("too near"));
}

#[test]
fn a_mesh_that_changed_on_disk_is_read_again_on_demand() {
    let mut window = Window::open();
    window.press_in_sheet("bar", egui::Role::Button);
    assert!(window.says("40.0 × 8.0 × 8.0 mm"));
    let path = window.folder.path().join("bar.obj");
    let text = std::fs::read_to_string(&path).expect("the bar");
    std::fs::write(&path, text.replace(" 40 ", " 44.5 ")).expect("written");
    for _ in 0..600 {
        if window.says("bar.obj has changed on disk.") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
        window.steps(1);
    }
    window.picture("mesh_changed");
    assert!(window.says("40.0 × 8.0 × 8.0 mm"), "nothing is read unasked");
    window.press_button("Read again");
    window.settle();
    assert!(window.says("44.5 × 8.0 × 8.0 mm") && !window.says("has changed on disk"));
    assert_eq!(window.undo_label(), None, "the job is what it was");
}

#[test]
fn a_mesh_is_replaced_and_its_placements_stay() {
    let mut window = Window::open();
    window.press_in_sheet("block", egui::Role::Button);
    let before: Vec<_> = (0..3).map(|copy| window.location(0, copy)).collect();
    window.press_button("Edit");
    window.harness.get_by_label_contains("Replace mesh…").click();
    window.steps(3);
    window.settle();
    let bar = window.folder.path().join("bar.obj");
    window.answer_with(&bar);
    assert_eq!(window.undo_label(), Some("replace the mesh of block"));
    assert!(window.says("40.0 × 8.0 × 8.0 mm"));
    assert_eq!((0..3).map(|copy| window.location(0, copy)).collect::<Vec<_>>(), before);
    window.undo();
    assert!(window.says("20.0 × 20.0 × 20.0 mm"));
}

#[test]
fn a_job_whose_machine_and_recipe_are_lost_opens_once_they_are_found() {
    let mut window = Window::of_many(1);
    let folder = window.folder.path().to_owned();
    std::fs::create_dir(folder.join("elsewhere")).expect("a folder");
    for file in ["machine.ron", "recipe.ron"] {
        std::fs::rename(folder.join(file), folder.join("elsewhere").join(file)).expect("moved");
    }
    window.harness.state_mut().open_job(folder.join("blocks.ron"));
    window.settle();
    assert!(window.says("its machine is not"));
    window.picture("machine_lost");
    window.press_button("Find the file…");
    window.settle();
    window.answer_with(&folder.join("elsewhere/machine.ron"));
    assert!(window.says("its recipe is not"));
    window.press_button("Find the file…");
    window.settle();
    window.answer_with(&folder.join("elsewhere/recipe.ron"));
    assert!(!window.says("its recipe is not"));
    assert_eq!(window.undo_label(), Some("find what the job names"));
    window.key(Modifiers::COMMAND, Key::S);
    window.settle();
    let text = std::fs::read_to_string(folder.join("blocks.ron")).expect("the job");
    assert!(
        text.contains("elsewhere/machine.ron") && text.contains("elsewhere/recipe.ron"),
        "{text}"
    );
}

#[test]
fn findings_of_a_kind_stand_together_and_are_mended_at_once() {
    let mut window = Window::of_many(12);
    window.key(Modifiers::COMMAND, Key::A);
    window.type_into_form("Location Z", "3");
    window.settle();
    assert!(window.says("wall clearance · 12") && window.says("and 9 more"));
    window.picture("findings_grouped");
    window.press_in_sheet("and 9 more", egui::Role::Button);
    assert!(!window.says("and 9 more") && window.says("part 12"));
    window.press_in_sheet("Move inside", egui::Role::Button);
    window.settle();
    assert_eq!(window.undo_label(), Some("move inside 12 placements"));
    // The cubes of 4 mm keep 5 mm from the platform.
    assert!((0..12).all(|part| (window.location(part, 0)[2] - 7.0).abs() < EXACT));
    assert!(!window.says("wall clearance"));
    window.press_in_sheet("Read in inches", egui::Role::Button);
    assert_eq!(window.undo_label(), Some("read in inches"));
}
