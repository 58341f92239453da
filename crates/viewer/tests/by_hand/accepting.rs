//! Findings accepted with a reason, filtered, and shown at their place.

use crate::window::*;
use egui::Role;
use egui_kittest::Node;

const THIN: &str = "Walls or pins are thinner than 1.5 mm";
const REASON: &str = "It is a spacer, and is glued in.";

/// The blocks, with the bar as a plate 1 mm thick where the recipe wants 1.5 mm.
fn with_plate() -> Window {
    let folder = tempfile::tempdir().expect("a folder");
    let path = job(folder.path(), "");
    std::fs::write(folder.path().join("bar.obj"), cuboid([40, 8, 1])).expect("written");
    let file = folder.path().join("recipe.ron");
    let recipe = std::fs::read_to_string(&file).expect("the recipe");
    let limits = "limits: (least_wall_mm: 1.5),\n    exposures:";
    let recipe = recipe.replacen("exposures:", limits, 1);
    // a note beside the caution, since growth is a whole number of layers
    let recipe = recipe.replacen("z_growth_mm: 0.1,", "z_growth_mm: 0.13,", 1);
    std::fs::write(file, recipe).expect("written");
    Window::on(folder, Some(path))
}

impl Window {
    /// The node of a label that comes next below the one with this text.
    fn below<'a>(&'a self, text: &str, label: &'a str) -> Node<'a> {
        let from = self.harness.query_all_by_label_contains(text).next().expect(text).rect().top();
        let all = self.harness.query_all_by_label(label);
        let below = all.filter(|node| node.rect().top() > from);
        below.min_by(|a, b| a.rect().top().total_cmp(&b.rect().top())).expect(label)
    }

    fn press_below(&mut self, text: &str, label: &str) {
        self.below(text, label).scroll_to_me();
        self.steps(8);
        self.below(text, label).click();
        self.steps(4);
    }

    fn accept(&mut self, reason: &str) {
        self.press_below(THIN, "Accept…");
        self.harness.event(Event::Text(reason.to_owned()));
        self.steps(2);
    }
}

#[test]
fn a_finding_is_accepted_with_a_reason_that_stays_in_the_job() {
    let mut window = with_plate();
    assert!(window.says(THIN), "shapes are looked at");
    let place = |node: &Node<'_>| {
        let label = node.accesskit_node().label().unwrap_or_default();
        node.accesskit_node().role() == Role::Button && label.starts_with("bar.obj, at")
    };
    let go =
        window.harness.query_all_by_label_contains("bar.obj, at").find(place).expect("a place");
    go.scroll_to_me();
    window.steps(8);
    window.harness.query_all_by_label_contains("bar.obj, at").find(place).expect("a place").click();
    window.steps(30);
    window.settle();
    assert_eq!(window.chosen(), [(1, 0)]);
    window.picture("shape_found");

    window.press_below(THIN, "Accept…");
    window.picture("accepting");
    window.press_button("Leave it open");
    assert_eq!(window.undo_label(), None);
    window.accept(REASON);
    window.press_button("Accept");
    window.settle();
    assert!(window.says(&format!("Accepted: {REASON}")) && window.says("1 accepted"));
    assert_eq!(window.undo_label(), Some("accept weak wall"));
    window.picture("accepted");
    window.undo();
    assert!(!window.says("Accepted:") && window.says(THIN), "it counts again");
    window.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    window.settle();
    assert!(window.says(&format!("Accepted: {REASON}")));
    window.key(Modifiers::COMMAND, Key::S);
    window.settle();
    let held = window.held("blocks.ron");
    assert!(held.contains("kind: \"weak_wall\"") && held.contains(REASON), "{held}");

    let again = Window::on(window.folder, Some("blocks.ron".into()));
    let mut window = again;
    assert!(window.says(&format!("Accepted: {REASON}")) && window.says("1 accepted"));
    // With a lower limit there is nothing left that was accepted.
    window.press_in_sheet("Recipe", Role::Button);
    window.settle();
    window.type_in_sheet("Thinnest sound wall", "0.5");
    assert!(window.says("What was accepted is gone"), "and that is told");
    window.picture("gone");
    window.press_below("What was accepted is gone", "Take out of the job");
    window.settle();
    assert!(!window.says("What was accepted is gone"));
    window.undo();
    window.undo();
    assert!(window.says(&format!("Accepted: {REASON}")));
    window.press_below("Accepted:", "Take back");
    window.settle();
    assert!(!window.says("Accepted:") && window.says(THIN));
}

#[test]
fn the_row_above_the_findings_hides_and_shows_them() {
    let mut window = with_plate();
    let is_button = |node: &Node<'_>| node.accesskit_node().role() == Role::Button;
    let label = {
        let mut all = window.harness.query_all_by_label_contains(" caution");
        all.find(is_button).expect("cautions").accesskit_node().label().expect("a label")
    };
    window.press_in_sheet(&label, Role::Button);
    assert!(!window.says(THIN) && window.says("not listed, by the choices above"));
    window.picture("filtered");
    window.press_in_sheet(&label, Role::Button);
    assert!(window.says(THIN) && !window.says("not listed"));
}
