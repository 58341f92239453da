//! Pictures, the search, the size of everything, and what the program tells of itself.

use crate::window::*;

/// A whole number of the head of a PNG file, which begins with its size (PNG specification, third edition, 11.2.1).
fn size_of_png(bytes: &[u8]) -> [u32; 2] {
    assert_eq!(&bytes[1..4], b"PNG");
    [16, 20].map(|at| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes")))
}

impl Window {
    fn choose(&mut self, command: &str) {
        self.key(Modifiers::COMMAND, Key::K);
        self.harness.event(Event::Text(command.to_owned()));
        self.steps(2);
        self.harness.key_press(Key::Enter);
        self.steps(4);
        self.settle();
    }
}

#[test]
fn views_become_pictures_and_the_layer_a_drawing_to_scale() {
    let mut window = Window::open();
    window.choose("picture of the plan");
    window.type_path("plan.png");
    let path = window.folder.path().join("plan.png");
    assert!(window.says("Saved:"), "and the person is told");
    let picture = std::fs::read(&path).expect("the picture");
    let plan = window.harness.get_by_label_contains("Plan of layer").rect();
    let [width, height] = size_of_png(&picture).map(|side| side as f32);
    assert!(width >= plan.width() && width < plan.width() + 30.0, "{width}, {plan:?}");
    assert!(height >= plan.height() && height < plan.height() + 120.0, "{height}, {plan:?}");
    window.choose("picture of the whole");
    window.type_path("window.png");
    let whole = std::fs::read(window.folder.path().join("window.png")).expect("the picture");
    assert_eq!(size_of_png(&whole), [1440, 900]);

    window.choose("drawing to scale");
    window.type_path("layer.svg");
    let drawing = window.held("layer.svg");
    assert!(drawing.contains("width=\"180mm\"") && drawing.contains("class=\"contour core\""));
    // What the job is made from is not written over.
    window.choose("drawing to scale");
    window.type_path("recipe.ron");
    assert!(window.says("Not saved: this is the recipe"));

    window.key(Modifiers::COMMAND, Key::Num2);
    window.choose("picture of the plan");
    window.type_path("hidden.png");
    assert!(window.says("Plan is not in sight"));
}

#[test]
fn a_field_is_found_by_its_name_and_its_section_opens() {
    let mut window = Window::open();
    assert!(!window.says("Hatch spacing"));
    window.choose("hatch spacing");
    assert!(window.says("Hatch spacing"), "the recipe is open");
    let sheet = window.harness.get_by_label_contains("Plan of layer").rect().left();
    let field = window.harness.query_all_by_label("Hatch spacing").next().expect("it").rect();
    assert!(field.right() < sheet && field.top() > 32.0 && field.bottom() < 880.0, "{field:?}");
    window.picture("field_found");
}

#[test]
fn everything_becomes_larger_and_the_title_tells_what_is_not_saved() {
    let mut window = Window::open();
    assert_eq!(window.harness.state().window_title(), "Blocks – Hatchwright");
    window.press_in_sheet("block", egui::Role::Button);
    window.key(Modifiers::NONE, Key::Delete);
    assert_eq!(window.harness.state().window_title(), "● Blocks – Hatchwright");
    let scale = |window: &Window| window.harness.ctx.zoom_factor();
    window.key(Modifiers::COMMAND, Key::Plus);
    window.key(Modifiers::COMMAND, Key::Equals);
    assert!((scale(&window) - 1.2).abs() < 1e-6);
    window.key(Modifiers::COMMAND, Key::Num0);
    assert!((scale(&window) - 1.0).abs() < 1e-6);

    window.key(Modifiers::NONE, Key::F1);
    window.picture("keys");
    assert!(window.says("Ten layers up") && window.says("Shift+"));
    window.key(Modifiers::NONE, Key::Escape);
    assert!(!window.says("Ten layers up"));
    window.choose("about");
    window.picture("about");
    assert!(window.says("Hatchwright 0.") && window.says("What Hatchwright is built with"));
    window.press_button("Close");
    assert!(!window.says("What Hatchwright is built with"));
}

/// What was copied, as the desktop gets it.
fn clipboard(window: &Window) -> String {
    let copied =
        window.harness.output().platform_output.commands.iter().find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        });
    copied.expect("something is copied")
}

#[test]
fn parts_are_copied_from_one_job_into_another() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, SECOND));
    assert_eq!(window.chosen(), [(0, 1)]);
    window.harness.event(Event::Copy);
    window.harness.step();
    let text = clipboard(&window);
    assert!(text.contains("block.obj") && !text.contains("bar.obj"), "{text}");

    let mut other = Window::of_many(3);
    other.harness.event(Event::Paste(text));
    other.steps(3);
    other.settle();
    assert_eq!((other.undo_label(), other.chosen()), (Some("paste block"), vec![(3, 0)]));
    other.stands(3, 0, SECOND);
    assert!(other.says("20.0 × 20.0 × 20.0 mm"), "and its mesh is read from where it lies");
    other.undo();
    assert_eq!(other.harness.state().placement_count(), 3);
    other.harness.event(Event::Paste("a shopping list".to_owned()));
    other.steps(3);
    assert!(other.says("the clipboard holds no parts"));
    assert_eq!(other.harness.state().placement_count(), 3);
}
