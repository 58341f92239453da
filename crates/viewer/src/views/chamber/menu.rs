//! What the right button offers, on a part and beside all parts.

use super::picking::Picked;
use super::state::ChamberView;
use crate::state::actions::{Action, Edit};
use crate::state::arrangement::{Arrangement, PosedPlacement, half_extent, vec3};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::moves;
use crate::state::rotation;
use crate::views::part_menu::{self, item};
use egui::{Response, Ui};

impl ChamberView {
    /// Shows the menu while it is open.
    pub(super) fn show_menu(
        &mut self,
        response: &Response,
        model: &Model,
        arrangement: &Arrangement,
        actions: &mut Vec<Action>,
    ) {
        response.context_menu(|ui| {
            let on =
                self.menu_on.and_then(|picked| Some((picked, arrangement.placement(picked.at)?)));
            match on {
                Some((picked, placed)) => {
                    self.on_part(ui, model, picked, placed, actions);
                }
                None => self.beside_parts(ui, model, arrangement, actions),
            }
        });
    }

    fn on_part(
        &mut self,
        ui: &mut Ui,
        model: &Model,
        picked: Picked,
        placed: &PosedPlacement,
        actions: &mut Vec<Action>,
    ) {
        ui.label(egui::RichText::new(model.placement_name(placed.at)).color(model.ink.soft));
        if item(ui, "Put this face down") {
            actions.extend(Self::put_face_down(picked, placed).map(Action::Edit));
        }
        part_menu::commands(ui, model, placed.at, actions);
        ui.separator();
        if item(ui, "Show it close") {
            let mut to = self.camera;
            to.fit(vec3(placed.low), vec3(placed.high));
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
        arrangement: &Arrangement,
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
            self.fly_to_fit(ui, model, arrangement, false);
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
    fn put_face_down(picked: Picked, placed: &PosedPlacement) -> Option<Edit> {
        let corners = placed.loaded.mesh.triangles.get(picked.triangle as usize)?;
        let vertex = |k: usize| placed.loaded.mesh.vertices.get(corners[k] as usize).copied();
        let [a, b, c] = [vertex(0)?, vertex(1)?, vertex(2)?].map(glam::DVec3::from);
        let normal = (b - a).cross(c - a).to_array();
        let mut placement = placed.placement;
        placement.rotation_deg = rotation::with_face_down(placement.rotation_deg, normal)?;
        let half = half_extent(&placed.loaded, placement.rotation_deg, placed.scale);
        placement.location_mm[2] = placed.low[2] + half[2];
        Some(moves::edit("put a face down", vec![(placed.at, moves::allowed(placement))]))
    }
}
