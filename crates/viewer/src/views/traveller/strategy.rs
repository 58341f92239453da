//! How one kind of region is exposed: contours and hatch, every parameter.

use super::recipe::Sheet;
use crate::widgets::field::{choice, count};
use egui::{CollapsingHeader, Ui};
use job::Recipe;
use job::recipe::{
    CellOrder, ContourOrder, Contours, ForbiddenAngles, Hatch, Pattern, Sequence, StartPoint,
    Strategy, Travel, ranges,
};

/// Shows the strategy that `lens` finds in a recipe.
pub(super) fn show(
    ui: &mut Ui,
    sheet: &mut Sheet<'_>,
    name: &str,
    lens: impl Fn(&mut Recipe) -> Option<&mut Strategy> + Copy + Send + 'static,
) {
    let mut recipe = sheet.recipe.clone();
    let Some(strategy) = lens(&mut recipe).cloned() else { return };
    ui.push_id(("strategy", name), |ui| {
        CollapsingHeader::new(format!("{name}: {}", in_words(&strategy)))
            .id_salt(name)
            .default_open(name == "Core")
            .show(ui, |ui| {
                let words = [
                    (Sequence::ContoursFirst, "contours first"),
                    (Sequence::HatchFirst, "hatch first"),
                ];
                let hint = "Whether contours or hatch come first in a layer of a part.";
                if let Some(new) = choice(ui, "Sequence", &strategy.sequence, &words, hint) {
                    sheet.edit("sequence", None, move |recipe| {
                        if let Some(strategy) = lens(recipe) {
                            strategy.sequence = new;
                        }
                    });
                }
                contours(ui, sheet, strategy.contours.as_ref(), lens);
                hatch(ui, sheet, strategy.hatch.as_ref(), lens);
            });
    });
}

/// Tells the compiler that a closure borrows from the recipe that it is given.
fn part_of<T, F: Fn(&mut Recipe) -> Option<&mut T> + Copy>(of: F) -> F {
    of
}

fn in_words(strategy: &Strategy) -> String {
    let contours = strategy.contours.as_ref().map(|c| match c.count {
        1 => "1 contour".to_owned(),
        many => format!("{many} contours"),
    });
    let hatch = strategy.hatch.as_ref().map(|hatch| format!("hatch {} mm", hatch.spacing_mm));
    contours.into_iter().chain(hatch).collect::<Vec<_>>().join(", ")
}

/// The exposures of a recipe as the words of a choice.
pub(super) fn exposure_words(recipe: &Recipe) -> Vec<(String, &str)> {
    recipe.exposures.iter().map(|e| (e.name.clone(), e.name.as_str())).collect()
}

/// Whether nothing in a recipe refers to an exposure.
pub(super) fn is_unused(recipe: &Recipe, name: &str) -> bool {
    use job::recipe::ThinWalls;
    let facing = [&recipe.up_facing, &recipe.down_facing];
    let facing = facing.into_iter().flatten().map(|facing| &facing.strategy);
    let in_strategies = std::iter::once(&recipe.core).chain(facing).any(|strategy| {
        let contours = strategy.contours.iter().flat_map(|c| &c.exposures);
        let hatch = strategy.hatch.iter().flat_map(|h| &h.exposures);
        contours.chain(hatch).any(|used| used == name)
    });
    let in_walls = matches!(
        &recipe.thin_walls,
        ThinWalls::Expose { exposure, .. } if exposure == name
    );
    !in_strategies && !in_walls
}

/// The list of exposures that run one after the other.
fn exposures(
    ui: &mut Ui,
    sheet: &mut Sheet<'_>,
    what: &str,
    list: &[String],
    lens: impl Fn(&mut Recipe) -> Option<&mut Vec<String>> + Copy + Send + 'static,
) {
    let words = exposure_words(sheet.recipe);
    for (index, used) in list.iter().enumerate() {
        let name = match list.len() {
            1 => format!("{what} exposure"),
            _ => format!("{what} exposure {}", index + 1),
        };
        let hint = "The laser setting; several run one after the other.";
        if let Some(new) = choice(ui, &name, used, &words, hint) {
            sheet.edit(&name, None, move |recipe| {
                if let Some(place) = lens(recipe).and_then(|list| list.get_mut(index)) {
                    *place = new;
                }
            });
        }
    }
    ui.horizontal(|ui| {
        if ui.small_button("Once more").on_hover_text("Run another exposure after these").clicked()
        {
            sheet.edit("one exposure more", None, move |recipe| {
                if let Some(list) = lens(recipe)
                    && let Some(last) = list.last().cloned()
                {
                    list.push(last);
                }
            });
        }
        if list.len() > 1 && ui.small_button("Once less").clicked() {
            sheet.edit("one exposure less", None, move |recipe| {
                lens(recipe).map(Vec::pop);
            });
        }
    });
}

