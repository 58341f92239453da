//! What the machine measured at places of its build space: a table with a row for each.

use super::machine_edit::edit;
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::field::{Number, heading};
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::{CAPTION, GAP};
use egui::{RichText, Ui};
use job::Machine;
use job::machine::{FieldCorrection, StepCorrection, ranges};
use std::ops::RangeInclusive;

pub(super) fn show(ui: &mut Ui, model: &Model, machine: &Machine, actions: &mut Vec<Action>) {
    heading(ui, "Correction by place in the build space", &model.ink);
    let places = &machine.field_corrections;
    let said = if places.is_empty() {
        "None: parts are exposed alike wherever they stand. If coupons near the edges come out otherwise than \
         in the middle, add a place for each and say what it needs."
    } else {
        "Each part gets what the middle of its box asks for, in steps of 1 % and 1 µm; in between, nearer \
         places count more."
    };
    ui.label(RichText::new(said).size(CAPTION).color(model.ink.soft));
    if !places.is_empty() {
        egui::Grid::new("field corrections").num_columns(5).spacing([6.0, 3.0]).show(ui, |ui| {
            for column in &COLUMNS {
                let title = RichText::new(column.title).size(CAPTION).color(model.ink.soft);
                ui.label(title).on_hover_text(column.hint);
            }
            ui.end_row();
            for (index, place) in places.iter().enumerate() {
                row(ui, model, machine, (index, *place), actions);
                ui.end_row();
            }
        });
    }
    if let Some(new) = new_place(machine) {
        ui.add_space(GAP);
        let add = ui.small_button("Add a place");
        let hint = "A place where coupons were measured; it starts with what holds there now.";
        if add.on_hover_text(hint).clicked() {
            actions.push(edit("add a place", None, move |m| m.field_corrections.push(new)));
        }
    }
    ui.add_space(2.0 * GAP);
}

/// A number of a place.
struct Column {
    title: &'static str,
    /// What the number is called behind "Place 1".
    name: &'static str,
    step: f64,
    hint: &'static str,
    range: fn(&Machine) -> RangeInclusive<f64>,
    of: fn(&mut FieldCorrection) -> &mut f64,
}

const COLUMNS: [Column; 4] = [
    Column {
        title: "X, mm",
        name: "X",
        step: 0.5,
        hint: "Where it was measured, to the right of the centre of the platform.",
        range: |machine| across(machine.build_space_mm[0]),
        of: |place| &mut place.x_mm,
    },
    Column {
        title: "Y, mm",
        name: "Y",
        step: 0.5,
        hint: "Where it was measured, to the back of the centre of the platform.",
        range: |machine| across(machine.build_space_mm[1]),
        of: |place| &mut place.y_mm,
    },
    Column {
        title: "× Power",
        name: "power",
        step: 0.002,
        hint: "How many times its power every exposure gets there, so that as much arrives as the recipe \
               asks for. Where the laser has no more power, marks are slower.",
        range: |_| ranges::POWER_FACTOR,
        of: |place| &mut place.power_factor,
    },
    Column {
        title: "+ Offset, mm",
        name: "offset",
        step: 0.001,
        hint: "How much farther inside contours lie there: what beam offsets get on top.",
        range: |_| ranges::OFFSET_CHANGE_MM,
        of: |place| &mut place.offset_change_mm,
    },
];

fn across(size_mm: f64) -> RangeInclusive<f64> {
    -size_mm / 2.0..=size_mm / 2.0
}

/// The numbers of one place, and what takes it out.
fn row(
    ui: &mut Ui,
    model: &Model,
    machine: &Machine,
    (index, mut place): (usize, FieldCorrection),
    actions: &mut Vec<Action>,
) {
    for &Column { name, step, hint, range, of, .. } in &COLUMNS {
        let name = &format!("Place {} {name}", index + 1);
        let range = range(machine);
        let number = Number { name, unit: "", range, step, default: None, hint };
        if let Some(new) = number.show_alone(ui, *of(&mut place)) {
            actions.push(edit(name, new.merge, move |machine| {
                if let Some(place) = machine.field_corrections.get_mut(index) {
                    *of(place) = new.value;
                }
            }));
        }
    }
    let name = format!("Remove place {}", index + 1);
    if icons::button(ui, Icon::Close, &name, true, &model.ink).clicked() {
        actions.push(edit("remove a place", None, move |machine| {
            if index < machine.field_corrections.len() {
                machine.field_corrections.remove(index);
            }
        }));
    }
}

