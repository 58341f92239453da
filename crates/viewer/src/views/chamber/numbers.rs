//! A small panel with the numbers of what is chosen: location and turns, typed or dragged.

use super::placing::{self, Before};
use super::stage::{Actor, Stage};
use crate::actions::{Action, Edit};
use crate::commands::Command;
use crate::model::Model;
use egui::{Align2, Area, DragValue, Frame, Id, Margin, Order, Rect, RichText, Stroke, Ui, vec2};

/// Shows the panel near the bottom of `rect` if something is chosen. Returns the place it took.
pub(super) fn show(
    ui: &Ui,
    rect: Rect,
    model: &Model,
    stage: &Stage,
    actions: &mut Vec<Action>,
) -> Option<Rect> {
    let chosen: Vec<&Actor> = stage.chosen(model).collect();
    let before = Before::of(&chosen)?;
    let ink = &model.ink;
    let shown = Area::new(Id::unique("chamber numbers"))
        .order(Order::Middle)
        .constrain_to(rect)
        .fixed_pos(rect.center_bottom() - vec2(0.0, 8.0))
        .pivot(Align2::CENTER_BOTTOM)
        .show(ui.ctx(), |ui| {
            Frame::new()
                .fill(ink.desk)
                .stroke(Stroke::new(1.0, ink.faint))
                .inner_margin(Margin::symmetric(8, 5))
                .show(ui, |ui| content(ui, model, &before, actions));
        });
    Some(shown.response.rect)
}

fn content(ui: &mut Ui, model: &Model, before: &Before, actions: &mut Vec<Action>) {
    ui.spacing_mut().item_spacing = vec2(5.0, 3.0);
    let name = match before.placements[..] {
        [(at, _)] => model.placement_name(at),
        ref many => format!("{} placements, their middle", many.len()),
    };
    ui.label(RichText::new(name).size(crate::theme::CAPTION).color(model.ink.soft));
    ui.horizontal(|ui| {
        for (axis, letter) in ["X", "Y", "Z"].into_iter().enumerate() {
            let number =
                Number { letter, name: &format!("Location {letter}"), unit: " mm", step: 0.1 };
            if let Some((value, key)) = number.show(ui, before.centre[axis]) {
                let mut by = [0.0; 3];
                by[axis] = value - before.centre[axis];
                actions.push(within(placing::edit("move", before.moved(by)), key));
            }
        }
    });
    ui.horizontal(|ui| {
        let first = before.placements[0].1.turns_deg;
        for (axis, letter) in ["A", "B", "C"].into_iter().enumerate() {
            let number = Number { letter, name: &format!("Turn {letter}"), unit: "°", step: 1.0 };
            if let Some((value, key)) = number.show(ui, first[axis]) {
                let turned = before.placements.iter().map(|&(at, mut placement)| {
                    placement.turns_deg[axis] = value;
                    (at, placing::allowed(placement))
                });
                actions.push(within(placing::edit("turn", turned.collect()), key));
            }
        }
        for (word, command) in [("Duplicate", Command::Duplicate), ("Delete", Command::Delete)] {
            if ui.button(RichText::new(word).size(crate::theme::CAPTION)).clicked() {
                actions.push(Action::Command(command));
            }
        }
    });
}

fn within(edit: Edit, key: Option<u64>) -> Action {
    Action::Edit(match key {
        Some(key) => edit.within(key),
        None => edit,
    })
}

struct Number<'a> {
    letter: &'a str,
    name: &'a str,
    unit: &'a str,
    step: f64,
}

impl Number<'_> {
    /// The new value once it changes, with the key of the gesture while it is dragged.
    fn show(self, ui: &mut Ui, value: f64) -> Option<(f64, Option<u64>)> {
        let label = ui.label(self.letter);
        let mut new = value;
        let field = DragValue::new(&mut new)
            .speed(self.step)
            .min_decimals(0)
            .max_decimals(3)
            .suffix(self.unit)
            .update_while_editing(false);
        let response = ui.add_sized(vec2(72.0, 18.0), field).labelled_by(label.id);
        let response = response.on_hover_text(self.name);
        response.widget_info(|| {
            let mut info = egui::WidgetInfo::labeled(egui::Role::SpinButton, true, self.name);
            info.value = Some(value);
            info
        });
        let changed = (new - value).abs() > 1e-9;
        changed.then(|| (new, response.dragged().then(|| crate::actions::merge_key(response.id))))
    }
}