fn contours(
    ui: &mut Ui,
    sheet: &mut Sheet<'_>,
    contours: Option<&Contours>,
    lens: impl Fn(&mut Recipe) -> Option<&mut Strategy> + Copy + Send + 'static,
) {
    let of = part_of(move |recipe| lens(recipe)?.contours.as_mut());
    let words = [(true, "along the boundary"), (false, "none")];
    if let Some(on) =
        choice(ui, "Contours", &contours.is_some(), &words, "Exposures along the boundary.")
    {
        sheet.edit("contours", None, move |recipe| {
            let exposure = recipe.exposures.first().map(|e| e.name.clone());
            if let Some(strategy) = lens(recipe) {
                strategy.contours = on.then(|| Contours {
                    count: 1,
                    spacing_mm: 0.25,
                    order: ContourOrder::InsideOut,
                    start: StartPoint::Nearest,
                    exposures: exposure.into_iter().collect(),
                });
            }
        });
    }
    let Some(contours) = contours else { return };
    let hint = "How many; the outermost lies at the beam offset.";
    if let Some(new) = count(ui, "Number of contours", contours.count, ranges::CONTOURS, hint) {
        sheet.edit("number of contours", new.merge, move |recipe| {
            if let Some(contours) = of(recipe) {
                contours.count = new.value;
            }
        });
    }
    let hint = "Distance from one contour to the next.";
    sheet.number(ui, "Contour spacing", " mm", ranges::SPACING_MM, 0.005, hint, move |recipe| {
        of(recipe).map(|contours| &mut contours.spacing_mm)
    });
    let words = [(ContourOrder::InsideOut, "inside out"), (ContourOrder::OutsideIn, "outside in")];
    let hint = "In which order the contours of a boundary are run.";
    if let Some(new) = choice(ui, "Contour order", &contours.order, &words, hint) {
        sheet.edit("contour order", None, move |recipe| {
            if let Some(contours) = of(recipe) {
                contours.order = new;
            }
        });
    }
    let words = [
        (0, "nearest to the beam"),
        (1, "sharpest corner"),
        (2, "towards a direction"),
        (3, "spread over the layers"),
    ];
    let kind = match contours.start {
        StartPoint::Nearest => 0,
        StartPoint::SharpestCorner => 1,
        StartPoint::Towards(_) => 2,
        StartPoint::Spread => 3,
    };
    let hint = "Where a closed contour starts and ends: its seam.";
    if let Some(new) = choice(ui, "Start point", &kind, &words, hint) {
        sheet.edit("start point", None, move |recipe| {
            if let Some(contours) = of(recipe) {
                contours.start = match new {
                    0 => StartPoint::Nearest,
                    1 => StartPoint::SharpestCorner,
                    2 => StartPoint::Towards(90.0),
                    _ => StartPoint::Spread,
                };
            }
        });
    }
    let hint = "Direction of the seams, from +X.";
    sheet.number(ui, "Seam direction", "°", ranges::ANGLE_DEG, 1.0, hint, move |recipe| match of(
        recipe,
    )?
    .start
    {
        StartPoint::Towards(ref mut direction) => Some(direction),
        _ => None,
    });
    exposures(ui, sheet, "Contour", &contours.exposures, move |recipe| {
        of(recipe).map(|contours| &mut contours.exposures)
    });
}

fn hatch(
    ui: &mut Ui,
    sheet: &mut Sheet<'_>,
    hatch: Option<&Hatch>,
    lens: impl Fn(&mut Recipe) -> Option<&mut Strategy> + Copy + Send + 'static,
) {
    let of = part_of(move |recipe| lens(recipe)?.hatch.as_mut());
    let words = [(true, "parallel lines"), (false, "none")];
    if let Some(on) = choice(ui, "Hatch", &hatch.is_some(), &words, "Lines that fill the region.") {
        sheet.edit("hatch", None, move |recipe| {
            let exposure = recipe.exposures.first().map(|e| e.name.clone());
            if let Some(strategy) = lens(recipe) {
                strategy.hatch = on.then(|| first_hatch(exposure));
            }
        });
    }
    let Some(hatch) = hatch else { return };
    let energy = sheet.recipe.exposures.iter().find(|e| Some(&e.name) == hatch.exposures.first());
    let spacing_hint = energy.map_or(String::new(), |e| {
        let energy = job::energy::area_energy_j_mm2(e.power_w, e.speed_mm_s, hatch.spacing_mm);
        format!(
            "Distance of the lines. Now {energy:.4} J/mm² for one exposure; about 0.01 to 0.03 \
             J/mm² makes dense polyamide 12 (from memory of Caulfield et al. 2007, J. Mater. \
             Process. Technol. 182)."
        )
    });
    sheet.number(ui, "Hatch spacing", " mm", ranges::SPACING_MM, 0.002, &spacing_hint, move |r| {
        of(r).map(|hatch| &mut hatch.spacing_mm)
    });
    let hint = "Distance from the innermost contour's centre to the ends of the hatch.";
    sheet.number(ui, "Gap to contour", " mm", ranges::GAP_MM, 0.002, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.gap_mm)
    });
    let hint = "Scan angle of layer 0, from +X.";
    sheet.number(ui, "Scan angle", "°", ranges::ANGLE_DEG, 0.5, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.angle_deg)
    });
    let hint = "How far the scan angle turns from each layer to the next. Common practice: 67° or \
                90°.";
    sheet.number(ui, "Turn per layer", "°", ranges::ANGLE_DEG, 0.5, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.rotation_per_layer_deg)
    });
    let words = [(false, "all allowed"), (true, "keep off the spreading direction")];
    let hint = "Whether scan angles near the spreading direction are turned away from it.";
    if let Some(on) = choice(ui, "Scan angles", &hatch.forbidden.is_some(), &words, hint) {
        sheet.edit("scan angles", None, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.forbidden = on.then_some(ForbiddenAngles { within_deg: 15.0 });
            }
        });
    }
    let hint =
        "Angles closer than this to the spreading direction are turned on to the window's end.";
    sheet.number(ui, "Forbidden within", "°", 0.0..=89.9, 0.5, hint, move |recipe| {
        of(recipe)?.forbidden.as_mut().map(|forbidden| &mut forbidden.within_deg)
    });
    let words = [(Travel::Serpentine, "to and fro"), (Travel::OneWay, "one way")];
    let hint = "Whether every other line runs back.";
    if let Some(new) = choice(ui, "Travel", &hatch.travel, &words, hint) {
        sheet.edit("travel", None, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.travel = new;
            }
        });
    }
    pattern(ui, sheet, hatch.pattern, of);
    let hint = "Lines shorter than this are left out.";
    sheet.number(ui, "Shortest mark", " mm", ranges::SHORTEST_MM, 0.01, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.min_length_mm)
    });
    let hint = "The region is filled in every n-th layer only, counted from layer 0.";
    let (n, range) = (hatch.every_nth_layer, ranges::EVERY_NTH_LAYER);
    if let Some(new) = count(ui, "Every n-th layer", n, range, hint) {
        sheet.edit("every n-th layer", new.merge, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.every_nth_layer = new.value;
            }
        });
    }
    exposures(ui, sheet, "Hatch", &hatch.exposures, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.exposures)
    });
}

