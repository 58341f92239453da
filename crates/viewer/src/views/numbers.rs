//! A strip with the numbers of what is selected: location and rotation, typed or dragged.

use crate::state::actions::{Action, Edit};
use crate::state::arrangement::PosedPlacement;
use crate::state::commands::Command;
use crate::state::contact::OnContact;
use crate::state::drag::DragUpdate;
use crate::state::model::Model;
use crate::state::moves::{self, DragRequest, DragStart};
use crate::widgets::entry::{Entry, say_over};
use crate::widgets::theme::CAPTION;
use egui::{
    Align, ComboBox, Layout, Rect, Response, RichText, Role, Stroke, Ui, UiBuilder, WidgetInfo,
    vec2,
};
use std::ops::RangeInclusive;

/// Narrower than this, the six numbers stand in two rows, points.
const NARROW: f32 = 370.0;

/// Height of a strip of this width, points: a row of words and one or two of numbers.
pub(crate) fn height(width: f32) -> f32 {
    if width < NARROW { 76.0 } else { 52.0 }
}

/// Height of a number, points.
const FIELD: f32 = 20.0;

/// Fills the strip; `alone` where no other view has the choice of what happens on contact.
pub(crate) fn show(
    ui: &mut Ui,
    strip: Rect,
    model: &Model,
    alone: bool,
    actions: &mut Vec<Action>,
) {
    let ink = &model.ink;
    ui.painter().rect_filled(strip, 0.0, ink.desk);
    ui.painter().hline(strip.x_range(), strip.top(), Stroke::new(1.0, ink.faint));
    let selected: Vec<&PosedPlacement> = model.arrangement.selected(&model.selection).collect();
    let inside = UiBuilder::new().max_rect(strip.shrink2(vec2(8.0, 4.0))).id_salt("numbers");
    ui.scope_builder(inside, |ui| {
        ui.set_clip_rect(strip);
        ui.spacing_mut().item_spacing = vec2(5.0, 4.0);
        if let Some(before) = DragStart::of(&selected) {
            content(ui, model, &before, alone, actions);
            return;
        }
        let says = "Nothing is selected. A click on a part selects it, with Shift or Ctrl more of \
                    them. What is selected can be dragged, with Alt without steps.";
        ui.label(RichText::new(says).size(CAPTION).color(ink.soft));
        if alone {
            on_contact(ui, model, actions);
        }
    });
}

/// What happens on contact: one choice of three, in words.
pub(crate) fn on_contact(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let now = model.drag.contact;
    let shown = format!("On contact: {}", now.word());
    let combo = ComboBox::from_id_salt("on contact")
        .selected_text(RichText::new(&shown).size(CAPTION))
        .width(116.0)
        .show_ui(ui, |ui| {
            for what in OnContact::ALL {
                let line = ui.selectable_label(what == now, what.name());
                if line.on_hover_text(what.explained()).clicked() {
                    actions.push(Action::Command(Command::OnContact(what)));
                }
            }
        });
    combo.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, &shown));
    combo.response.on_hover_text(now.explained());
}

fn content(ui: &mut Ui, model: &Model, before: &DragStart, alone: bool, actions: &mut Vec<Action>) {
    let name = match before.placements[..] {
        [(at, _)] => model.placement_name(at),
        ref many => format!("{} placements, their middle", many.len()),
    };
    heading(ui, model, &name, alone, actions);
    fields(ui, model, before, actions);
}

/// Whose numbers they are, and what can be done with it.
fn heading(ui: &mut Ui, model: &Model, name: &str, alone: bool, actions: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for (word, command) in [
                ("Delete", Command::Delete),
                ("Duplicate", Command::Duplicate),
                ("Lower", Command::Lower),
            ] {
                let button = egui::Button::new(RichText::new(word).size(CAPTION)).small();
                if ui.add(button).on_hover_text(command.info().name).clicked() {
                    actions.push(Action::Command(command));
                }
            }
            if alone {
                on_contact(ui, model, actions);
            }
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                let name = RichText::new(name).size(CAPTION).color(model.ink.soft);
                ui.add(egui::Label::new(name).truncate());
            });
        });
    });
}

/// Six numbers in one row, or in two of three.
fn fields(ui: &mut Ui, model: &Model, before: &DragStart, actions: &mut Vec<Action>) {
    let letter = 9.0;
    let is_narrow = ui.clip_rect().width() < NARROW;
    let in_row = if is_narrow { 3.0 } else { 6.0 };
    let width = ((ui.available_width() - in_row * (letter + 10.0)) / in_row).clamp(30.0, 84.0);
    // While they are held, a number is taken from where the gesture began.
    let start = model.drag.before().unwrap_or(before);
    let size = vec2(ui.available_width(), FIELD);
    let row = |ui: &mut Ui, show: &mut dyn FnMut(&mut Ui)| {
        ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
            ui.set_height(FIELD);
            ui.spacing_mut().interact_size.y = FIELD;
            show(ui);
        });
    };
    if is_narrow {
        row(ui, &mut |ui| location(ui, before, start, width, actions));
        row(ui, &mut |ui| rotation(ui, before, start, width, actions));
    } else {
        row(ui, &mut |ui| {
            location(ui, before, start, width, actions);
            rotation(ui, before, start, width, actions);
        });
    }
}

