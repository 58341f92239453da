//! Choosing, calling off, doubling and deleting, in the chamber.

use crate::window::*;

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
    window.picture("two_selected");
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
    assert_eq!(window.chosen(), [(0, 3)], "the copy is selected");
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

/// Esc ends whatever the pointer does in a view, and leaves the choice alone.
#[test]
fn esc_ends_looking_around_framing_and_panning() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    let beside = window.at(CHAMBER, [-75.0, 0.0, 120.0]);
    for button in [PointerButton::Secondary, PointerButton::Primary] {
        window.hold(beside, vec2(30.0, 10.0), button, Modifiers::NONE);
        window.key(Modifiers::NONE, Key::Escape);
        let before = window.at(CHAMBER, SECOND);
        window.harness.event(Event::PointerMoved(beside + vec2(90.0, 60.0)));
        window.steps(3);
        assert_eq!(window.at(CHAMBER, SECOND), before, "the view follows no more");
        window.let_go(beside, button);
        assert_eq!(window.chosen(), [(0, 0)], "{button:?}");
    }
    let plan = window.at(PLAN, [-5.0, 30.0, 0.0]);
    window.hold(plan, vec2(20.0, 5.0), PointerButton::Primary, Modifiers::NONE);
    window.key(Modifiers::NONE, Key::Escape);
    let before = window.at(PLAN, FIRST);
    window.harness.event(Event::PointerMoved(plan + vec2(60.0, 60.0)));
    window.steps(3);
    assert_eq!(window.at(PLAN, FIRST), before, "the plan follows no more");
    window.let_go(plan, PointerButton::Primary);
    assert_eq!(window.chosen(), [(0, 0)]);
}
