//! The vector file: where it goes, how far it is, and what reading it back verified.

use crate::state::actions::{Action, Purpose};
use crate::state::arrangement::single;
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::paths::absolute;
use crate::state::results::{Refused, Stage, Writing, WrittenFile};
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::{GAP, HEADING};
use base::Severity;
use egui::{Color32, Frame, Margin, RichText, Stroke, Ui, vec2};
use std::path::Path;

/// What there is to say of the file that was written last.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Not that of the job as it is.
    Old,
    Verified,
    /// It holds what the job says, but that must not be built.
    VerifiedButStops,
    NotVerified,
    /// Nobody knows.
    Unverified,
}

impl State {
    fn of(model: &Model, written: &WrittenFile) -> Self {
        let is_old = written.revision != model.revision();
        match written.verdict.as_ref().map(pipeline::Verdict::is_verified) {
            Some(false) => Self::NotVerified,
            None => Self::Unverified,
            Some(true) if is_old => Self::Old,
            Some(true) if model.stops() > 0 => Self::VerifiedButStops,
            Some(true) => Self::Verified,
        }
    }

    fn title(self) -> &'static str {
        match self {
            Self::Old => "Verified, but of an earlier job",
            Self::Verified => "Written and verified",
            Self::VerifiedButStops => "Verified, but the job has stop findings",
            Self::NotVerified => "Written, NOT verified",
            Self::Unverified => "Written, verification did not end",
        }
    }

    /// What to do with the file.
    fn advice(self) -> &'static str {
        match self {
            Self::Old => "The job has changed since. Write it anew before you build.",
            Self::Verified => "Read back: it holds what the job says.",
            Self::VerifiedButStops => {
                "Do not build it: put the stop findings right, and write it anew."
            }
            Self::NotVerified => "See the findings. Do not run this file.",
            Self::Unverified => {
                "Do not run this file. Write it anew, and let the verification end."
            }
        }
    }

    fn colour(self, model: &Model) -> Color32 {
        let ink = &model.ink;
        match self {
            Self::Old | Self::Unverified => ink.caution,
            Self::Verified => ink.good,
            Self::VerifiedButStops | Self::NotVerified => ink.stop,
        }
    }

    /// The mark beside the title: a shape of its own for each.
    fn mark(self, ui: &mut Ui, model: &Model) {
        match self {
            Self::Verified => {
                let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), egui::Sense::hover());
                let stroke = Stroke::new(2.5, model.ink.good);
                icons::paint(ui.painter(), rect, Icon::Check, stroke);
            }
            Self::Old | Self::Unverified => {
                icons::severity_mark(ui, Severity::Caution, &model.ink);
            }
            Self::VerifiedButStops | Self::NotVerified => {
                icons::severity_mark(ui, Severity::Stop, &model.ink);
            }
        }
    }
}

pub(super) fn summary(model: &Model) -> String {
    match (&model.results.writing, &model.results.written) {
        (Some(writing), _) => match writing.stage {
            Stage::Proving => "clearances are being proven …".to_owned(),
            Stage::Writing => "being written …".to_owned(),
            Stage::Verifying(_) => "being verified …".to_owned(),
        },
        (None, _) if refused_now(model).is_some() => {
            "not written, since the job must stop".to_owned()
        }
        (None, None) => "not written yet".to_owned(),
        (None, Some(written)) => {
            let title = State::of(model, written).title();
            title[..1].to_lowercase() + &title[1..]
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
    match (&model.results.writing, &model.results.written) {
        (Some(writing), _) => on_its_way(ui, model, writing),
        (None, Some(file)) => written(ui, model, file),
        (None, None) => {}
    }
    if let Some(refused) = refused_now(model) {
        not_written(ui, model, refused);
    }
}

/// What was refused of the job as it is.
fn refused_now(model: &Model) -> Option<&Refused> {
    model.results.refused.as_ref().filter(|refused| refused.revision == model.revision())
}

/// So many reasons are named for a refusal; the findings have them all.
const REASONS: usize = 3;

fn not_written(ui: &mut Ui, model: &Model, refused: &Refused) {
    let ink = &model.ink;
    frame(ui, model, ink.stop, |ui| {
        ui.horizontal(|ui| {
            icons::severity_mark(ui, Severity::Stop, ink);
            ui.label(RichText::new("Nothing was written").size(HEADING).color(ink.stop));
        });
        path(ui, &refused.path);
        for stop in refused.stops.iter().take(REASONS) {
            ui.label(stop);
        }
        if refused.stops.len() > REASONS {
            ui.weak(format!("and {} more in the findings", refused.stops.len() - REASONS));
        }
        let older = model.results.written.as_ref().is_some_and(|file| file.path == refused.path);
        if older {
            ui.weak("The file of that name is older, and of another job.");
        }
    });
}

/// A frame in a colour around what is said of one file.
fn frame(ui: &mut Ui, model: &Model, colour: Color32, content: impl FnOnce(&mut Ui)) {
    ui.add_space(GAP);
    Frame::new()
        .fill(model.ink.well)
        .stroke(Stroke::new(1.5, colour))
        .corner_radius(3)
        .inner_margin(Margin::symmetric(8, 6))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            content(ui);
        });
}

fn on_its_way(ui: &mut Ui, model: &Model, writing: &Writing) {
    let ink = &model.ink;
    frame(ui, model, ink.faint, |ui| {
        let (title, advice) = match writing.stage {
            Stage::Proving => (
                "1 of 3: clearances are being proven",
                "Nothing is written before every distance is known. Esc cancels.",
            ),
            Stage::Writing => {
                ("2 of 3: being written", "The file has its name when it is whole. Esc cancels.")
            }
            Stage::Verifying(_) => (
                "3 of 3: being verified",
                "It is written, and read back against the job. Do not run it before that has ended.",
            ),
        };
        ui.label(RichText::new(title).size(HEADING));
        let bar = egui::ProgressBar::new(single(writing.fraction)).desired_height(6.0);
        let bar = ui.add(bar.fill(ink.soft));
        bar.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ProgressIndicator, true, title));
        path(ui, &writing.path);
        ui.weak(advice);
    });
}

fn written(ui: &mut Ui, model: &Model, file: &WrittenFile) {
    let state = State::of(model, file);
    let colour = state.colour(model);
    frame(ui, model, colour, |ui| {
        ui.horizontal(|ui| {
            state.mark(ui, model);
            ui.label(RichText::new(state.title()).size(HEADING).color(colour));
        });
        path(ui, &file.path);
        ui.label(state.advice());
        let megabytes = file.bytes as f64 / 1e6;
        let looked_at = file.verdict.as_ref().filter(|verdict| verdict.is_verified());
        ui.weak(looked_at.map_or_else(
            || format!("{megabytes:.2} MB"),
            |verdict| {
                format!(
                    "{megabytes:.2} MB, {} layers, {:.1} million points looked at. {:.2} mm² of corners and \
                     walls narrower than the beam, summed over layers, remain unexposed.",
                    verdict.layers,
                    verdict.points_tested as f64 / 1e6,
                    verdict.thin_unexposed_mm2
                )
            },
        ));
    });
}

/// Where the file lies, from the root.
fn path(ui: &mut Ui, path: &Path) {
    ui.add(egui::Label::new(absolute(path).display().to_string()).wrap());
}
