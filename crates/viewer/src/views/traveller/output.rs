//! The vector file: where it goes, and what reading it back verified.

use crate::state::actions::{Action, Purpose};
use crate::state::commands::Command;
use crate::state::model::Model;
use egui::Ui;

pub(super) fn summary(model: &Model) -> String {
    match &model.results.written {
        None => "not written yet".to_owned(),
        Some(written) => {
            let old = if written.revision == model.revision() { "" } else { ", of an earlier job" };
            let verified = written.verdict.as_ref().map(pipeline::Verdict::is_verified);
            match verified {
                Some(true) if old.is_empty() && model.stops() > 0 => {
                    "verified, but the job has stop findings".to_owned()
                }
                Some(true) => format!("written and verified{old}"),
                Some(false) => format!("written, NOT verified{old}"),
                None => format!("written, verification cancelled{old}"),
            }
        }
    }
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    if let Some(path) = model.output_path() {
        ui.weak(path.display().to_string());
    }
    let stops = model.stop_findings();
    if let (Some(first), Some(path)) = (stops.first(), model.output_path()) {
        let named = pipeline::not_fit(&path);
        let (count, s) = (stops.len(), if stops.len() == 1 { "" } else { "s" });
        let sentence = format!(
            "Refused as it is, for {count} stop finding{s}. {} It is written only if you insist, as {}.",
            first.sentence(),
            named.display()
        );
        ui.colored_label(model.ink.stop, sentence);
    }
    ui.horizontal_wrapped(|ui| {
        let ready = Command::WriteVectors.is_possible(model);
        let name = if stops.is_empty() {
            Command::WriteVectors.info().name
        } else {
            "Write it though it is not fit…"
        };
        let write = egui::Button::new(name);
        if ui.add_enabled(ready, write).clicked() {
            actions.push(Action::Command(Command::WriteVectors));
        }
        if ui.add_enabled(ready, egui::Button::new("Elsewhere…")).clicked() {
            actions.push(Action::Ask(Purpose::WriteVectors));
        }
    });
    if let Some(written) = &model.results.written {
        let megabytes = written.bytes as f64 / 1e6;
        ui.label(format!("{}: {megabytes:.2} MB", written.path.display()));
        match &written.verdict {
            Some(verdict) if verdict.is_verified() => ui.label(format!(
                "Verified against the job: {} layers, {:.1} million points looked at. {:.2} mm² of \
                 corners and walls narrower than the beam, summed over layers, remain unexposed.",
                verdict.layers,
                verdict.points_tested as f64 / 1e6,
                verdict.thin_unexposed_mm2
            )),
            Some(_) => ui.colored_label(
                model.ink.stop,
                "Not verified: see the findings. Do not run this file.",
            ),
            None => ui.colored_label(model.ink.caution, "Verification was cancelled."),
        };
    }
}
