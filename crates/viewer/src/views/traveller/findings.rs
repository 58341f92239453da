//! What the checks found: sentences with a place, which the views go to.

mod accepted;
mod accepting;
mod filter;
mod kinds;
mod mending;
mod said;

use crate::state::actions::Action;
use crate::state::model::{Model, SortedKey};
use crate::widgets::theme::CAPTION;
use accepting::Accepting;
use base::Kind;
use egui::{RichText, Ui};
use filter::Filter;
use kinds::{OfOneKind, by_kind};
use pipeline::{AcceptedGroup, grouped, grouped_accepted};
pub(super) use said::row;
use said::{advice, place, sentence, severity};
use std::collections::BTreeMap;

pub(super) fn summary(model: &Model) -> String {
    let count = |s| model.findings.open.iter().filter(|f| f.severity() == s).count();
    let counts = filter::SEVERITIES.map(|s| (s.to_string(), count(s)));
    let accepted = ("accepted".to_owned(), model.findings.accepted.len());
    let counts = counts.into_iter().chain([accepted]).filter(|(_, n)| *n > 0);
    let words: Vec<String> = counts.map(|(what, n)| format!("{n} {what}")).collect();
    let shapes_are_seen = model.results.shapes.missing().is_empty();
    let complete = (model.results.survey.complete && shapes_are_seen) || model.layer_count() == 0;
    let looking = match (model.survey_failure(), model.shape_failure()) {
        (Some(_), _) => "looking through the layers failed",
        (None, Some(_)) => "looking at the shapes failed",
        (None, None) if model.is_cancelled() => "cancelled",
        (None, None) => "still looking",
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
    seen: Option<SortedKey>,
    kinds: Vec<OfOneKind>,
    accepted: Vec<AcceptedGroup>,
    filter: Filter,
    accepting: Accepting,
    /// How many places are listed of a kind, where the person wants more than the first few.
    listed: BTreeMap<Kind, usize>,
}

/// So many places of a kind are listed at first, and so many more with every click.
const FIRST: usize = 3;
const MORE: usize = 50;

impl Findings {
    pub(super) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let now = model.findings_key();
        if self.seen.as_ref() != now {
            self.kinds = by_kind(grouped(&model.findings.open));
            self.accepted = grouped_accepted(&model.findings.accepted);
            self.seen = now.cloned();
        }
        if self.kinds.is_empty() {
            ui.weak(nothing_found(model));
        }
        self.filter.show(ui, model, &self.kinds);
        if model.is_cancelled() && !model.results.survey.complete {
            let looked = model.results.survey.layers.len();
            let all = model.layer_count();
            ui.colored_label(
                model.ink.caution,
                format!("Cancelled after {looked} of {all} layers; the next edit starts it anew."),
            );
        }
        if let Some(sentence) = model.shape_failure() {
            ui.colored_label(model.ink.stop, sentence);
        }
        for of in self.kinds.iter().filter(|of| self.filter.shows(of)) {
            let listed = self.listed.entry(of.kind).or_insert(FIRST);
            let accepting = &mut self.accepting;
            let show = |ui: &mut Ui| kind(ui, model, of, (listed, accepting), actions);
            ui.push_id((of.kind.as_str(), of.severity), show);
        }
        if self.filter.shows_accepted() {
            accepted::show(ui, model, &self.accepted, actions);
        }
    }
}

fn nothing_found(model: &Model) -> &'static str {
    if model.results.survey.complete && !model.findings.accepted.is_empty() {
        return "Nothing else was found.";
    }
    if model.results.survey.complete && !model.results.shapes.missing().is_empty() {
        "Nothing was found in any layer; the shapes are not all looked at."
    } else if model.results.survey.complete {
        "Nothing was found in any layer."
    } else if model.survey_failure().is_some() {
        "Not all layers were looked through; see the estimates."
    } else if model.is_cancelled() {
        "Nothing was found so far."
    } else {
        "The layers are still being looked through."
    }
}

/// One kind: what is the matter, how often, what to do, and where.
fn kind(
    ui: &mut Ui,
    model: &Model,
    of: &OfOneKind,
    (listed, accepting): (&mut usize, &mut Accepting),
    actions: &mut Vec<Action>,
) {
    let Some(first) = of.groups.first() else { return };
    if of.groups.len() == 1 {
        row(ui, model, first, actions);
        ui.horizontal_wrapped(|ui| {
            mending::buttons(ui, model, of.kind, &of.groups, actions);
            accepting.button(ui, "Accept…", &of.groups);
        });
        accepting.field(ui, &of.groups, actions);
        ui.add_space(2.0);
        return;
    }
    ui.horizontal(|ui| {
        severity(ui, model, of.severity);
        let name = of.kind.words();
        ui.label(RichText::new(format!("{name} · {}", of.groups.len())).size(CAPTION));
    });
    advice(ui, first);
    ui.horizontal_wrapped(|ui| {
        mending::buttons(ui, model, of.kind, &of.groups, actions);
        accepting.button(ui, &format!("Accept all {}…", of.groups.len()), &of.groups);
    });
    accepting.field(ui, &of.groups, actions);
    for (index, group) in of.groups.iter().take(*listed).enumerate() {
        ui.push_id(index, |ui| {
            let alone = std::slice::from_ref(group);
            ui.horizontal(|ui| {
                let room = ui.available_width() - accepting::ROOM;
                ui.scope(|ui| {
                    ui.set_max_width(room.max(40.0));
                    place(ui, group, actions);
                });
                accepting.button(ui, "Accept…", alone);
            });
            sentence(ui, group);
            accepting.field(ui, alone, actions);
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
    let is_of_it = move |f: &&base::Finding| {
        kinds.contains(&f.kind()) && f.place.part() == Some(file) && !model.is_accepted(f)
    };
    of_now.filter(is_of_it)
}
