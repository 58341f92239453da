//! Hundreds of parts: found, sorted, chosen in ranges, listed elsewhere, and changed all at once.

use crate::window::*;

impl Window {
    fn type_into_search(&mut self, text: &str) {
        self.harness.get_by_label("Search parts").focus();
        self.steps(2);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.steps(1);
        self.harness.event(Event::Text(text.to_owned()));
        self.steps(3);
    }

    /// The middle of the row of a part.
    fn row(&self, name: &str) -> Pos2 {
        let is_name =
            |node: &egui_kittest::Node<'_>| node.accesskit_node().role() == egui::Role::Button;
        self.harness.query_all_by_label(name).find(is_name).expect(name).rect().center()
    }

    /// Types into a number of the traveller.
    pub(crate) fn type_into_form(&mut self, name: &str, number: &str) {
        let is_field =
            |node: &egui_kittest::Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        let left = |node: &egui_kittest::Node<'_>| node.rect().left();
        let all = self.harness.query_all_by_label(name);
        let field = all.filter(is_field).min_by(|a, b| left(a).total_cmp(&left(b)));
        field.expect(name).focus();
        self.steps(3);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.steps(1);
        for letter in number.chars() {
            self.harness.event(Event::Text(letter.to_string()));
            self.steps(1);
        }
        self.harness.key_press(Key::Enter);
        self.steps(3);
    }
}

#[test]
fn five_hundred_parts_are_searched_chosen_and_changed_in_one_step() {
    let mut window = Window::of_many(500);
    window.picture("hundreds");
    let drawn = window.harness.query_all_by_label_contains("Picture of").count();
    assert!((8..40).contains(&drawn), "{drawn} rows drawn");

    window.type_into_search("cube 49");
    assert!(window.says("15 of 500 parts found"), "49, 149 to 449, 490 to 499");
    let before: Vec<_> = (0..500).map(|part| window.location(part, 0)).collect();
    window.press_button("Choose them");
    window.settle();
    assert_eq!(window.undo_label(), None, "choosing changes nothing");
    assert_eq!(window.chosen().len(), 15);
    assert!(window.says("15 parts, 15 placements"));
    window.picture("hundreds_found");
    window.type_into_form("Location Z", "150");
    window.settle();
    assert_eq!(window.undo_label(), Some("location of 15 placements"));
    for (part, before) in before.iter().enumerate() {
        let now = window.location(part, 0);
        let is_chosen = format!("{}", part + 1).contains("49");
        let z = if is_chosen { 150.0 } else { before[2] };
        assert_eq!(now, [before[0], before[1], z], "part {}", part + 1);
    }
    // Below nought is typed letter by letter, too.
    window.type_into_form("Rotation C about Z", "-5");
    assert_eq!(window.undo_label(), Some("rotation of 15 placements"));
    window.undo();
    // A field that is only visited changes nothing.
    window.type_into_form("Location X", "");
    assert_eq!(window.location(489, 0)[0], before[489][0]);
    window.undo();
    assert_eq!(window.location(489, 0), before[489], "three digits were one step");
    assert_ne!(window.undo_label(), Some("location of 15 placements"));
    window.press_in_sheet("Unit of the file", egui::Role::ComboBox);
    window.press_button("centimetres");
    assert_eq!(window.undo_label(), Some("unit of 15 parts"));
}

