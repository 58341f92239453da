//! What the window is called: the job, with a mark while something of it is not saved.

use super::App;
use crate::state::document::Document;
use egui::{Context, ViewportCommand};

/// The name of the program, and of a window without a job.
const PROGRAM: &str = "Hatchwright";

impl App {
    /// Tells the desktop what the window is called, once it is another name.
    pub(super) fn name_window(&mut self, ctx: &Context) {
        let title = title(self.model.document.as_ref());
        if title != self.title {
            ctx.send_viewport_cmd(ViewportCommand::Title(title.clone()));
            self.title = title;
        }
    }
}

fn title(document: Option<&Document>) -> String {
    let Some(document) = document else { return PROGRAM.to_owned() };
    let mark = if document.is_dirty() { "● " } else { "" };
    format!("{mark}{} – {PROGRAM}", document.content().job.name)
}
