//! What the build will take, as far as the survey has come.

use super::failure;
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::format::duration;
use crate::widgets::theme::CAPTION;
use egui::{Grid, RichText, Ui};
use pipeline::BuildTime;

/// Sums over all layers.
#[derive(Default)]
struct Sums {
    fused_cm3: f64,
    mark_m: f64,
    jump_m: f64,
    marks: u64,
    time: BuildTime,
}

fn sums(model: &Model) -> Sums {
    let thickness = model.layer_thickness_mm();
    let mut sums = Sums::default();
    for layer in &model.results.survey.layers {
        sums.fused_cm3 += layer.area_mm2 * thickness / 1000.0;
        sums.mark_m += layer.mark_mm / 1000.0;
        sums.jump_m += layer.jump_mm / 1000.0;
        sums.marks += layer.marks;
    }
    if let Some(content) = model.content() {
        let layers = model.results.survey.layers.iter().map(|layer| layer.time);
        sums.time = BuildTime::of(&content.machine, layers);
    }
    sums
}

/// What the time goes into, in rows; what takes none is left out.
fn time_rows(time: &BuildTime) -> Vec<(&'static str, String)> {
    let mut rows = vec![("Build time", duration(time.until_done_s()))];
    let parts = time.parts().into_iter().filter(|(_, s)| *s > 0.0);
    rows.extend(parts.map(|(name, s)| (name, duration(s))));
    let cooling = if time.cooling_s > 0.0 {
        format!("{} of cooling, unopened", duration(time.cooling_s))
    } else {
        "hours of cooling, unopened".to_owned()
    };
    rows.push(("and then", cooling));
    rows
}

pub(super) fn summary(model: &Model) -> String {
    let layers = model.layer_count();
    if layers == 0 {
        return "nothing to build yet".to_owned();
    }
    if !model.results.survey.complete {
        let so_far = match model.survey_failure() {
            Some(_) => "summing up failed",
            None if model.is_cancelled() => "cancelled",
            None => "summing up",
        };
        return format!("{layers} layers; {so_far}");
    }
    format!("{layers} layers, {}", duration(sums(model).time.until_done_s()))
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    if let Some(sentence) = model.survey_failure() {
        failure::show(ui, model, &format!("The layers were not summed up. {sentence}"), actions);
    }
    let (layers, surveyed) = (model.layer_count(), model.results.survey.layers.len());
    if layers == 0 {
        ui.weak("Place a part above the build platform.");
        return;
    }
    let sums = sums(model);
    let height = f64::from(layers) * model.layer_thickness_mm();
    let volume = model.content().map_or(0.0, |content| {
        let [x, y, _] = content.machine.build_space_mm;
        x * y * height / 1000.0
    });
    let ratio = if sums.mark_m > 0.0 { 100.0 * sums.jump_m / sums.mark_m } else { 0.0 };
    let mut rows = vec![("Height", format!("{height:.1} mm, {layers} layers"))];
    rows.extend(time_rows(&sums.time));
    rows.extend([
        ("Fused", format!("{:.1} cm³", sums.fused_cm3)),
        (
            "Powder spread",
            format!("{volume:.0} cm³, {:.1} % fused", 100.0 * sums.fused_cm3 / volume),
        ),
        ("Marks", format!("{} in all, {:.1} m", sums.marks, sums.mark_m)),
        ("Jumps", format!("{:.1} m, {ratio:.0} % of the marks", sums.jump_m)),
    ]);
    Grid::new("estimates").num_columns(2).spacing([16.0, 3.0]).show(ui, |ui| {
        for (name, value) in rows {
            ui.label(RichText::new(name).color(model.ink.soft));
            ui.label(value);
            ui.end_row();
        }
    });
    let stale = model.results.survey.revision != Some(model.revision());
    let so_far = if stale {
        "Out of date: of the job before the last change."
    } else if surveyed < layers as usize {
        "As far as the layers have been looked through."
    } else {
        ""
    };
    let is_ideal = model.content().is_none_or(|content| content.machine.head.is_none());
    let times = if is_ideal {
        "Times at commanded speeds: real mirrors need longer; the machine does not say how much."
    } else {
        "Times with mirrors as the machine says."
    };
    let note = format!("{times} Powder as if spread in the build space alone, without overflow.");
    ui.label(RichText::new(format!("{note} {so_far}")).size(CAPTION).color(model.ink.soft));
}
