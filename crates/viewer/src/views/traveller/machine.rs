//! The machine: build space, laser, scan head.

use crate::state::actions::{Action, Edit, Purpose};
use crate::state::model::Model;
use crate::widgets::field::{Number, heading, text};
use egui::Ui;
use job::Machine;
use job::machine::ranges;

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
    let mut number = |ui: &mut Ui,
                      name: &str,
                      unit: &str,
                      range: std::ops::RangeInclusive<f64>,
                      step: f64,
                      hint: &str,
                      get: fn(&mut Machine) -> &mut f64| {
        let value = *get(&mut machine.clone());
        let default = saved.map(|saved| *get(&mut saved.clone()));
        let field = Number { name, unit, range, step, default, hint };
        if let Some(changed) = field.show(ui, value, &model.ink) {
            let set = move |machine: &mut Machine| *get(machine) = changed.value;
            actions.push(edit(name, changed.merge, set));
        }
    };
    heading(ui, "Build space, centred on the platform", &model.ink);
    let hint = "Size of the box that parts may occupy.";
    number(ui, "Width X", " mm", ranges::BUILD_SPACE_MM, 0.5, hint, |m| &mut m.build_space_mm[0]);
    number(ui, "Depth Y", " mm", ranges::BUILD_SPACE_MM, 0.5, hint, |m| &mut m.build_space_mm[1]);
    number(ui, "Height Z", " mm", ranges::BUILD_SPACE_MM, 0.5, hint, |m| &mut m.build_space_mm[2]);
    heading(ui, "Spreading", &model.ink);
    let hint = "Direction in which the spreader travels over the bed, from +X.";
    number(ui, "Spreading direction", "°", ranges::ANGLE_DEG, 1.0, hint, |m| {
        &mut m.spreading_direction_deg
    });
    let hint = "From the last mark of one layer to the first of the next.";
    number(ui, "Recoat time", " s", ranges::RECOAT_TIME_S, 0.1, hint, |m| &mut m.recoat_time_s);
    heading(
        ui,
        "Laser (class 4: closed housing, interlocks, goggles for its wavelength)",
        &model.ink,
    );
    let hint = "Wavelength of the laser.";
    number(ui, "Wavelength", " nm", ranges::WAVELENGTH_NM, 10.0, hint, |m| {
        &mut m.laser.wavelength_nm
    });
    let hint = "Most power at the bed, behind all mirrors, that an exposure may ask for.";
    number(ui, "Greatest power", " W", 0.01..=ranges::MAX_POWER_W, 0.1, hint, |m| {
        &mut m.laser.max_power_w
    });
    heading(ui, "Scan head", &model.ink);
    let hint = "Fastest mark that an exposure may ask for, at the bed.";
    number(ui, "Greatest mark speed", " mm/s", 1.0..=ranges::MAX_SPEED_MM_S, 10.0, hint, |m| {
        &mut m.scan_head.max_mark_speed_mm_s
    });
    let hint = "Speed of jumps between marks, at the bed.";
    number(ui, "Jump speed", " mm/s", 1.0..=ranges::MAX_SPEED_MM_S, 10.0, hint, |m| {
        &mut m.scan_head.jump_speed_mm_s
    });
    if ui.button("Use another machine…").clicked() {
        actions.push(Action::Ask(Purpose::UseMachine));
    }
}

fn edit(what: &str, merge: Option<u64>, set: impl FnOnce(&mut Machine) + Send + 'static) -> Action {
    let mut edit = Edit::new(format!("machine: {}", what.to_lowercase()), |content| {
        set(&mut content.machine);
    });
    if let Some(key) = merge {
        edit = edit.within(key);
    }
    edit.into()
}
