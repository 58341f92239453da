//! Esc: one press ends one thing, the nearest.

use super::App;
use crate::views::View;
use crate::work::scheduler::TaskKind;
use egui::{Context, Key, Modifiers, Popup};

impl App {
    /// Whether Esc is pressed and left to the app. An open menu or list closes itself, a field that is
    /// typed into or dragged puts its number back; drags in the views end here, before these see the frame
    /// in which it was pressed: egui ends every drag on Esc, and they would take that for its end.
    pub(super) fn escape_is_ours(&mut self, ctx: &Context) -> bool {
        if !ctx.input(|input| input.key_pressed(Key::Escape)) || Popup::is_any_open(ctx) {
            return false;
        }
        let held = self.model.drag.cancel(self.model.document.as_mut());
        let views = self.views.all_mut().map(View::cancel_drag);
        let is_drag = held || views.contains(&true);
        let is_asked = self.palette.is_open() || !self.prompts.is_empty();
        if !is_drag && self.field_in_hand && !is_asked {
            return false;
        }
        ctx.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) && !is_drag
    }

    /// Remembers whether a field is typed into or something dragged: in the frame of Esc egui has let go of
    /// it already.
    pub(super) fn note_what_is_in_hand(&mut self, ctx: &Context) {
        self.field_in_hand = ctx.text_edit_focused() || ctx.dragged_id().is_some();
    }

    /// Ends the nearest thing: a question, a mode such as measuring, work that the person began, and at
    /// last what is selected.
    pub(super) fn stop(&mut self) {
        if self.palette.close() || self.prompts.pop().is_some() {
            return;
        }
        if self.views.all_mut().into_iter().any(View::leave_mode) {
            return;
        }
        // What keeps the sheet up to date goes on.
        let theirs = [TaskKind::Nest, TaskKind::Write, TaskKind::Open];
        let running = |kind: &TaskKind| self.scheduler.running_in(*kind).is_some();
        if let Some(kind) = theirs.into_iter().find(running) {
            self.cancel(kind);
        } else {
            self.model.selection.clear();
            self.model.attention_mm = None;
        }
    }
}
