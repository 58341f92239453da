//! The sheet: passes of a hatch, the order of parts, and what is corrected by place.

use crate::window::*;

impl Window {
    /// Brings what has a name and a role into the sheet's view and clicks it.
    pub(crate) fn press_in_sheet(&mut self, name: &str, role: egui::Role) {
        let is_it = |node: &egui_kittest::Node<'_>| node.accesskit_node().role() == role;
        self.harness.query_all_by_label(name).find(is_it).expect(name).scroll_to_me();
        self.steps(8); // the sheet may have to roll
        self.harness.query_all_by_label(name).find(is_it).expect(name).click();
        self.steps(3);
    }
}

#[test]
fn a_pass_is_added_and_the_order_of_parts_chosen() {
    let mut window = Window::open();
    let marks = window.harness.state().shown_marks();
    window.press_in_sheet("Recipe", egui::Role::Button);
    window.settle();
    window.press_in_sheet("Add a pass", egui::Role::Button);
    window.settle();
    assert!(window.harness.state().shown_marks() > marks * 3 / 2, "as many lines again");
    assert_eq!(window.number("Pass 2 spacing"), window.number("Hatch spacing"));
    assert_eq!(window.number("Pass 2 rotated by"), 90.0);
    window.picture("passes");
    window.press_in_sheet("Remove the last pass", egui::Role::Button);
    window.settle();
    assert_eq!(window.harness.state().shown_marks(), marks);

    window.press_in_sheet("Next part", egui::Role::ComboBox);
    window.press_button("taking turns");
    window.settle();
    assert_eq!(window.undo_label(), Some("order of parts"));
    window.press_in_sheet("Rounds", egui::Role::ComboBox);
    window.picture("order_of_parts");
    window.press_button("kind after kind");
    window.settle();
    assert_eq!(window.harness.state().shown_marks(), marks, "the same marks in another order");
    window.undo();
    window.undo();
    assert_ne!(window.undo_label(), Some("order of parts"));
}

#[test]
fn places_of_the_field_are_added_typed_and_taken_back() {
    let mut window = Window::open();
    window.press_in_sheet("Machine", egui::Role::Button);
    window.press_in_sheet("Add a place", egui::Role::Button);
    window.settle();
    assert_eq!(window.undo_label(), Some("machine: add a place"));
    assert_eq!(window.number("Place 1 X"), 0.0, "the middle");
    window.press_in_sheet("Add a place", egui::Role::Button);
    window.settle();
    assert_eq!(window.number("Place 2 X"), -72.0);
    for (name, typed) in [
        ("Place 2 X", "-40"),
        ("Place 2 Y", "0"),
        ("Place 2 power", "1.2"),
        ("Place 2 offset", "0.05"),
    ] {
        window.type_number(name, typed);
    }
    assert_eq!(window.undo_label(), Some("machine: place 2 offset"));
    window.picture("field_corrections");
    // The first block stands at the second place.
    let at = window.at(CHAMBER, FIRST);
    window.click(at);
    window.settle();
    window.harness.get_by_label("By its place: 120 % of power, beam offset + 0.05 mm");
    window.picture("corrected_part");

    window.press_in_sheet("Remove place 2", egui::Role::Button);
    window.settle();
    assert!(window.harness.query_by_label("Place 2 X").is_none());
    window.undo();
    assert_eq!(window.number("Place 2 power"), 1.2);
}
