//! Questions that stand before the sheet until they are answered.

use super::App;
use super::help;
use super::prompt::{Closing, Prompt, Typing};
use crate::state::actions::{Action, Purpose};
use crate::state::commands::Command;
use crate::state::document::Document;
use crate::state::unfound::Unfound;
use crate::work::scheduler::TaskKind;
use egui::{Id, Modal, RichText, Ui};
use std::path::PathBuf;

impl App {
    /// Holds a closing window back while there are changes to lose.
    pub(super) fn guard_closing(&mut self, ctx: &egui::Context) {
        let wants = ctx.input(|input| input.viewport().close_requested());
        let files = [TaskKind::Save, TaskKind::Tidy];
        if files.into_iter().any(|kind| self.scheduler.running_in(kind).is_some()) {
            // What is being saved comes first: then there may be nothing to ask.
            if wants {
                ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
                self.closing = Closing::AfterSaving;
            }
            return;
        }
        if self.closing == Closing::AfterSaving {
            self.closing = Closing::IfSaved;
            return ctx.send_viewport_cmd(egui::ViewportCommand::Close);
        }
        let dirty = self.model.document.as_ref().is_some_and(Document::is_dirty);
        if wants && dirty && self.closing == Closing::IfSaved {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            if !self.prompts.contains(&Prompt::Close) {
                self.prompts.push(Prompt::Close);
            }
        }
        if self.closing == Closing::Now && !wants {
            ctx.send_viewport_cmd(egui::ViewportCommand::Close);
        }
    }

    /// Shows the last question, if there is one. It is taken out, and put back unless it was answered.
    pub(super) fn ask_question(&mut self, ctx: &egui::Context, actions: &mut Vec<Action>) {
        let Some(prompt) = self.prompts.pop() else { return };
        let modal = Modal::new(Id::unique("question"));
        modal.show(ctx, |ui| match prompt {
            Prompt::Close => self.ask_about_closing(ui, actions),
            Prompt::Write(path) => self.ask_about_writing(ui, path),
            Prompt::Unfound(unfound) => self.ask_for_unfound(ui, unfound, actions),
            Prompt::Path(typing) => self.ask_for_path(ui, typing),
            Prompt::Keys | Prompt::About => self.tell_of_program(ui, prompt),
        });
    }

    /// Tells what was asked about the program, until that is closed.
    fn tell_of_program(&mut self, ui: &mut Ui, prompt: Prompt) {
        let room = ui.ctx().content_rect().size() * 0.9;
        ui.set_max_width(room.x.min(640.0));
        let ink = self.model.ink;
        let is_done =
            if prompt == Prompt::Keys { help::keys(ui, &ink) } else { help::about(ui, &ink) };
        if !is_done {
            self.prompts.push(prompt);
        }
    }

    fn ask_about_closing(&mut self, ui: &mut Ui, actions: &mut Vec<Action>) {
        heading(ui, "Close the window?");
        ui.label("The job has changes that are not saved.");
        let mut keep = true;
        ui.horizontal(|ui| {
            if ui.button("Save and close").clicked() {
                actions.push(Action::Command(Command::SaveJob));
            }
            if ui.button("Close without saving").clicked() {
                (self.closing, keep) = (Closing::Now, false);
            }
            keep &= !ui.button("Stay").clicked();
        });
        if keep {
            self.prompts.push(Prompt::Close);
        }
    }

    fn ask_about_writing(&mut self, ui: &mut Ui, path: PathBuf) {
        heading(ui, "Write the vector file in spite of stop findings?");
        let stops = self.model.stop_findings();
        for finding in stops.iter().take(4) {
            let part = finding.place.part().map_or(String::new(), |part| format!("{part}: "));
            ui.label(format!("{part}{}", finding.sentence()));
        }
        if stops.len() > 4 {
            ui.weak(format!("and {} more in the findings", stops.len() - 4));
        }
        let named = pipeline::not_fit(&path);
        ui.label(format!(
            "The file would hold what the job says, faults and all. It would be called {}, so that nobody \
             takes it for one that is fit to be built.",
            named.file_name().unwrap_or_default().to_string_lossy()
        ));
        let mut keep = true;
        ui.horizontal(|ui| {
            if ui.button("Do not write it").clicked() {
                keep = false;
            }
            if ui.button("Write it all the same").clicked() {
                keep = false;
                self.start_writing(path.clone(), pipeline::Stops::NameNotFit);
            }
        });
        if keep {
            self.prompts.push(Prompt::Write(path));
        }
    }

    fn ask_for_unfound(&mut self, ui: &mut Ui, unfound: Box<Unfound>, actions: &mut Vec<Action>) {
        heading(ui, &format!("The job is here, its {} is not", unfound.what));
        ui.label(format!("{} names {}.", unfound.job.display(), unfound.file));
        ui.label(unfound.why.as_str());
        ui.label(format!(
            "Find it, or choose another {}: the job then names that, once it is saved.",
            unfound.what
        ));
        let mut keep = true;
        ui.horizontal(|ui| {
            if ui.button("Find the file…").clicked() {
                actions.push(Action::Ask(Purpose::FindNamed(unfound.clone())));
                keep = false;
            }
            keep &= !ui.button("Do not open the job").clicked();
        });
        if keep {
            self.prompts.push(Prompt::Unfound(unfound));
        }
    }

    fn ask_for_path(&mut self, ui: &mut Ui, mut typing: Typing) {
        heading(ui, typing.purpose.title());
        ui.label("No file dialog of the desktop answered. Type the path:");
        let field = egui::TextEdit::singleline(&mut typing.text).desired_width(420.0);
        let field = ui.add(field);
        field.widget_info(|| egui::WidgetInfo::labeled(egui::Role::TextInput, true, "Path"));
        if std::mem::take(&mut typing.is_new) {
            field.request_focus();
        }
        let enter = ui.input(|input| input.key_pressed(egui::Key::Enter));
        let (mut done, mut keep) = (false, true);
        ui.horizontal(|ui| {
            done = ui.button("Go on").clicked() || (field.lost_focus() && enter);
            keep = !ui.button("Cancel").clicked();
        });
        if done && !typing.text.trim().is_empty() {
            self.chosen(typing.purpose, vec![PathBuf::from(typing.text.trim())]);
        } else if keep {
            self.prompts.push(Prompt::Path(typing));
        }
    }
}

fn heading(ui: &mut Ui, text: &str) {
    ui.set_max_width(460.0);
    ui.label(RichText::new(text).size(crate::widgets::theme::HEADING));
    ui.add_space(crate::widgets::theme::GAP);
}
