//! The traveller: the job's sheet. Each section has a one-line summary, so that the whole job reads
//! at a glance; open, it is edited in place.

mod estimates;
mod exposure_changes;
mod failure;
mod field_corrections;
mod findings;
mod head;
mod index;
mod limits;
mod machine;
mod machine_edit;
mod material;
mod nesting;
mod nesting_curve;
mod output;
mod part_form;
mod part_order;
mod parts;
mod placement_form;
mod prediction;
mod recipe;
mod recipe_editor;
mod strategy;
mod thumbnails;

use crate::state::actions::{Action, Purpose, SheetField};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::results::Proven;
use crate::widgets::drawable::DrawableMesh;
use crate::widgets::sought;
use crate::widgets::steady::apart;
use crate::widgets::theme::{BODY, CAPTION, GAP, HEADING, TITLE};
use eframe::egui_wgpu::RenderState;
use egui::collapsing_header::CollapsingState;
use egui::{Color32, Id, Margin, RichText, ScrollArea, Ui, UiBuilder};
use findings::Findings;
use index::Index;
use parts::Parts;
use thumbnails::Thumbnails;

/// What the traveller remembers beside the model.
pub(crate) struct Traveller {
    /// Recipe being edited, if not the job's own: path as the job names it.
    recipe: Option<String>,
    /// Small pictures of the parts.
    thumbnails: Thumbnails,
    /// How the list of parts is looked at.
    parts: Parts,
    /// Which findings are listed.
    findings: Findings,
    /// Which fields there are.
    index: Index,
}

impl Traveller {
    /// A sheet whose pictures are drawn with this graphics device.
    pub(crate) fn new(gpu: Option<&RenderState>) -> Self {
        Self {
            recipe: None,
            thumbnails: Thumbnails::new(gpu),
            parts: Parts::default(),
            findings: Findings::default(),
            index: Index::default(),
        }
    }

    /// The fields of the sheet, for the search.
    pub(crate) fn fields(&mut self, model: &Model) -> Vec<SheetField> {
        if model.document.is_none() {
            return Vec::new();
        }
        self.index.fields(model, self.recipe.as_ref())
    }

    /// Opens the section of a field, and lets the field stand out.
    pub(crate) fn seek(ctx: &egui::Context, field: SheetField) {
        let mut state =
            CollapsingState::load_with_default_open(ctx, section_id(field.section), false);
        state.set_open(true);
        state.store(ctx);
        sought::seek(ctx, field.name);
    }

    /// Draws pictures of what has changed; `meshes` are those that are ready to be drawn.
    pub(crate) fn keep_up(
        &mut self,
        model: &Model,
        meshes: &[DrawableMesh],
        pixels_per_point: f32,
    ) {
        self.thumbnails.keep_up(model, meshes, pixels_per_point);
    }

    /// Shows the sheet.
    pub(crate) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        egui::Frame::new().inner_margin(Margin::symmetric(10, 6)).show(ui, |ui| {
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = GAP;
                if model.document.is_none() {
                    return nothing(ui, model, actions);
                }
                apart(ui, |ui| {
                    if let Some(sentence) = &model.results.build_error {
                        ui.colored_label(model.ink.stop, sentence);
                    }
                });
                for which in Section::ALL {
                    let summary = which.summary(model);
                    let alarm = which.alarms(model);
                    let ink = if alarm { model.ink.stop } else { model.ink.soft };
                    let header = (which.name(), summary.as_str(), ink);
                    section(ui, header, which.is_open_at_first(), |ui| {
                        self.body(which, ui, model, actions);
                    });
                }
                cautions(ui, model);
            });
        });
    }

    fn body(&mut self, which: Section, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        match which {
            Section::Machine => machine::show(ui, model, actions),
            Section::Recipe => recipe::show(ui, model, &mut self.recipe, actions),
            Section::Parts => self.parts.show(ui, model, &self.thumbnails, actions),
            Section::Nesting => nesting::show(ui, model, actions),
            Section::Findings => self.findings.show(ui, model, actions),
            Section::Estimates => estimates::show(ui, model, actions),
            Section::Output => output::show(ui, model, actions),
        }
    }
}

/// A section of the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Section {
    Machine,
    Recipe,
    Parts,
    Nesting,
    Findings,
    Estimates,
    Output,
}

impl Section {
    /// From the top.
    const ALL: [Self; 7] = [
        Self::Machine,
        Self::Recipe,
        Self::Parts,
        Self::Nesting,
        Self::Findings,
        Self::Estimates,
        Self::Output,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::Machine => "Machine",
            Self::Recipe => "Recipe",
            Self::Parts => "Parts",
            Self::Nesting => "Nesting",
            Self::Findings => "Findings",
            Self::Estimates => "Estimates",
            Self::Output => "Output",
        }
    }

    /// The line beside the name.
    fn summary(self, model: &Model) -> String {
        match self {
            Self::Machine => machine::summary(model),
            Self::Recipe => recipe::summary(model),
            Self::Parts => parts::summary(model),
            Self::Nesting => nesting::summary(model),
            Self::Findings => findings::summary(model),
            Self::Estimates => estimates::summary(model),
            Self::Output => output::summary(model),
        }
    }

    fn is_open_at_first(self) -> bool {
        match self {
            Self::Machine | Self::Recipe | Self::Nesting => false,
            Self::Parts | Self::Findings | Self::Estimates | Self::Output => true,
        }
    }

    /// Whether it tells of something that stops the build.
    fn alarms(self, model: &Model) -> bool {
        match self {
            Self::Machine | Self::Recipe | Self::Parts | Self::Estimates => false,
            Self::Nesting => {
                let of_now = |proven: &&Proven| proven.revision == model.revision();
                let proven = model.results.proven.as_ref().filter(of_now);
                model.proof_failure().is_some()
                    || proven.is_some_and(|proven| !proven.clearance.proof.holds())
            }
            Self::Findings => model.stops() > 0,
            Self::Output => model.results.written.is_some() && model.stops() > 0,
        }
    }
}

fn section_id(name: &str) -> Id {
    Id::unique(("traveller", name))
}

/// A folding section; its summary stands beside its name.
fn section(
    ui: &mut Ui,
    (name, summary, ink): (&str, &str, Color32),
    open: bool,
    body: impl FnOnce(&mut Ui),
) {
    let id = section_id(name);
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
        // ids of its fields do not depend on what stands above
        ui.scope_builder(UiBuilder::new().scope_id(id.with("body")), body);
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

/// The usual cautions, at the end of the sheet; the shortest of them is always in sight (`app::safety`).
fn cautions(ui: &mut Ui, model: &Model) {
    ui.add_space(2.0 * GAP);
    let beam = match model.content().map(|content| content.machine.laser.wavelength_nm) {
        // what IEC 60825-1 calls visible, from memory
        Some(nm) if (400.0..=700.0).contains(&nm) => "a visible beam, faster than any blink",
        Some(_) => "a beam that nobody sees",
        None => "a beam that may be invisible",
    };
    let text = format!(
        "Class 4 laser, {beam}: also what is scattered harms eyes and skin and starts fires. Hot bed and part \
         cake for many hours. Fine dust burns and harms lungs, fumes and inert gas need air. Follow your \
         machine's rules, your local codes and licensed practice; never run a file that is not verified, \
         never leave a build unattended."
    );
    ui.label(RichText::new(text).size(CAPTION).color(model.ink.soft));
}
