//! The row of buttons: named directions, fit, projection, section.

use super::camera::shown_box;
use super::state::ChamberView;
use super::tool_icons::{self, Tool};
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::views::numbers;
use crate::widgets::theme::Ink;
use egui::{
    Color32, Rect, Response, Role, Sense, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo, vec2,
};
use render::Projection;

/// A button of the row; `switch` says of those that can be in force whether they are.
fn button(ui: &mut Ui, tool: Tool, switch: Option<bool>, ink: &Ink) -> Response {
    let on = switch == Some(true);
    let (rect, response) = ui.allocate_exact_size(vec2(22.0, 22.0), Sense::click());
    response.widget_info(|| {
        if switch.is_some() {
            WidgetInfo::selected(Role::CheckBox, true, on, tool.name())
        } else {
            WidgetInfo::labeled(Role::Button, true, tool.name())
        }
    });
    let fill = if on { ink.accent_tint } else { ink.sheet };
    let pointed = response.hovered() || response.has_focus();
    let rim = Stroke::new(1.0, if pointed || on { ink.soft } else { Color32::TRANSPARENT });
    ui.painter().rect(rect, 2.0, fill, rim, StrokeKind::Inside);
    tool_icons::paint(ui.painter(), rect.shrink(4.0), tool, ink);
    response.on_hover_text(tool.name())
}

impl ChamberView {
    /// Shows the row, and does what was pressed.
    pub(super) fn tool_row(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        let row = Rect::from_min_size(rect.min + vec2(8.0, 6.0), vec2(rect.width() - 16.0, 22.0));
        let mut pressed = None;
        ui.scope_builder(UiBuilder::new().max_rect(row).id_salt("chamber tools"), |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing = vec2(2.0, 2.0);
                for tool in Tool::ALL {
                    if button(ui, tool, self.switch(tool), &model.ink).clicked() {
                        pressed = Some(tool);
                    }
                }
                ui.add_space(6.0);
                numbers::on_contact(ui, model, actions);
            });
        });
        if let Some(tool) = pressed {
            self.press(ui, tool, model);
        }
    }

    /// Whether a tool is in force; `None` for those that act once.
    fn switch(&self, tool: Tool) -> Option<bool> {
        match tool {
            Tool::From(_) | Tool::Fit => None,
            Tool::Perspective => Some(self.camera.projection == Projection::Perspective),
            Tool::Section => Some(self.cut),
        }
    }

    fn press(&mut self, ui: &Ui, tool: Tool, model: &Model) {
        match tool {
            Tool::From(direction) => {
                let mut to = self.camera;
                to.look_from(direction);
                let (low, high) = shown_box(model, &model.arrangement, false);
                to.fit(low, high);
                self.fly(ui, to, false);
            }
            Tool::Fit => self.fly_to_fit(ui, model, &model.arrangement, false),
            Tool::Perspective => {
                self.camera.projection = match self.camera.projection {
                    Projection::Perspective => Projection::Parallel,
                    Projection::Parallel => Projection::Perspective,
                };
                self.flight = None;
                ui.ctx().request_repaint();
            }
            Tool::Section => {
                self.cut = !self.cut;
                ui.ctx().request_repaint();
            }
        }
    }
}
