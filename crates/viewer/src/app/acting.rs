//! Carrying out actions and commands.

use super::App;
use super::prompt::Prompt;
use crate::state::actions::{Action, Edit, Purpose, Selecting};
use crate::state::commands::Command;
use crate::state::zoom::Zoom;
use crate::views::View;
use crate::views::traveller::Traveller;
use crate::widgets::theme::{self, Ink, Theme};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::Nesting;
use base::{Place, PlacementId};
use std::collections::BTreeSet;

impl App {
    /// Carries out one action.
    pub(super) fn carry_out(&mut self, action: Action, ctx: &egui::Context) {
        match action {
            Action::Edit(edit) => self.edit(edit),
            Action::Command(command) => self.command(command, ctx),
            Action::ShowLayer(layer) => self.show_layer(i64::from(layer)),
            Action::ShowTime(time_s) => {
                self.model.cursor.time_s = time_s.clamp(0.0, self.model.layer_time_s());
            }
            Action::Play { on, pace } => {
                let end = self.model.layer_time_s();
                let cursor = &mut self.model.cursor;
                cursor.pace = pace;
                if on && cursor.time_s >= end {
                    cursor.time_s = 0.0;
                }
                cursor.playing = on && end > 0.0;
            }
            Action::ShapeCage(shape) => self.model.cage = shape,
            Action::EvenArea(even) => self.model.even_area = even,
            Action::StopNesting => self.cancel(TaskKind::Nest),
            Action::FitPlan => self.views.plan.fit(),
            Action::Select(how, placements) => self.select(how, placements),
            Action::Drag(update) => self.drag.update(&mut self.model, update),
            Action::GoTo(place) => self.go_to(&place),
            Action::Seek(field) => Traveller::seek(ctx, field),
            Action::AddMeshes(paths) => self.add_meshes(paths),
            Action::Paste(text) => self.paste_parts(&text),
            Action::Ask(purpose) => self.ask(purpose),
            Action::Open(path) => self.open(path),
        }
    }

    /// Changes the document; a drag under way ends where it is.
    pub(super) fn edit(&mut self, edit: Edit) {
        self.model.let_go();
        let chosen = self.chosen_by_name();
        if let Some(document) = &mut self.model.document {
            document.edit(edit);
        }
        self.choose_by_name(&chosen);
    }

    fn command(&mut self, command: Command, ctx: &egui::Context) {
        if command.is_possible(&self.model) {
            self.carry_out_command(command, ctx);
        }
    }

    fn carry_out_command(&mut self, command: Command, ctx: &egui::Context) {
        match command {
            Command::NewJob => self.new_job(),
            Command::OpenJob => self.ask(Purpose::OpenJob),
            Command::OpenDemo => self.open_demo(),
            Command::SaveJob => self.save(),
            Command::SaveJobAs => self.ask(Purpose::SaveJob),
            Command::AddMeshes => self.ask(Purpose::AddMeshes),
            Command::WriteVectors => self.write_vectors(None),
            Command::Quit => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            Command::Undo => self.undo(),
            Command::Redo => self.redo(),
            Command::Copy => self.copy_parts(ctx),
            Command::Cut => {
                self.copy_parts(ctx);
                self.delete();
            }
            // it comes as an event
            Command::Paste => ctx.send_viewport_cmd(egui::ViewportCommand::RequestPaste),
            Command::Duplicate => self.duplicate(),
            Command::Delete => self.delete(),
            Command::SelectAll => {
                self.model.selection = self.model.placements().map(|(at, _)| at).collect();
            }
            Command::SelectNone => self.model.selection.clear(),
            Command::ReplaceMesh => self.ask_for_mesh(),
            Command::ReloadMeshes => self.reload_meshes(),
            Command::Lower => self.drag.lower(&mut self.model),
            Command::OnContact(what) => {
                self.settings.on_contact = what;
                self.model.drag.contact = what;
            }
            Command::Nest => self.nest(Nesting::All),
            Command::NestSelected => self.nest(Nesting::Only(self.model.selection.clone())),
            Command::Compact => self.nest(Nesting::Closer),
            Command::Cage => self.cage(),
            Command::LayerUp => self.step_layer(1),
            Command::LayerDown => self.step_layer(-1),
            Command::TenLayersUp => self.step_layer(10),
            Command::TenLayersDown => self.step_layer(-10),
            Command::FirstLayer => self.show_layer(0),
            Command::LastLayer => self.show_layer(i64::MAX),
            Command::Play => {
                let (on, pace) = (!self.model.cursor.playing, self.model.cursor.pace);
                self.carry_out(Action::Play { on, pace }, ctx);
            }
            Command::NextMark => self.step_mark(1),
            Command::PreviousMark => self.step_mark(-1),
            Command::Fit => self.views.fit(),
            Command::Fill(view) => {
                let full = &mut self.settings.layout.full;
                *full = if *full == Some(view) { None } else { Some(view) };
            }
            Command::Measure => self.views.plan.toggle_measure(),
            Command::SwapInk => self.swap_theme(ctx),
            Command::Picture(view) => self.ask(Purpose::SavePicture(view)),
            Command::Drawing => self.ask(Purpose::SaveDrawing),
            Command::ZoomIn => self.zoom(Zoom::larger, ctx),
            Command::ZoomOut => self.zoom(Zoom::smaller, ctx),
            Command::ZoomBack => self.zoom(|_| Zoom::default(), ctx),
            Command::Search => {
                let fields = self.traveller.fields(&self.model);
                self.palette.open(fields);
            }
            Command::Retry => self.retry(),
            Command::Stop => self.stop(),
            Command::Shortcuts => self.prompts.push(Prompt::Keys),
            Command::About => self.prompts.push(Prompt::About),
        }
    }

