//! What happens on contact.

use crate::window::*;

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
fn what_is_lowered_lands_exactly() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, THIRD));
    window.key(Modifiers::NONE, Key::PageDown);
    window.settle();
    window.stands(0, 2, [THIRD[0], THIRD[1], 40.0 + PARTS_MM + 10.0]);
    window.touches_nothing();
    assert_eq!(window.undo_label(), Some("lower block 3 of 3"));
    window.undo();
    window.stands(0, 2, THIRD);
    assert_eq!(window.undo_label(), None);
    // Both of the pile, the lower one first.
    window.click_with(window.at(CHAMBER, SECOND), Modifiers::SHIFT);
    assert_eq!(window.chosen(), [(0, 1), (0, 2)]);
    window.press_button("Lower");
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
        window.harness.state().placement(1, 0).expect("the bar").rotation_deg[1]
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
    assert_eq!(window.harness.state().placement(1, 0).expect("the bar").rotation_deg, [0.0; 3]);
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
    let state = window.folder.path().join("state");
    eframe::App::on_exit(window.harness.state_mut());
    let kept = std::fs::read_to_string(state.join("window.ron")).expect("settings");
    assert!(kept.contains("on_contact: Push"), "{kept}");
}

/// A number that is dragged keeps clearances like anything that is dragged; one step of undo.
#[test]
fn a_dragged_number_stops_at_the_clearance() {
    let mut window = Window::open();
    window.on_contact("stop, keep the clearance");
    window.click(window.at(CHAMBER, FIRST));
    let field = window.field("Location X");
    // A tenth of a millimetre a point.
    window.drag(field, vec2(420.0, 0.0));
    window.stands(0, 0, [-3.0, 0.0, 30.0]);
    window.touches_nothing();
    window.undo();
    window.stands(0, 0, FIRST);
    assert_eq!(window.undo_label(), None);
}

/// Where plan or elevation fill the sheet, they have the numbers and the choice on contact.
#[test]
fn a_view_that_is_alone_has_the_numbers() {
    let mut window = Window::open();
    window.click(window.at(CHAMBER, FIRST));
    for (key, name) in [(Key::Num1, "plan_alone"), (Key::Num3, "elevation_alone")] {
        window.key(Modifiers::COMMAND, key);
        window.steps(3);
        window.on_contact("push aside");
        window.on_contact("pass through");
        window.type_number("Location Y", "-7.5");
        window.stands(0, 0, [FIRST[0], -7.5, FIRST[2]]);
        window.picture(name);
        // The drawing ends where the strip begins.
        let strip = window.field("Location Y").y - 10.0;
        let view = if key == Key::Num1 { PLAN } else { ELEVATION };
        assert!(window.at(view, FIRST).y < strip, "{name}");
        let drawing = if key == Key::Num1 { "Plan of layer" } else { "Layer, of" };
        let bottom = window.harness.get_by_label_contains(drawing).rect().bottom();
        assert!(bottom < strip, "{name}: {bottom} is below {strip}");
        window.undo();
        window.stands(0, 0, FIRST);
        window.key(Modifiers::COMMAND, key);
        window.steps(3);
    }
}
