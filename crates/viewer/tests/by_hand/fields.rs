//! Number fields: arithmetic, what is not taken, and Esc.

use crate::window::*;

impl Window {
    /// Types into a number of the sheet, and presses a key.
    fn type_then(&mut self, name: &str, text: &str, then: Key) {
        let is_field =
            |node: &egui_kittest::Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
        self.harness.query_all_by_label(name).find(is_field).expect(name).scroll_to_me();
        self.steps(8); // the sheet may have to roll
        self.harness.query_all_by_label(name).find(is_field).expect(name).focus();
        self.steps(2);
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.steps(1);
        self.harness.event(Event::Text(text.to_owned()));
        self.steps(1);
        self.key(Modifiers::NONE, then);
        self.settle();
    }
}

#[test]
fn arithmetic_is_worked_out_and_what_is_not_allowed_is_answered() {
    let mut window = Window::open();
    window.press_in_sheet("Recipe", egui::Role::Button);
    let offset = "Beam offset";
    window.type_then(offset, "0.1+0.05", Key::Enter);
    assert_eq!(window.number(offset), 0.15);
    assert_eq!(window.undo_label(), Some("recipe: beam offset"));
    window.type_then(offset, "0,35 / 2 mm", Key::Tab);
    assert_eq!(window.number(offset), 0.175, "also when the field is left for the next one");

    for text in ["wide", "7", "-0.1", "1,234"] {
        window.type_then(offset, text, Key::Enter);
        assert_eq!(window.number(offset), 0.175, "{text}");
        assert!(window.says("Allowed: 0 to 2 mm. It stays 0.175 mm."), "{text}");
        assert!(window.says(&format!("“{text}”")), "{text}");
    }
    window.picture("not_taken");
    window.undo();
    assert_eq!(window.number(offset), 0.15, "what was not taken is no step of undo");
    assert!(!window.says("It stays"), "and the answer goes with the number");

    window.type_then("Number of contours", "1.5", Key::Enter);
    assert!(window.says("Allowed: whole numbers from 1 to 100. It stays 1."));
    window.type_then("Number of contours", "2", Key::Enter);
    assert_eq!(window.number("Number of contours"), 2.0);
    assert!(!window.says("It stays"));
}

#[test]
fn esc_puts_a_number_back_and_ends_nothing_else() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    window.press_in_sheet("Recipe", egui::Role::Button);
    let offset = "Beam offset";
    let before = window.number(offset);
    window.type_then(offset, "0.3", Key::Escape);
    assert_eq!((window.number(offset), window.undo_label()), (before, None));
    window.type_then(offset, "7", Key::Escape);
    assert!(!window.says("It stays"), "nothing was entered");
    assert_eq!(window.chosen(), [(0, 0)], "the choice stays");

    // The same while it is dragged.
    let field =
        |node: &egui_kittest::Node<'_>| node.accesskit_node().role() == egui::Role::SpinButton;
    let at = window.harness.query_all_by_label(offset).find(field).expect(offset).rect().center();
    window.hold(at, vec2(30.0, 0.0), PointerButton::Primary, Modifiers::NONE);
    assert!(window.number(offset) > before + 0.01);
    window.key(Modifiers::NONE, Key::Escape);
    assert_eq!(window.number(offset), before);
    window.let_go(at, PointerButton::Primary);
    assert_eq!((window.number(offset), window.chosen()), (before, vec![(0, 0)]));
    assert_eq!(window.undo_label(), None, "nothing was changed in the end");
    window.key(Modifiers::NONE, Key::Escape);
    assert!(window.chosen().is_empty());
}

#[test]
fn the_strip_of_numbers_answers_over_the_drawing() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    window.type_number("Location X", "-45 + 2*5");
    window.stands(0, 0, [-35.0, FIRST[1], FIRST[2]]);
    window.type_number("Location Z", "-3");
    window.stands(0, 0, [-35.0, FIRST[1], FIRST[2]]);
    assert!(window.says("“-3” is not taken. Allowed: 0 to 2000 mm. It stays 30 mm."));
    window.picture("strip_not_taken");
    window.type_number("Location Z", "31");
    window.stands(0, 0, [-35.0, FIRST[1], 31.0]);
    assert!(!window.says("It stays"));
}
