//! What every view does. Nothing here has a default, so that the compiler asks a new view for all of
//! it.

use crate::state::actions::Action;
use crate::state::model::Model;
use egui::{Pos2, Ui};

/// One drawing of the build.
pub(crate) trait View {
    /// Draws into the rest of `ui`.
    fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>);

    /// Shows everything at the next frame: what the common command "Fit" does.
    fn fit(&mut self);

    /// Moves to what the model draws attention to.
    fn go_to_attention(&mut self, model: &Model);

    /// Cancels whatever the pointer is doing here; whether it did anything.
    fn cancel_drag(&mut self) -> bool;

    /// Leaves a tool that takes the next clicks, with what it has drawn; whether there was one.
    fn leave_mode(&mut self) -> bool;

    /// Where a point of the build space, mm, is on the screen, as it was last drawn.
    fn on_screen(&self, at_mm: [f64; 3]) -> Option<Pos2>;

    /// Whether nothing is on its way that would change what is shown.
    fn is_ready(&self) -> bool;

    /// Whether the numbers of what is selected stand below the view while it fills the sheet, so that no
    /// other view shows them.
    fn wants_numbers_when_alone(&self) -> bool;
}
