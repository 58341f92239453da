//! What the right button offers, on a part and beside all parts.

use super::picking::Picked;
use super::state::ChamberView;
use crate::hand::{self, Before, Meant};
use crate::state::actions::{Action, Edit, Selecting};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::stage::{Actor, Stage, half_extent, vec3};
use egui::{Response, Ui};

impl ChamberView {
    /// Shows the menu while it is open.
    pub(super) fn show_menu(
        &mut self,
        response: &Response,
        model: &Model,
        stage: &Stage,
        actions: &mut Vec<Action>,
    ) {
        response.context_menu(|ui| {
            let on = self.menu_on.and_then(|picked| Some((picked, stage.actor(picked.at)?)));
            match on {
                Some((picked, actor)) => self.on_part(ui, model, stage, picked, actor, actions),
                None => self.beside_parts(ui, model, stage, actions),
            }
        });
    }

    fn on_part(
        &mut self,
        ui: &mut Ui,
        model: &Model,
        stage: &Stage,
        picked: Picked,
        actor: &Actor,
        actions: &mut Vec<Action>,
    ) {
        ui.label(egui::RichText::new(model.placement_name(actor.at)).color(model.ink.soft));
        if item(ui, "Put this face down") {
            actions.extend(Self::put_face_down(picked, actor).map(Action::Edit));
        }
        if item(ui, "Rotate 90° about Z") {
            let selected: Vec<&Actor> = stage.chosen(&model.selection).collect();
            if let Some(before) = Before::of(&selected) {
                let label = hand::label("rotate", selected.len());
                actions.push(hand::edit(label, before.after(Meant::Turn(2, 90.0))).into());
            }
        }
        if item(ui, "Set on the platform") {
            let down = stage.chosen(&model.selection).map(|actor| {
                let mut placement = actor.placement;
                placement.location_mm[2] -= actor.low[2];
                (actor.at, hand::allowed(placement))
            });
            let down: Vec<_> = down.collect();
            actions.push(hand::edit(hand::label("set down", down.len()), down).into());
        }
        if item(ui, Command::LetDown.info().name) {
            actions.push(Action::Command(Command::LetDown));
        }
        if item(ui, "Duplicate") {
            actions.push(Action::Command(Command::Duplicate));
        }
        if item(ui, "Delete") {
            actions.push(Action::Command(Command::Delete));
        }
        if item(ui, "Select all copies") {
            let copies = stage.actors.iter().filter(|other| other.at.part == actor.at.part);
            let copies = copies.map(|other| other.at).collect();
            actions.push(Action::Select(Selecting::Only, copies));
        }
        ui.separator();
        if item(ui, "Show it close") {
            let mut to = self.camera;
            to.fit(vec3(actor.low), vec3(actor.high));
            self.fly(ui, to, false);
        }
        if item(ui, "Show the layer at this height") {
            let layer = f64::from(picked.point.z) / model.layer_thickness_mm();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "saturates"
            )]
            actions.push(Action::ShowLayer(layer.floor().max(0.0) as u32));
        }
        self.cut_item(ui);
    }

    fn beside_parts(
        &mut self,
        ui: &mut Ui,
        model: &Model,
        stage: &Stage,
        actions: &mut Vec<Action>,
    ) {
        for (word, command) in [
            ("Select all", Command::SelectAll),
            ("Select nothing", Command::SelectNone),
            ("Add meshes…", Command::AddMeshes),
        ] {
            let possible = command.is_possible(model);
            if ui.add_enabled(possible, egui::Button::new(word).frame(false)).clicked() {
                actions.push(Action::Command(command));
                ui.close();
            }
        }
        ui.separator();
        if item(ui, "Fit the chamber") {
            self.fly_to_fit(ui, model, stage, false);
        }
        self.cut_item(ui);
    }

    fn cut_item(&mut self, ui: &mut Ui) {
        let word = if self.cut { "Close the cut" } else { "Cut at the layer shown" };
        if item(ui, word) {
            self.cut = !self.cut;
        }
    }

    /// Rotates a placement so that the picked face looks down; its lowest point stays at its height.
    fn put_face_down(picked: Picked, actor: &Actor) -> Option<Edit> {
        let corners = actor.loaded.mesh.triangles.get(picked.triangle as usize)?;
        let vertex = |k: usize| actor.loaded.mesh.vertices.get(corners[k] as usize).copied();
        let [a, b, c] = [vertex(0)?, vertex(1)?, vertex(2)?].map(glam::DVec3::from);
        let normal = (b - a).cross(c - a).to_array();
        let mut placement = actor.placement;
        placement.turns_deg = hand::laid_flat(placement.turns_deg, normal)?;
        let half = half_extent(&actor.loaded, placement.turns_deg, actor.scale);
        placement.location_mm[2] = actor.low[2] + half[2];
        Some(hand::edit("put a face down", vec![(actor.at, hand::allowed(placement))]))
    }
}

/// A line of the menu; closes the menu when it is clicked.
fn item(ui: &mut Ui, word: &str) -> bool {
    let is_clicked = ui.add(egui::Button::new(word).frame(false)).clicked();
    if is_clicked {
        ui.close();
    }
    is_clicked
}
