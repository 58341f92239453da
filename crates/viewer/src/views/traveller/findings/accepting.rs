//! Taking findings as they are, with a reason.

use crate::state::actions::{Action, Edit};
use egui::{Button, Key, Role, TextEdit, Ui, WidgetInfo};
use pipeline::Group;

/// Room that the button of one place takes beside its name, points.
pub(super) const ROOM: f32 = 82.0;

/// What the person is about to accept, and the reason so far.
#[derive(Default)]
pub(super) struct Accepting {
    what: Option<Vec<String>>,
    reason: String,
    /// Whether the field is new, and gets the keyboard.
    is_new: bool,
}

/// What tells findings from others while the person types: what is said, and where.
fn names(groups: &[Group]) -> Vec<String> {
    groups.iter().map(ToString::to_string).collect()
}

impl Accepting {
    /// The button that begins it; none where one of the findings may not be accepted.
    pub(super) fn button(&mut self, ui: &mut Ui, text: &str, groups: &[Group]) {
        if groups.is_empty() || !groups.iter().all(|group| group.first.is_acceptable()) {
            return;
        }
        let hint =
            "Take this as it is, with a reason that stays in the job; it then no longer counts.";
        if ui.small_button(text).on_hover_text(hint).clicked() {
            (self.what, self.is_new) = (Some(names(groups)), true);
        }
    }

    /// The field for the reason, where these findings are about to be accepted.
    pub(super) fn field(&mut self, ui: &mut Ui, groups: &[Group], actions: &mut Vec<Action>) {
        if self.what.as_ref().is_none_or(|what| *what != names(groups)) {
            return;
        }
        let field = TextEdit::singleline(&mut self.reason).hint_text("Why it may be so");
        let field = ui.add(field.desired_width(f32::INFINITY));
        field.widget_info(|| WidgetInfo::labeled(Role::TextInput, true, "Reason"));
        if std::mem::take(&mut self.is_new) {
            field.request_focus();
            field.scroll_to_me(None);
        }
        let enter = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let escape = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Escape));
        let reason = self.reason.trim().to_owned();
        ui.horizontal(|ui| {
            let accept = ui.add_enabled(!reason.is_empty(), Button::new("Accept").small());
            if !reason.is_empty() && (accept.clicked() || enter) {
                actions.push(edit(groups, reason).into());
                *self = Self::default();
            } else if ui.small_button("Leave it open").clicked() || escape {
                self.what = None; // what was typed may serve another one
            }
        });
    }
}

fn edit(groups: &[Group], reason: String) -> Edit {
    let kind = groups.first().map_or(String::new(), |group| group.first.kind().words());
    let findings: Vec<_> = groups.iter().flat_map(Group::findings).collect();
    Edit::new(format!("accept {kind}"), move |content| content.job.accept(&findings, &reason))
}
