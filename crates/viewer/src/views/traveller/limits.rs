//! From where on a shape counts as one that will not come out, and how soon a spot may be heated again.

use super::recipe_editor::RecipeEditor;
use crate::widgets::field::{Changed, Number, choice, heading};
use egui::Ui;
use job::recipe::{Limit, Limits, PathOrder, ranges};

/// One of the limits of shapes.
struct Row {
    name: &'static str,
    hint: &'static str,
    of: fn(&Limits) -> Limit,
    place: fn(&mut Limits) -> &mut Option<f64>,
}

const ROWS: [Row; 3] = [
    Row {
        name: "Narrowest way out",
        hint: "Ways out that let no ball of this diameter through hold powder back. 0: nobody looks.",
        of: Limits::opening,
        place: |limits| &mut limits.least_opening_mm,
    },
    Row {
        name: "Thinnest sound wall",
        hint: "Walls and pins thinner than this break when powder is removed. 0: nobody looks.",
        of: Limits::wall,
        place: |limits| &mut limits.least_wall_mm,
    },
    Row {
        name: "Narrowest gap",
        hint: "Sides nearer to each other than this fuse. 0: nobody looks.",
        of: Limits::gap,
        place: |limits| &mut limits.least_gap_mm,
    },
];

/// The limits of shapes, each with who says it.
pub(super) fn shapes(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    heading(ui, "Shapes that come out, sizes of the finished part", &editor.model.ink);
    for Row { name, hint, of, place } in ROWS {
        let limit = of(&editor.recipe.limits);
        let usual_mm = of(&Limits::default()).mm;
        let hint = format!("{hint}\nUsual: {usual_mm} mm, common practice, no source.");
        let default = editor.saved.map(|saved| of(&saved.limits).mm);
        let (unit, range, step) = (" mm", ranges::SHAPE_LIMIT_MM, 0.05);
        let field = Number { name, unit, range, step, default, hint: &hint };
        if let Some(Changed { value, merge }) = field.show(ui, limit.mm, &editor.model.ink) {
            editor.edit(name, merge, move |recipe| *place(&mut recipe.limits) = Some(value));
        }
        ui.push_id(name, |ui| {
            ui.horizontal_wrapped(|ui| {
                if !limit.by_recipe {
                    ui.weak("usual: common practice, no source");
                } else if ui.small_button(format!("Back to the usual {usual_mm} mm")).clicked() {
                    editor.edit(name, None, move |recipe| *place(&mut recipe.limits) = None);
                }
            });
        });
    }
}

/// A time that is sought at first, ms: enough that heat is seen to add up, with no source.
const FIRST_RETURN_MS: f64 = 2.0;

/// In which order paths are taken, and how soon a spot may be heated again.
pub(super) fn order(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    heading(ui, "Order of paths, and heat", &editor.model.ink);
    let words =
        [(PathOrder::ShortJumps, "short jumps"), (PathOrder::NearestNext, "always the nearest")];
    let hint = "In which order lines, islands and contours are taken, as far as the rest leaves it open. Short \
                jumps: so that all of them together take the least time that is found.";
    if let Some(order) = choice(ui, "Path order", &editor.recipe.path_order, &words, hint) {
        editor.edit("path order", None, move |recipe| recipe.path_order = order);
    }
    let words = [(false, "nobody looks"), (true, "not too soon")];
    let is_sought = editor.recipe.shortest_return_ms.is_some();
    let hint = "Whether spots that another mark heats again too soon are a caution. To look takes several times \
                as long as to compute the layers.";
    if let Some(sought) = choice(ui, "Heated again", &is_sought, &words, hint) {
        editor.edit("heated again", None, move |recipe| {
            recipe.shortest_return_ms = sought.then_some(FIRST_RETURN_MS);
        });
    }
    let hint = "Spots that are heated again by a neighbouring mark sooner than this are a caution. No usual \
                value is known: it depends on powder and beam.";
    editor.number(ui, "Shortest return", " ms", ranges::RETURN_MS, 0.1, hint, |recipe| {
        recipe.shortest_return_ms.as_mut()
    });
}