#[test]
fn rows_are_chosen_in_ranges_and_one_by_one_and_dragged_elsewhere() {
    let mut window = Window::of_many(60);
    window.click(window.row("part 2"));
    assert_eq!(window.chosen(), [(1, 0)]);
    window.click_with(window.row("part 5"), Modifiers::SHIFT);
    assert_eq!(window.chosen(), [(1, 0), (2, 0), (3, 0), (4, 0)]);
    window.click_with(window.row("part 4"), Modifiers::COMMAND);
    assert_eq!(window.chosen(), [(1, 0), (2, 0), (4, 0)]);
    window.click_with(window.row("part 4"), Modifiers::COMMAND);
    window.click_with(window.row("part 3"), Modifiers::SHIFT);
    assert_eq!(window.chosen(), [(2, 0), (3, 0)], "a range from the part clicked last");

    // Both that are chosen go before the first; what is chosen stays chosen.
    let (from, to) = (window.row("part 4"), window.row("part 1"));
    let third = window.location(2, 0);
    window.hold(from, to - from - vec2(0.0, 16.0), PointerButton::Primary, Modifiers::NONE);
    window.picture("hundreds_dragged");
    window.let_go(to - vec2(0.0, 16.0), PointerButton::Primary);
    assert_eq!(window.undo_label(), Some("list 2 parts elsewhere"));
    assert_eq!(window.chosen(), [(0, 0), (1, 0)]);
    assert_eq!(window.location(0, 0), third);
    window.undo();
    assert_eq!((window.chosen(), window.location(2, 0)), (vec![(2, 0), (3, 0)], third));

    // The menu of a row is that of the part.
    let row = window.row("part 6");
    window.button(row, PointerButton::Secondary, true, Modifiers::NONE);
    window.button(row, PointerButton::Secondary, false, Modifiers::NONE);
    window.steps(3);
    assert_eq!(window.chosen(), [(5, 0)]);
    window.picture("hundreds_menu");
    window.harness.get_by_label("Rotate 90° about Z");
    let all = window.harness.query_all_by_label("Delete");
    let lowest = all.max_by(|a, b| b.rect().left().total_cmp(&a.rect().left()));
    lowest.expect("in the menu").click();
    window.steps(3);
    window.settle();
    assert_eq!(window.harness.state().placement_count(), 59);
}

#[test]
fn parts_are_sorted_and_grouped() {
    let mut window = Window::open();
    window.press_in_sheet("bar", egui::Role::Button);
    // A small job has no tools; they come with the sixth part.
    assert!(window.harness.query_by_label("Search parts").is_none());
    let mut window = Window::of_many(12);
    let top = |window: &Window, name: &str| window.row(name).y;
    assert!(top(&window, "part 2") < top(&window, "part 10"));
    window.press_in_sheet("Group parts", egui::Role::ComboBox);
    window.press_button("recipe");
    window.settle();
    assert!(window.says("· 12"), "a heading with a count");
    window.picture("hundreds_grouped");
    window.press_in_sheet("Sort parts", egui::Role::ComboBox);
    window.press_button("name");
    assert!(top(&window, "part 2") < top(&window, "part 10"), "by number, not by letter");
}

#[test]
fn words_of_too_many_clearances_shrink_to_a_count() {
    let mut window = Window::of_many(60);
    assert!(!window.chamber_says().contains("more"));
    window.key(Modifiers::COMMAND, Key::A);
    // Across their corners the cubes are 2.3 mm apart, and 3 mm are wanted.
    window.type_into_form("Rotation C about Z", "45");
    window.settle();
    window.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::A);
    window.steps(3);
    window.picture("too_many_clearances");
    let says = window.chamber_says();
    let more = says.rsplit(", and ").next().and_then(|rest| rest.strip_suffix(" more"));
    let more: usize = more.expect(&says).parse().expect("a count");
    assert!(more > 60, "of 97 pairs of neighbours, 24 have lines: {says}");
}

#[test]
fn a_part_that_is_not_placed_yet_can_be_chosen_and_deleted() {
    let mut window = Window::with_unplaced();
    window.click(window.row("block"));
    assert_eq!(window.chosen(), [(0, 0)]);
    assert!(window.says("not placed yet") && window.says("20.0 × 20.0 × 20.0 mm"));
    window.key(Modifiers::COMMAND, Key::D);
    assert_eq!(window.undo_label(), None, "there is nothing to duplicate");
    window.click(window.row("block"));
    window.key(Modifiers::NONE, Key::Delete);
    window.settle();
    assert!(window.undo_label().is_some_and(|label| label.starts_with("delete")));
    assert!(window.harness.query_by_label("Quantity of block").is_none());
    window.undo();
    assert!(window.harness.query_by_label("Quantity of block").is_some());
}