/// The next place to measure, with what holds there now: the middle, then corners, then edges and finer, a
/// tenth of the build space away from its walls. `None` when all of these are taken.
fn new_place(machine: &Machine) -> Option<FieldCorrection> {
    let places = &machine.field_corrections;
    if places.len() >= ranges::MOST_PLACES {
        return None;
    }
    let [width, depth, _] = machine.build_space_mm;
    let is_free = |&[x, y]: &[f64; 2]| {
        places.iter().all(|place| (place.x_mm - x).hypot(place.y_mm - y) > 1.0)
    };
    let at = grids().map(|[x, y]| [0.8 * width * x, 0.8 * depth * y].map(f64::round));
    let [x_mm, y_mm] = at.into_iter().find(is_free)?;
    let now = machine.correction_at([x_mm, y_mm]).in_steps();
    let (power_factor, offset_change_mm) = (now.power_factor(), now.offset_change_mm());
    Some(FieldCorrection { x_mm, y_mm, power_factor, offset_change_mm })
}

/// Points of the square from −½ to ½: its middle, its corners, then grids of 3 × 3 up to 33 × 33 points.
fn grids() -> impl Iterator<Item = [f64; 2]> {
    let of = |count: u32| {
        let at = move |k: u32| f64::from(k) / f64::from((count - 1).max(1)) - 0.5;
        let at = move |k: u32| if count == 1 { 0.0 } else { at(k) };
        (0..count * count).map(move |k| [at(k % count), at(k / count)])
    };
    [1, 2, 3, 5, 9, 17, 33].into_iter().flat_map(of)
}

/// What a place asks for, in words; nothing where it asks for nothing.
pub(super) fn in_words(correction: StepCorrection) -> Option<String> {
    if correction.is_none() {
        return None;
    }
    let (percent, offset_mm) = (correction.power_percent, correction.offset_change_mm());
    let sign = if offset_mm < 0.0 { '−' } else { '+' };
    Some(format!("By its place: {percent} % of power, beam offset {sign} {} mm", offset_mm.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn machine() -> Machine {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../../assets/machines/bench_co2_30w.ron");
        Machine::from_ron(&std::fs::read_to_string(file).expect("a machine")).expect("a machine")
    }

    #[test]
    fn places_are_proposed_where_nothing_was_measured_and_change_nothing_by_themselves() {
        let mut machine = machine();
        let mut next = || {
            let new = new_place(&machine).expect("a free place");
            machine.field_corrections.push(new);
            assert_eq!(machine.validate(), Ok(()));
            new
        };
        let plain = |x_mm, y_mm| {
            let (power_factor, offset_change_mm) = (1.0, 0.0);
            FieldCorrection { x_mm, y_mm, power_factor, offset_change_mm }
        };
        assert_eq!(next(), plain(0.0, 0.0));
        // 180 × 180 mm, a tenth of it away from the walls
        assert_eq!(next(), plain(-72.0, -72.0));
        let corner = machine.field_corrections.last_mut().expect("a place");
        (corner.power_factor, corner.offset_change_mm) = (1.06, 0.02);
        // 1/d² to the middle and to the first corner are as 2 to 1 at the second corner
        assert_eq!(new_place(&machine).map(|p| (p.power_factor, p.offset_change_mm)), {
            Some((1.02, 0.007))
        });
        while let Some(new) = new_place(&machine) {
            machine.field_corrections.push(new);
        }
        assert_eq!(machine.validate(), Ok(()));
        assert_eq!(machine.field_corrections.len(), ranges::MOST_PLACES);
    }

    #[test]
    fn what_a_place_asks_for_is_said() {
        let said = |power_percent, offset_change_um| {
            in_words(StepCorrection { power_percent, offset_change_um })
        };
        assert_eq!(said(100, 0), None);
        assert_eq!(
            said(104, -12).as_deref(),
            Some("By its place: 104 % of power, beam offset − 0.012 mm")
        );
    }
}
