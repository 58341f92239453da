//! Things that are not always there, among fields that are.

use egui::{Ui, UiBuilder};

/// Shows something of which there may be more or less in every frame, or nothing: fields below keep their ids, and
/// by these what is being typed or dragged. Nothing takes no room.
pub(crate) fn apart<T>(ui: &mut Ui, show: impl FnOnce(&mut Ui) -> T) -> T {
    let mut inner = ui.new_child(UiBuilder::new());
    let shown = show(&mut inner);
    let used = inner.min_rect();
    if used.height() > 0.0 {
        ui.advance_cursor_after_rect(used);
    } else {
        ui.skip_ahead_auto_ids(1);
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::{Context, RawInput};

    #[test]
    fn what_comes_and_goes_above_leaves_the_ids_below_alone() {
        let ctx = Context::default();
        let mut seen = Vec::new();
        for lines in [0, 1, 3, 0] {
            let mut drawn = ctx.run_ui(RawInput::default(), |ui| {
                let top = ui.cursor().top();
                apart(ui, |ui| {
                    for _ in 0..lines {
                        ui.label("said");
                    }
                });
                let moved = ui.cursor().top() - top;
                let button = ui.button("below");
                seen.push((button.id, moved > 0.0));
            });
            drawn.textures_delta.clear();
        }
        assert!(seen.iter().all(|(id, _)| *id == seen[0].0), "{seen:?}");
        assert_eq!(
            seen.iter().map(|(_, moved)| *moved).collect::<Vec<_>>(),
            [false, true, true, false]
        );
    }
}
