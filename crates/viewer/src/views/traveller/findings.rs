//! What the checks found: sentences with a place, which the views go to.

mod mending;

use crate::state::actions::Action;
use crate::state::model::Model;
use crate::state::results::FindingsKey;
use crate::widgets::icons;
use crate::widgets::theme::CAPTION;
use base::{Kind, Severity};
use egui::{RichText, Ui};
use pipeline::{Group, grouped};
use std::collections::BTreeMap;

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

/// What the section remembers from frame to frame.
#[derive(Default)]
pub(super) struct Findings {
    seen: Option<FindingsKey>,
    kinds: Vec<OfOneKind>,
    /// How many places are listed of a kind, where the person wants more than the first few.
    listed: BTreeMap<Kind, usize>,
}

/// All that was found of one kind.
struct OfOneKind {
    kind: Kind,
    severity: Severity,
    groups: Vec<Group>,
}

/// So many places of a kind are listed at first, and so many more with every click.
const FIRST: usize = 3;
const MORE: usize = 50;

impl Findings {
    pub(super) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let now = model.results.findings_key();
        if self.seen.as_ref() != Some(&now) {
            self.kinds = by_kind(grouped(model.results.findings()));
            self.seen = Some(now);
        }
        if self.kinds.is_empty() {
            ui.weak(nothing_found(model));
        }
        if model.is_cancelled() && !model.results.survey.complete {
            let looked = model.results.survey.layers.len();
            let all = model.layer_count();
            ui.colored_label(
                model.ink.caution,
                format!("Cancelled after {looked} of {all} layers; the next edit starts it anew."),
            );
        }
        for of in &self.kinds {
            let listed = self.listed.entry(of.kind).or_insert(FIRST);
            ui.push_id((of.kind.as_str(), of.severity), |ui| kind(ui, model, of, listed, actions));
        }
    }
}

fn nothing_found(model: &Model) -> &'static str {
    if model.results.survey.complete {
        "Nothing was found in any layer."
    } else if model.survey_failure().is_some() {
        "Not all layers were looked through; see the estimates."
    } else if model.is_cancelled() {
        "Nothing was found so far."
    } else {
        "The layers are still being looked through."
    }
}

/// Puts together what is of one kind and as bad; kinds come in the order in which they were found.
fn by_kind(groups: Vec<Group>) -> Vec<OfOneKind> {
    let mut kinds: Vec<OfOneKind> = Vec::new();
    for group in groups {
        let (kind, severity) = (group.first.kind(), group.first.severity());
        let known = kinds.iter_mut().find(|of| (of.kind, of.severity) == (kind, severity));
        match known {
            Some(of) => of.groups.push(group),
            None => kinds.push(OfOneKind { kind, severity, groups: vec![group] }),
        }
    }
    kinds
}

/// One kind: what is the matter, how often, what to do, and where.
fn kind(ui: &mut Ui, model: &Model, of: &OfOneKind, listed: &mut usize, actions: &mut Vec<Action>) {
    let Some(first) = of.groups.first() else { return };
    if of.groups.len() == 1 {
        row(ui, model, first, actions);
        mending::show(ui, model, of.kind, &of.groups, actions);
        return;
    }
    ui.horizontal(|ui| {
        severity(ui, model, of.severity);
        let name = of.kind.as_str().replace('_', " ");
        ui.label(RichText::new(format!("{name} · {}", of.groups.len())).size(CAPTION));
    });
    advice(ui, first);
    mending::show(ui, model, of.kind, &of.groups, actions);
    for (index, group) in of.groups.iter().take(*listed).enumerate() {
        ui.push_id(index, |ui| {
            place(ui, group, actions);
            sentence(ui, group);
        });
    }
    let more = of.groups.len().saturating_sub(*listed);
    if more > 0 && ui.small_button(format!("and {more} more")).clicked() {
        *listed += MORE;
    }
    ui.add_space(2.0);
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

/// One finding, with all places at which it was found.
pub(super) fn row(ui: &mut Ui, model: &Model, group: &Group, actions: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        severity(ui, model, group.first.severity());
        place(ui, group, actions);
    });
    sentence(ui, group);
    advice(ui, group);
    ui.add_space(2.0);
}

fn severity(ui: &mut Ui, model: &Model, severity: Severity) {
    icons::severity_mark(ui, severity, &model.ink);
    let colour = icons::severity_colour(severity, &model.ink);
    ui.label(RichText::new(severity.to_string()).size(CAPTION).color(colour));
}

fn advice(ui: &mut Ui, group: &Group) {
    if !group.first.advice().is_empty() {
        ui.weak(group.first.advice());
    }
}

fn sentence(ui: &mut Ui, group: &Group) {
    let finding = &group.first;
    ui.label(finding.sentence()).on_hover_text(format!("Limit: {}", finding.limit()));
}

/// Where it lies, as a button that goes there.
fn place(ui: &mut Ui, group: &Group, actions: &mut Vec<Action>) {
    let place = group.place();
    let place = place.rsplit('/').next().unwrap_or_default(); // of a file, its name alone
    if place.is_empty() {
        return;
    }
    let name = RichText::new(place).size(CAPTION);
    let response = ui.add(egui::Button::new(name).small().truncate());
    if response.on_hover_text("Show this place in every view").clicked() {
        actions.push(Action::GoTo(group.first.place.clone()));
    }
}
