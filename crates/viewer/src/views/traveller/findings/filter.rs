//! Which findings are listed: by severity, by kind, and those that are accepted.

use super::kinds::OfOneKind;
use crate::state::model::Model;
use crate::widgets::icons;
use crate::widgets::theme::CAPTION;
use base::{Kind, Severity};
use egui::{Button, ComboBox, RichText, Role, Ui, WidgetInfo};
use std::collections::BTreeSet;

/// The worst first.
pub(super) const SEVERITIES: [Severity; 3] = [Severity::Stop, Severity::Caution, Severity::Note];

/// From so many kinds on there is a list to choose one from.
const MANY_KINDS: usize = 4;

/// What is hidden; nothing at first.
#[derive(Default)]
pub(super) struct Filter {
    hidden: BTreeSet<Severity>,
    hides_accepted: bool,
    kind: Option<Kind>,
}

impl Filter {
    /// Whether a kind is listed.
    pub(super) fn shows(&self, of: &OfOneKind) -> bool {
        !self.hidden.contains(&of.severity) && self.kind.is_none_or(|kind| kind == of.kind)
    }

    /// Whether what is accepted is listed.
    pub(super) fn shows_accepted(&self) -> bool {
        !self.hides_accepted
    }

    /// The row of choices, with how many there are of each; and how many are hidden by it.
    pub(super) fn show(&mut self, ui: &mut Ui, model: &Model, kinds: &[OfOneKind]) {
        let accepted = model.findings.accepted.len();
        let all: BTreeSet<Kind> = kinds.iter().map(|of| of.kind).collect();
        self.kind = self.kind.filter(|kind| all.contains(kind));
        if all.len() + accepted < 2 {
            return;
        }
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            for severity in SEVERITIES {
                self.of_severity(ui, model, severity);
            }
            if accepted > 0 {
                let text = RichText::new(format!("{accepted} accepted")).size(CAPTION);
                let button = ui.add(Button::selectable(!self.hides_accepted, text).small());
                if button.on_hover_text("List or hide what was accepted with a reason").clicked() {
                    self.hides_accepted ^= true;
                }
            }
            if all.len() >= MANY_KINDS {
                self.of_kind(ui, &all);
            }
        });
        let hidden =
            kinds.iter().filter(|of| !self.shows(of)).map(|of| of.groups.len()).sum::<usize>();
        if hidden > 0 {
            ui.weak(format!("{hidden} not listed, by the choices above."));
        }
        ui.add_space(2.0);
    }

    fn of_severity(&mut self, ui: &mut Ui, model: &Model, severity: Severity) {
        let n = model.findings.open.iter().filter(|f| f.severity() == severity).count();
        if n == 0 {
            return;
        }
        let s = if n == 1 { "" } else { "s" };
        let is_on = !self.hidden.contains(&severity);
        let colour = icons::severity_colour(severity, &model.ink);
        let text = RichText::new(format!("{n} {severity}{s}")).size(CAPTION).color(colour);
        let button = ui.add(Button::selectable(is_on, text).small());
        if button.on_hover_text(format!("List or hide the {severity}s")).clicked() {
            if is_on {
                self.hidden.insert(severity);
            } else {
                self.hidden.remove(&severity);
            }
        }
    }

    fn of_kind(&mut self, ui: &mut Ui, all: &BTreeSet<Kind>) {
        let shown = self.kind.map_or("all kinds".to_owned(), Kind::words);
        let list = ComboBox::from_id_salt("kind of findings")
            .selected_text(RichText::new(shown).size(CAPTION))
            .width(ui.available_width().clamp(60.0, 110.0))
            .truncate()
            .show_ui(ui, |ui| {
                ui.selectable_value(&mut self.kind, None, "all kinds");
                for kind in all {
                    ui.selectable_value(&mut self.kind, Some(*kind), kind.words());
                }
            });
        list.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Kind of findings"));
    }
}
