//! The machine: build space, laser, scan head.

use super::machine_edit::edit;
use super::{field_corrections, head};
use crate::state::actions::{Action, Purpose};
use crate::state::model::Model;
use crate::widgets::field::{Number, heading, text};
use egui::Ui;
use job::Machine;
use job::machine::ranges;
use std::ops::RangeInclusive;

pub(super) fn summary(model: &Model) -> String {
    let Some(content) = model.content() else { return String::new() };
    let [x, y, z] = content.machine.build_space_mm;
    format!("{} · {x} × {y} × {z} mm", content.machine.name)
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let Some(document) = &model.document else { return };
    let machine = &document.content().machine;
    let saved = document.saved().map(|saved| &saved.machine);
    if !machine.notes.is_empty() {
        ui.weak(&machine.notes);
    }
    if let Some(changed) = text(ui, "Name", &machine.name, "What you call the machine.") {
        actions.push(edit("rename the machine", changed.merge, move |m| m.name = changed.value));
    }
    for (title, fields) in GROUPS {
        heading(ui, title, &model.ink);
        for field in fields {
            let value = *(field.of)(&mut machine.clone());
            let default = saved.map(|saved| *(field.of)(&mut saved.clone()));
            let &Field { name, unit, step, hint, of, .. } = field;
            let range = field.range.clone();
            let number = Number { name, unit, range, step, default, hint };
            if let Some(changed) = number.show(ui, value, &model.ink) {
                let set = move |machine: &mut Machine| *of(machine) = changed.value;
                actions.push(edit(name, changed.merge, set));
            }
        }
    }
    head::show(ui, model, machine, actions);
    field_corrections::show(ui, model, machine, actions);
    if ui.button("Use another machine…").clicked() {
        actions.push(Action::Ask(Purpose::UseMachine));
    }
}

/// A number of the machine.
struct Field {
    name: &'static str,
    unit: &'static str,
    range: RangeInclusive<f64>,
    step: f64,
    hint: &'static str,
    of: fn(&mut Machine) -> &mut f64,
}

/// Titles, each with its fields.
const GROUPS: [(&str, &[Field]); 4] = [
    ("Build space, centred on the platform", &BUILD_SPACE),
    ("Spreading", &SPREADING),
    ("Laser (class 4: closed housing, interlocks, goggles for its wavelength)", &LASER),
    ("Scan head", &SCAN_HEAD),
];

const SIZE_HINT: &str = "Size of the box that parts may occupy.";

const BUILD_SPACE: [Field; 3] = [
    Field {
        name: "Width X",
        unit: " mm",
        range: ranges::BUILD_SPACE_MM,
        step: 0.5,
        hint: SIZE_HINT,
        of: |m| &mut m.build_space_mm[0],
    },
    Field {
        name: "Depth Y",
        unit: " mm",
        range: ranges::BUILD_SPACE_MM,
        step: 0.5,
        hint: SIZE_HINT,
        of: |m| &mut m.build_space_mm[1],
    },
    Field {
        name: "Height Z",
        unit: " mm",
        range: ranges::BUILD_SPACE_MM,
        step: 0.5,
        hint: SIZE_HINT,
        of: |m| &mut m.build_space_mm[2],
    },
];

const SPREADING: [Field; 2] = [
    Field {
        name: "Spreading direction",
        unit: "°",
        range: ranges::ANGLE_DEG,
        step: 1.0,
        hint: "Direction in which the spreader travels over the bed, from +X.",
        of: |m| &mut m.spreading_direction_deg,
    },
    Field {
        name: "Recoat time",
        unit: " s",
        range: ranges::RECOAT_TIME_S,
        step: 0.1,
        hint: "From the last mark of one layer to the first of the next.",
        of: |m| &mut m.recoat_time_s,
    },
];

const LASER: [Field; 3] = [
    Field {
        name: "Wavelength",
        unit: " nm",
        range: ranges::WAVELENGTH_NM,
        step: 10.0,
        hint: "Wavelength of the laser.",
        of: |m| &mut m.laser.wavelength_nm,
    },
    Field {
        name: "Greatest power",
        unit: " W",
        range: 0.01..=ranges::MAX_POWER_W,
        step: 0.1,
        hint: "Most power at the bed, behind all mirrors, that an exposure may ask for.",
        of: |m| &mut m.laser.max_power_w,
    },
    Field {
        name: "Beam radius",
        unit: " mm",
        range: ranges::SPOT_RADIUS_MM,
        step: 0.005,
        hint: "Radius of the beam at the bed, where its intensity has fallen to 1/e² of that in the \
               middle: half the beam width of ISO 11146-1.",
        of: |m| &mut m.laser.spot_radius_mm,
    },
];

const SCAN_HEAD: [Field; 2] = [
    Field {
        name: "Greatest mark speed",
        unit: " mm/s",
        range: 1.0..=ranges::MAX_SPEED_MM_S,
        step: 10.0,
        hint: "Fastest mark that an exposure may ask for, at the bed.",
        of: |m| &mut m.scan_head.max_mark_speed_mm_s,
    },
    Field {
        name: "Jump speed",
        unit: " mm/s",
        range: 1.0..=ranges::MAX_SPEED_MM_S,
        step: 10.0,
        hint: "Speed of jumps between marks, at the bed.",
        of: |m| &mut m.scan_head.jump_speed_mm_s,
    },
];
