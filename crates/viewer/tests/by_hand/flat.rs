//! Elevation and plan.

use crate::window::*;

#[test]
fn the_elevation_chooses_moves_and_turns() {
    let mut window = Window::open();
    window.on_contact("stop, keep the clearance");
    let layer = window.harness.state().shown_layer();
    let first = window.at(ELEVATION, FIRST);
    // A drag on what is not chosen draws the layer's line.
    window.drag(first, vec2(0.0, -30.0));
    assert_ne!(window.harness.state().shown_layer(), layer);
    window.stands(0, 0, FIRST);
    let layer = window.harness.state().shown_layer();
    window.click(first);
    assert_eq!(window.chosen(), [(0, 0)]);
    assert_eq!(window.harness.state().shown_layer(), layer, "a click on a part selects it");

    // It moves across and up; the second block holds it across, and it goes on up.
    let to = window.at(ELEVATION, [20.0, 0.0, 40.0]);
    window.hold(first, to - first, PointerButton::Primary, Modifiers::NONE);
    let layer_label = window.harness.get_by_label_contains("Layer, of");
    let says = layer_label.accesskit_node().label().expect("a label");
    assert!(says.contains("3.00 mm to block 2 of 3"), "{says}");
    window.picture("elevation");
    window.let_go(to, PointerButton::Primary);
    let [x, y, z] = window.location(0, 0);
    assert!((x + 3.0).abs() < EXACT && y.abs() < 1e-12, "{x}, {y}");
    assert!((z - 40.0).abs() < 0.6, "{z}");
    window.touches_nothing();
    assert_eq!(window.harness.state().shown_layer(), layer, "the layer's line stays");
    window.undo();
    window.stands(0, 0, FIRST);
    assert_eq!(window.undo_label(), None, "a drag is one step");

    // The knob above the bar, drawn round to its right: a quarter clockwise, about Y.
    let bar = [-30.0, 60.0, 40.0];
    window.click(window.at(ELEVATION, [-48.0, 60.0, 42.0]) + vec2(0.0, 0.0));
    if window.chosen() != [(1, 0)] {
        // The block stands in front of it: take the bar by its row.
        window.press_button("bar");
    }
    assert_eq!(window.chosen(), [(1, 0)]);
    let middle = window.at(ELEVATION, bar);
    let knob = window.at(ELEVATION, [bar[0], bar[1], bar[2] + 4.0]) - vec2(0.0, 18.0);
    let to = middle + vec2(40.0, 0.0);
    window.drag(knob, to - knob);
    let turned = window.harness.state().placement(1, 0).expect("the bar");
    assert!((turned.rotation_deg[1].abs() - 90.0).abs() < 1e-6, "{:?}", turned.rotation_deg);
    assert_eq!(turned.location_mm, bar);
    assert_eq!(window.undo_label(), Some("rotate bar"));
    window.picture("rotated");
    window.undo();
    assert_eq!(window.harness.state().placement(1, 0).expect("the bar").rotation_deg, [0.0; 3]);
    assert_eq!(window.undo_label(), None);
}

#[test]
fn the_plan_pans_beside_what_is_chosen_and_moves_it() {
    let mut window = Window::open();
    window.on_contact("stop, keep the clearance");
    window.key(Modifiers::NONE, Key::Home);
    for _ in 0..30 {
        window.harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
        window.harness.step();
    }
    window.settle();
    window.steps(5);
    let first = window.at(PLAN, FIRST);
    window.drag(first, vec2(30.0, 10.0));
    window.stands(0, 0, FIRST);
    let panned = window.at(PLAN, FIRST) - first;
    assert!((panned - vec2(30.0, 10.0)).length() < 1.0, "{panned:?}");
    let first = window.at(PLAN, FIRST);
    window.click(first);
    assert_eq!(window.chosen(), [(0, 0)]);
    let to = window.at(PLAN, [5.0, 12.0, 0.0]);
    window.hold(first, to - first, PointerButton::Primary, Modifiers::NONE);
    let plan = window.harness.get_by_label_contains("Plan of layer");
    let says = plan.accesskit_node().label().expect("a label");
    assert!(says.contains("3.00 mm to block 2 of 3"), "{says}");
    window.picture("plan");
    window.let_go(to, PointerButton::Primary);
    let [x, y, z] = window.location(0, 0);
    assert!((x + 3.0).abs() < EXACT && (y - 12.0).abs() < 0.5 && z == 30.0, "{x} {y} {z}");
    window.touches_nothing();
    window.undo();
    window.stands(0, 0, FIRST);
    assert_eq!(window.undo_label(), None);
}
