//! Contours: how many, in which order, where they start.

use super::{exposures, passes};
use crate::views::traveller::recipe_editor::{RecipeEditor, part_of};
use crate::widgets::field::{choice, count};
use egui::Ui;
use job::Recipe;
use job::recipe::{ContourOrder, Contours, StartPoint, Strategy, ranges};

/// Shows the contours of the strategy that `lens` finds in a recipe.
pub(super) fn show(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    contours: Option<&Contours>,
    lens: impl Fn(&mut Recipe) -> Option<&mut Strategy> + Copy + Send + 'static,
) {
    let of = part_of(move |recipe| lens(recipe)?.contours.as_mut());
    let words = [(true, "along the boundary"), (false, "none")];
    if let Some(on) =
        choice(ui, "Contours", &contours.is_some(), &words, "Exposures along the boundary.")
    {
        editor.edit("contours", None, move |recipe| {
            let exposure = recipe.exposures.first().map(|e| e.name.clone());
            if let Some(strategy) = lens(recipe) {
                strategy.contours = on.then(|| first_contours(exposure));
            }
        });
    }
    let Some(contours) = contours else { return };
    let hint = "How many; the outermost lies at the beam offset.";
    if let Some(new) = count(ui, "Number of contours", contours.count, ranges::CONTOURS, hint) {
        editor.edit("number of contours", new.merge, move |recipe| {
            if let Some(contours) = of(recipe) {
                contours.count = new.value;
            }
        });
    }
    let hint = "Distance from one contour to the next.";
    editor.number(ui, "Contour spacing", " mm", ranges::SPACING_MM, 0.005, hint, move |recipe| {
        of(recipe).map(|contours| &mut contours.spacing_mm)
    });
    let words = [(ContourOrder::InsideOut, "inside out"), (ContourOrder::OutsideIn, "outside in")];
    let hint = "In which order the contours of a boundary are run.";
    if let Some(new) = choice(ui, "Contour order", &contours.order, &words, hint) {
        editor.edit("contour order", None, move |recipe| {
            if let Some(contours) = of(recipe) {
                contours.order = new;
            }
        });
    }
    start_point(ui, editor, contours.start, of);
    exposures::show(ui, editor, "Contour", &contours.exposures, move |recipe| {
        of(recipe).map(|contours| &mut contours.exposures)
    });
    passes::of_contours(ui, editor, contours, of);
}

/// Contours to start from; common practice, no source.
fn first_contours(exposure: Option<String>) -> Contours {
    Contours {
        count: 1,
        spacing_mm: 0.25,
        order: ContourOrder::InsideOut,
        start: StartPoint::Nearest,
        exposures: exposure.into_iter().collect(),
        further_passes: Vec::new(),
    }
}

/// A kind of start point, without its numbers.
#[derive(Clone, Copy, PartialEq)]
enum StartKind {
    Nearest,
    SharpestCorner,
    Towards,
    Spread,
}

impl StartKind {
    const WORDS: [(Self, &str); 4] = [
        (Self::Nearest, "nearest to the beam"),
        (Self::SharpestCorner, "sharpest corner"),
        (Self::Towards, "towards a direction"),
        (Self::Spread, "spread over the layers"),
    ];

    fn of(start: StartPoint) -> Self {
        match start {
            StartPoint::Nearest => Self::Nearest,
            StartPoint::SharpestCorner => Self::SharpestCorner,
            StartPoint::Towards(_) => Self::Towards,
            StartPoint::Spread => Self::Spread,
        }
    }

    /// A start point of this kind to begin with: seams to the back.
    fn first(self) -> StartPoint {
        match self {
            Self::Nearest => StartPoint::Nearest,
            Self::SharpestCorner => StartPoint::SharpestCorner,
            Self::Towards => StartPoint::Towards(90.0),
            Self::Spread => StartPoint::Spread,
        }
    }
}

fn start_point(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    start: StartPoint,
    of: impl Fn(&mut Recipe) -> Option<&mut Contours> + Copy + Send + 'static,
) {
    let hint = "Where a closed contour starts and ends: its seam.";
    let kind = StartKind::of(start);
    if let Some(new) = choice(ui, "Start point", &kind, &StartKind::WORDS, hint) {
        editor.edit("start point", None, move |recipe| {
            if let Some(contours) = of(recipe) {
                contours.start = new.first();
            }
        });
    }
    let hint = "Direction of the seams, from +X.";
    editor.number(ui, "Seam direction", "°", ranges::ANGLE_DEG, 1.0, hint, move |recipe| {
        match &mut of(recipe)?.start {
            StartPoint::Towards(direction) => Some(direction),
            StartPoint::Nearest | StartPoint::SharpestCorner | StartPoint::Spread => None,
        }
    });
}
