//! The traveller: the job's sheet. Each section has a one-line summary, so that the whole job reads
//! at a glance; open, it is edited in place.

mod estimates;
mod findings;
mod machine;
mod nesting;
mod output;
mod parts;
mod recipe;
mod strategy;
mod thumbnails;

use crate::state::actions::{Action, Purpose};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::results::Proven;
use crate::views::Prepared;
use crate::widgets::theme::{BODY, CAPTION, GAP, HEADING, TITLE};
use eframe::egui_wgpu::RenderState;
use egui::collapsing_header::CollapsingState;
use egui::{Color32, Id, Margin, RichText, ScrollArea, Ui};
use thumbnails::Thumbnails;

/// What the traveller remembers beside the model.
pub(crate) struct Traveller {
    /// Recipe being edited, if not the job's own: path as the job names it.
    recipe: Option<String>,
    /// Small pictures of the parts.
    thumbnails: Thumbnails,
}

impl Traveller {
    /// A sheet whose pictures are drawn with this graphics device.
    pub(crate) fn new(gpu: Option<&RenderState>) -> Self {
        Self { recipe: None, thumbnails: Thumbnails::new(gpu) }
    }

    /// Draws pictures of what has changed; `prepared` are the meshes that are ready to be drawn.
    pub(crate) fn keep_up(&mut self, model: &Model, prepared: &[Prepared], pixels_per_point: f32) {
        self.thumbnails.keep_up(model, prepared, pixels_per_point);
    }

    /// Shows the sheet.
    pub(crate) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        egui::Frame::new().inner_margin(Margin::symmetric(10, 6)).show(ui, |ui| {
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = GAP;
                if model.document.is_none() {
                    return nothing(ui, model, actions);
                }
                if let Some(sentence) = &model.results.build_error {
                    ui.colored_label(model.ink.stop, sentence);
                }
                let sections: [(&str, String, bool); 7] = [
                    ("Machine", machine::summary(model), false),
                    ("Recipe", recipe::summary(model), false),
                    ("Parts", parts::summary(model), true),
                    ("Nesting", nesting::summary(model), false),
                    ("Findings", findings::summary(model), true),
                    ("Estimates", estimates::summary(model), true),
                    ("Output", output::summary(model), true),
                ];
                for (name, summary, open) in sections {
                    let ink = match name {
                        "Findings" | "Nesting" | "Output" if alarms(model, name) => model.ink.stop,
                        _ => model.ink.soft,
                    };
                    section(ui, (name, &summary, ink), open, |ui| match name {
                        "Machine" => machine::show(ui, model, actions),
                        "Recipe" => recipe::show(ui, model, &mut self.recipe, actions),
                        "Parts" => parts::show(ui, model, &self.thumbnails, actions),
                        "Nesting" => nesting::show(ui, model, actions),
                        "Findings" => findings::show(ui, model, actions),
                        "Estimates" => estimates::show(ui, model, actions),
                        _ => output::show(ui, model, actions),
                    });
                }
                cautions(ui, model);
            });
        });
    }
}

/// Whether a section tells of something that stops the build.
fn alarms(model: &Model, name: &str) -> bool {
    let of_now = |proven: &&Proven| proven.revision == model.revision();
    match name {
        "Nesting" => {
            let proven = model.results.proven.as_ref().filter(of_now);
            model.proof_failure().is_some()
                || proven.is_some_and(|proven| !proven.clearance.proof.holds())
        }
        "Output" => model.results.written.is_some() && model.stops() > 0,
        _ => model.stops() > 0,
    }
}

/// A folding section; its summary stands beside its name.
fn section(
    ui: &mut Ui,
    (name, summary, ink): (&str, &str, Color32),
    open: bool,
    body: impl FnOnce(&mut Ui),
) {
    let id = Id::unique(("traveller", name));
    let mut state = CollapsingState::load_with_default_open(ui.ctx(), id, open);
    let header = ui.horizontal(|ui| {
        let sign = state.show_toggle_button(ui, egui::collapsing_header::paint_default_icon);
        let title = ui.add(egui::Button::new(RichText::new(name).size(HEADING)).frame(false));
        if title.clicked() {
            state.toggle(ui);
        }
        if sign.has_focus() || title.has_focus() {
            let around = sign.rect.union(title.rect).expand(1.0);
            let line = ui.visuals().selection.stroke;
            ui.painter().rect_stroke(around, 2.0, line, egui::StrokeKind::Outside);
        }
        let text = RichText::new(summary).size(CAPTION).color(ink);
        ui.add(egui::Label::new(text).truncate()).on_hover_text(summary);
    });
    state.show_body_indented(&header.response, ui, |ui| {
        body(ui);
        ui.add_space(GAP);
    });
    ui.separator();
}

/// An empty sheet invites a file or the demo.
fn nothing(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    ui.add_space(6.0 * GAP);
    ui.label(RichText::new("No job yet").size(TITLE));
    ui.add_space(GAP);
    ui.label("Drop meshes (STL, 3MF, OBJ) or a job (RON) anywhere on this window, or:");
    ui.add_space(2.0 * GAP);
    for command in [Command::OpenDemo, Command::OpenJob, Command::AddMeshes, Command::NewJob] {
        let name = if command == Command::AddMeshes {
            "Start from meshes…"
        } else {
            command.info().name
        };
        let button = egui::Button::new(RichText::new(name).size(BODY));
        if ui.add_sized([240.0, 28.0], button).clicked() {
            actions.push(if command == Command::AddMeshes {
                Action::Ask(Purpose::AddMeshes)
            } else {
                Action::Command(command)
            });
        }
    }
    ui.add_space(4.0 * GAP);
    cautions(ui, model);
}

/// The usual cautions, always in sight at the end of the sheet.
fn cautions(ui: &mut Ui, model: &Model) {
    ui.add_space(2.0 * GAP);
    let text = "Class 4 laser, invisible beam. Hot bed and part cake for many hours. Fine dust \
                burns and harms lungs. Follow your machine's rules, your local codes and licensed \
                practice; never run a file that is not proven, never leave a build unattended.";
    ui.label(RichText::new(text).size(CAPTION).color(model.ink.soft));
}
