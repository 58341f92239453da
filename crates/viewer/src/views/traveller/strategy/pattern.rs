//! How a hatched region is divided: whole lines, stripes, cells. A new scan pattern gets its fields
//! here.

use crate::views::traveller::recipe_editor::RecipeEditor;
use crate::widgets::field::choice;
use egui::Ui;
use job::Recipe;
use job::recipe::{CellOrder, Hatch, Pattern, ranges};

/// A kind of pattern, without its numbers.
#[derive(Clone, Copy, PartialEq)]
enum PatternKind {
    Lines,
    Stripes,
    Cells,
}

impl PatternKind {
    const WORDS: [(Self, &str); 3] =
        [(Self::Lines, "whole lines"), (Self::Stripes, "stripes"), (Self::Cells, "cells")];

    fn of(pattern: Pattern) -> Self {
        match pattern {
            Pattern::Lines => Self::Lines,
            Pattern::Stripes { .. } => Self::Stripes,
            Pattern::Cells { .. } => Self::Cells,
        }
    }

    /// A pattern of this kind to start from; common practice, no source.
    fn first(self) -> Pattern {
        match self {
            Self::Lines => Pattern::Lines,
            Self::Stripes => Pattern::Stripes { width_mm: 10.0, overlap_mm: 0.1 },
            Self::Cells => {
                Pattern::Cells { size_mm: 5.0, overlap_mm: 0.1, order: CellOrder::Scattered }
            }
        }
    }
}

/// Shows the pattern of the hatch that `of` finds in a recipe.
pub(super) fn show(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    pattern: Pattern,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let hint = "How the region is divided.";
    let kind = PatternKind::of(pattern);
    if let Some(new) = choice(ui, "Pattern", &kind, &PatternKind::WORDS, hint) {
        editor.edit("pattern", None, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.pattern = new.first();
                if let (PatternKind::Cells, Some(forbidden)) = (new, &mut hatch.forbidden) {
                    let most = *ranges::CROSSED_WITHIN_DEG.end();
                    forbidden.within_deg = forbidden.within_deg.min(most);
                }
            }
        });
    }
    match pattern {
        Pattern::Lines => {}
        Pattern::Stripes { width_mm, .. } => {
            let hint = "Width of a stripe: the longest a line can be.";
            size(ui, editor, "Stripe width", hint, of);
            overlap(ui, editor, width_mm, of);
        }
        Pattern::Cells { size_mm, order, .. } => {
            size(ui, editor, "Cell size", "Edge of a cell.", of);
            overlap(ui, editor, size_mm, of);
            cell_order(ui, editor, order, of);
        }
    }
}

/// Width of a stripe or size of a cell.
fn size(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    name: &str,
    hint: &str,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    editor.number(ui, name, " mm", ranges::TILE_MM, 0.1, hint, move |recipe| {
        match &mut of(recipe)?.pattern {
            Pattern::Lines => None,
            Pattern::Stripes { width_mm, .. } => Some(width_mm),
            Pattern::Cells { size_mm, .. } => Some(size_mm),
        }
    });
}

fn overlap(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    size_mm: f64,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let hint = "How far neighbours reach into each other; half their size at most.";
    editor.number(ui, "Overlap", " mm", 0.0..=size_mm / 2.0, 0.005, hint, move |recipe| {
        match &mut of(recipe)?.pattern {
            Pattern::Lines => None,
            Pattern::Stripes { overlap_mm, .. } | Pattern::Cells { overlap_mm, .. } => {
                Some(overlap_mm)
            }
        }
    });
}

fn cell_order(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    order: CellOrder,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let words = [(CellOrder::RowByRow, "row by row"), (CellOrder::Scattered, "scattered")];
    let hint = "Scattered keeps neighbouring cells apart in time, so that heat spreads.";
    if let Some(new) = choice(ui, "Cell order", &order, &words, hint) {
        editor.edit("cell order", None, move |recipe| {
            match of(recipe).map(|hatch| &mut hatch.pattern) {
                Some(Pattern::Cells { order, .. }) => *order = new,
                Some(Pattern::Lines | Pattern::Stripes { .. }) | None => {}
            }
        });
    }
}