    fn zoom(&mut self, change: impl FnOnce(Zoom) -> Zoom, ctx: &egui::Context) {
        self.settings.zoom = change(self.settings.zoom);
        ctx.set_zoom_factor(self.settings.zoom.factor());
    }

    fn swap_theme(&mut self, ctx: &egui::Context) {
        self.settings.theme = match self.settings.theme {
            Theme::Paper => Theme::Blueprint,
            Theme::Blueprint => Theme::Paper,
        };
        self.show_theme(ctx);
    }

    /// Shows the theme of the settings.
    pub(super) fn show_theme(&mut self, ctx: &egui::Context) {
        self.model.ink = Ink::of(self.settings.theme);
        theme::apply(ctx, &self.model.ink);
    }

    fn step_layer(&mut self, by: i64) {
        self.show_layer(i64::from(self.model.cursor.layer) + by);
    }

    pub(super) fn show_layer(&mut self, layer: i64) {
        let top = i64::from(self.model.layer_count().saturating_sub(1));
        let layer = u32::try_from(layer.clamp(0, top)).unwrap_or(0);
        if layer != self.model.cursor.layer {
            self.model.cursor.layer = layer;
            self.model.cursor.time_s = 0.0;
            self.model.cursor.playing = false;
        }
    }

    /// Moves the beam to the start of the next or the previous mark.
    fn step_mark(&mut self, by: i32) {
        let Some((shown, false)) = self.model.shown_layer() else { return };
        let timeline = &shown.timeline;
        let now = self.model.cursor.time_s;
        let moves = timeline.moves();
        let is_mark = |step: &&motion::Move| step.kind == motion::MoveKind::Mark;
        let tiny = 1e-9;
        let found = if by > 0 {
            let from = moves.partition_point(|step| step.start_s <= now + tiny);
            moves[from..].iter().find(is_mark)
        } else {
            let to = moves.partition_point(|step| step.start_s < now - tiny);
            moves[..to].iter().rev().find(is_mark)
        };
        if let Some(step) = found {
            self.model.cursor.time_s = step.start_s;
        }
    }

    fn select(&mut self, how: Selecting, placements: Vec<PlacementId>) {
        let new: BTreeSet<PlacementId> = placements.into_iter().collect();
        let selection = &mut self.model.selection;
        match how {
            Selecting::Only => *selection = new,
            Selecting::Also => selection.extend(new),
            Selecting::Toggle => {
                *selection = selection.symmetric_difference(&new).copied().collect();
            }
        }
    }

    /// Shows where a finding lies, in every view.
    fn go_to(&mut self, place: &Place) {
        let targets = self.model.targets_of(place);
        // Places of mesh health are in the part's frame; shown on its first placement.
        self.model.attention_mm = match (place.point_mm, &place.placement, targets.first()) {
            (Some(point), None, Some(&first)) => {
                self.model.arrangement.placement(first).map(|placed| placed.pose.apply(point))
            }
            (point, _, _) => point,
        };
        if let Some((first, _)) = place.layers {
            self.show_layer(i64::from(first));
        } else if let Some([_, _, z]) = self.model.attention_mm {
            #[expect(clippy::cast_possible_truncation, reason = "`as` saturates")]
            let layer = (z / self.model.layer_thickness_mm()).floor() as i64;
            self.show_layer(layer);
        }
        if !targets.is_empty() {
            self.select(Selecting::Only, targets);
        }
        for view in self.views.all_mut() {
            view.go_to_attention(&self.model);
        }
    }
}