/// A hatch to start from; common practice, no source.
fn first_hatch(exposure: Option<String>) -> Hatch {
    Hatch {
        spacing_mm: 0.2,
        gap_mm: 0.2,
        angle_deg: 45.0,
        rotation_per_layer_deg: 67.0,
        forbidden: None,
        travel: Travel::Serpentine,
        pattern: Pattern::Lines,
        min_length_mm: 0.3,
        every_nth_layer: 1,
        exposures: exposure.into_iter().collect(),
    }
}

fn pattern(
    ui: &mut Ui,
    sheet: &mut Sheet<'_>,
    pattern: Pattern,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let words = [(0, "whole lines"), (1, "stripes"), (2, "cells")];
    let kind = match pattern {
        Pattern::Lines => 0,
        Pattern::Stripes { .. } => 1,
        Pattern::Cells { .. } => 2,
    };
    let hint = "How the region is divided.";
    if let Some(new) = choice(ui, "Pattern", &kind, &words, hint) {
        sheet.edit("pattern", None, move |recipe| {
            if let Some(hatch) = of(recipe) {
                let order = CellOrder::Scattered;
                hatch.pattern = match new {
                    0 => Pattern::Lines,
                    1 => Pattern::Stripes { width_mm: 10.0, overlap_mm: 0.1 },
                    _ => Pattern::Cells { size_mm: 5.0, overlap_mm: 0.1, order },
                };
            }
        });
    }
    let hint = "Width of a stripe: the longest a line can be.";
    sheet.number(
        ui,
        "Stripe width",
        " mm",
        ranges::TILE_MM,
        0.1,
        hint,
        move |recipe| match &mut of(recipe)?.pattern {
            Pattern::Stripes { width_mm, .. } => Some(width_mm),
            _ => None,
        },
    );
    let hint = "Edge of a cell.";
    sheet.number(ui, "Cell size", " mm", ranges::TILE_MM, 0.1, hint, move |recipe| match &mut of(
        recipe,
    )?
    .pattern
    {
        Pattern::Cells { size_mm, .. } => Some(size_mm),
        _ => None,
    });
    let size = match pattern {
        Pattern::Lines => return,
        Pattern::Stripes { width_mm, .. } => width_mm,
        Pattern::Cells { size_mm, .. } => size_mm,
    };
    let hint = "How far neighbours reach into each other; half their size at most.";
    sheet.number(ui, "Overlap", " mm", 0.0..=size / 2.0, 0.005, hint, move |recipe| match &mut of(
        recipe,
    )?
    .pattern
    {
        Pattern::Lines => None,
        Pattern::Stripes { overlap_mm, .. } | Pattern::Cells { overlap_mm, .. } => Some(overlap_mm),
    });
    if let Pattern::Cells { order, .. } = pattern {
        let words = [(CellOrder::RowByRow, "row by row"), (CellOrder::Scattered, "scattered")];
        let hint = "Scattered keeps neighbouring cells apart in time, so that heat spreads.";
        if let Some(new) = choice(ui, "Cell order", &order, &words, hint) {
            sheet.edit("cell order", None, move |recipe| {
                if let Some(Pattern::Cells { order, .. }) = of(recipe).map(|h| &mut h.pattern) {
                    *order = new;
                }
            });
        }
    }
}
