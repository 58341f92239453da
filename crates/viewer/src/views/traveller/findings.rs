//! What the checks found: sentences with a place, which the views go to.

use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::icons;
use crate::widgets::theme::CAPTION;
use base::{Kind, Severity};
use egui::{RichText, Ui};
use pipeline::{Group, grouped};

pub(super) fn summary(model: &Model) -> String {
    let count = |severity| model.results.findings().filter(|f| f.severity() == severity).count();
    let counts = [Severity::Stop, Severity::Caution, Severity::Note].map(|s| (s, count(s)));
    let words: Vec<String> =
        counts.iter().filter(|(_, n)| *n > 0).map(|(s, n)| format!("{n} {s}")).collect();
    let complete = model.results.survey.complete || model.layer_count() == 0;
    let looking = match model.survey_failure() {
        Some(_) => "looking through the layers failed",
        None if model.is_cancelled() => "cancelled",
        None => "still looking",
    };
    match (words.is_empty(), complete) {
        (true, true) => "none".to_owned(),
        (true, false) => looking.to_owned(),
        (false, true) => words.join(", "),
        (false, false) => format!("{}; {looking}", words.join(", ")),
    }
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let findings = grouped(model.results.findings());
    if findings.is_empty() {
        ui.weak(if model.results.survey.complete {
            "Nothing was found in any layer."
        } else if model.survey_failure().is_some() {
            "Not all layers were looked through; see the estimates."
        } else if model.is_cancelled() {
            "Nothing was found so far."
        } else {
            "The layers are still being looked through."
        });
    }
    if model.is_cancelled() && !model.results.survey.complete {
        let looked = model.results.survey.layers.len();
        let all = model.layer_count();
        ui.colored_label(
            model.ink.caution,
            format!("Cancelled after {looked} of {all} layers; the next edit starts it anew."),
        );
    }
    for (index, group) in findings.into_iter().enumerate() {
        ui.push_id(index, |ui| row(ui, model, &group, actions));
    }
}

/// Cautions about what a recipe asks for, told by its file; shown beside its numbers, too.
pub(super) fn of_recipe<'m>(
    model: &'m Model,
    file: &'m str,
) -> impl Iterator<Item = &'m base::Finding> {
    let kinds = [Kind::EnergyOutsideWindow, Kind::OutsideCommonPractice];
    let of_now = model.results.of_revision(model.revision());
    of_now.filter(move |f| kinds.contains(&f.kind()) && f.place.part() == Some(file))
}

pub(super) fn row(ui: &mut Ui, model: &Model, group: &Group, actions: &mut Vec<Action>) {
    let (ink, finding) = (&model.ink, &group.first);
    let severity = finding.severity();
    let place = group.place();
    let place = place.rsplit('/').next().unwrap_or_default(); // of a file, its name alone
    ui.horizontal(|ui| {
        icons::severity_mark(ui, severity, ink);
        let colour = icons::severity_colour(severity, ink);
        ui.label(RichText::new(severity.to_string()).size(CAPTION).color(colour));
        if !place.is_empty() {
            let name = RichText::new(place).size(CAPTION);
            let response = ui.add(egui::Button::new(name).small().truncate());
            if response.on_hover_text("Show this place in every view").clicked() {
                actions.push(Action::GoTo(finding.place.clone()));
            }
        }
    });
    ui.label(finding.sentence()).on_hover_text(format!("Limit: {}", finding.limit()));
    if !finding.advice().is_empty() {
        ui.weak(finding.advice());
    }
    ui.add_space(2.0);
}