fn location(
    ui: &mut Ui,
    before: &DragStart,
    start: &DragStart,
    width: f32,
    actions: &mut Vec<Action>,
) {
    for (axis, letter) in ["X", "Y", "Z"].into_iter().enumerate() {
        let name = format!("Location {letter}");
        let range = moves::LOCATION_MM[axis].clone();
        let number = Number { letter, name: &name, unit: " mm", step: 0.1, width, range };
        let (response, new) = number.show(ui, before.centre[axis]);
        let by = |from: &DragStart, value: f64| {
            let mut by = [0.0; 3];
            by[axis] = value - from.centre[axis];
            by
        };
        drag("move", &response, before, actions, || Some(DragRequest::Move(by(start, new?))));
        if let Some(value) = new.filter(|_| !response.dragged()) {
            actions.push(typed("move", before.moved(by(before, value))));
        }
    }
}

fn rotation(
    ui: &mut Ui,
    before: &DragStart,
    start: &DragStart,
    width: f32,
    actions: &mut Vec<Action>,
) {
    let first = before.placements[0].1.rotation_deg;
    for (index, letter) in ["A", "B", "C"].into_iter().enumerate() {
        let name = format!("Rotation {letter}");
        let range = moves::ROTATION_DEG;
        let number = Number { letter, name: &name, unit: "°", step: 1.0, width, range };
        let (response, new) = number.show(ui, first[index]);
        drag("rotate", &response, before, actions, || {
            let from = start.placements[0].1.rotation_deg[index];
            Some(DragRequest::Angle(index, new? - from))
        });
        if let Some(value) = new.filter(|_| !response.dragged()) {
            let rotated = before.placements.iter().map(|&(at, mut placement)| {
                placement.rotation_deg[index] = value;
                (at, moves::allowed(placement))
            });
            actions.push(typed("rotate", rotated.collect()));
        }
    }
}

/// A number that is dragged is a drag like any other.
fn drag(
    verb: &'static str,
    response: &Response,
    before: &DragStart,
    actions: &mut Vec<Action>,
    meant: impl FnOnce() -> Option<DragRequest>,
) {
    if response.drag_started() {
        actions.push(DragUpdate::Begin(verb, before.clone()).into());
    }
    if response.dragged()
        && let Some(meant) = meant()
    {
        actions.push(DragUpdate::Aim(meant, true).into());
    }
    if response.drag_stopped() {
        actions.push(DragUpdate::End.into());
    }
}

/// A number that is typed is taken at its word, whatever is in the way.
fn typed(verb: &str, placements: Vec<(base::PlacementId, job::Placement)>) -> Action {
    let edit: Edit = moves::edit(moves::label(verb, placements.len()), placements);
    edit.into()
}

struct Number<'a> {
    letter: &'a str,
    name: &'a str,
    unit: &'a str,
    step: f64,
    width: f32,
    /// What may be typed.
    range: RangeInclusive<f64>,
}

impl Number<'_> {
    /// The field, and the new value once it changes.
    fn show(self, ui: &mut Ui, value: f64) -> (Response, Option<f64>) {
        ui.spacing_mut().button_padding = vec2(2.0, 0.0);
        let label = ui.label(RichText::new(self.letter).size(CAPTION));
        let Self { unit, step, width, range, .. } = self;
        let entry = Entry { unit, range, step, decimals: 3, words: &[] };
        let (response, new) = entry.show(ui, value, |ui, field| {
            // What is dragged is held back by what is in the way, or turns on and on.
            let mut field = field.range(f64::NEG_INFINITY..=f64::INFINITY);
            if width > 64.0 {
                field = field.suffix(unit);
            }
            ui.add_sized(vec2(width, FIELD), field).labelled_by(label.id)
        });
        say_over(ui, &response);
        let explained = format!(
            "{}, {}. Type it to put it there exactly, whatever is in the way; drag it as with the \
             pointer.",
            self.name,
            unit.trim()
        );
        let response = response.on_hover_text(explained);
        response.widget_info(|| {
            let mut info = egui::WidgetInfo::labeled(egui::Role::SpinButton, true, self.name);
            info.value = Some(value);
            info
        });
        let changed = (new - value).abs() > 1e-9;
        (response, changed.then_some(new))
    }
}
