//! What the checks found: sentences with a place, which the views go to.

use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::icons;
use crate::widgets::theme::CAPTION;
use base::{Finding, Severity};
use egui::{RichText, Ui};

pub(super) fn summary(model: &Model) -> String {
    let count = |severity| model.results.findings().filter(|f| f.severity == severity).count();
    let counts = [Severity::Stop, Severity::Caution, Severity::Note].map(|s| (s, count(s)));
    let words: Vec<String> =
        counts.iter().filter(|(_, n)| *n > 0).map(|(s, n)| format!("{n} {s}")).collect();
    let complete = model.results.survey.complete || model.layer_count() == 0;
    let looking = if model.is_called_off() { "stopped" } else { "still looking" };
    match (words.is_empty(), complete) {
        (true, true) => "none".to_owned(),
        (true, false) => looking.to_owned(),
        (false, true) => words.join(", "),
        (false, false) => format!("{}; {looking}", words.join(", ")),
    }
}

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let mut findings: Vec<&Finding> = model.results.findings().collect();
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    if findings.is_empty() {
        ui.weak(if model.results.survey.complete {
            "Nothing was found in any layer."
        } else if model.is_called_off() {
            "Nothing was found so far."
        } else {
            "The layers are still being looked through."
        });
    }
    if model.is_called_off() && !model.results.survey.complete {
        let looked = model.results.survey.layers.len();
        let all = model.layer_count();
        ui.colored_label(
            model.ink.caution,
            format!("Stopped after {looked} of {all} layers; the next edit starts it anew."),
        );
    }
    for (index, finding) in findings.into_iter().enumerate() {
        ui.push_id(index, |ui| row(ui, model, finding, actions));
    }
}

fn row(ui: &mut Ui, model: &Model, finding: &Finding, actions: &mut Vec<Action>) {
    let ink = &model.ink;
    let place = place(model, finding);
    ui.horizontal(|ui| {
        icons::severity_mark(ui, finding.severity, ink);
        let colour = icons::severity_colour(finding.severity, ink);
        ui.label(RichText::new(finding.severity.to_string()).size(CAPTION).color(colour));
        if !place.is_empty() {
            let name = RichText::new(&place).size(CAPTION);
            let response = ui.add(egui::Button::new(name).small().truncate());
            if response.on_hover_text("Show this place in every view").clicked() {
                actions.push(Action::GoTo(finding.place.clone()));
            }
        }
    });
    ui.label(&finding.sentence);
    ui.add_space(2.0);
}

/// Where it lies, in words.
fn place(model: &Model, finding: &Finding) -> String {
    let place = &finding.place;
    let mut words: Vec<String> = Vec::new();
    let built = model.results.build.as_ref();
    let at = place.placement.and_then(|row| {
        let (part, copy) = built?.build.placements().nth(row as usize)?;
        Some(base::PlacementId { part, copy })
    });
    if let Some(at) = at {
        words.push(model.placement_name(at));
    } else if let Some(part) = &place.part {
        let name = part.rsplit('/').next().unwrap_or(part);
        words.push(name.to_owned());
    }
    match place.layers {
        Some((first, last)) if first == last => words.push(format!("layer {first}")),
        Some((first, last)) => words.push(format!("layers {first} to {last}")),
        None => {}
    }
    if let Some([x, y, z]) = place.point_mm {
        words.push(format!("({x:.1}, {y:.1}, {z:.1}) mm"));
    }
    words.join(" · ")
}
