//! Which fields the sheet has, for the search: every section is laid out once where nobody sees it, so that the
//! list is that of the sheet itself.

use super::{Section, estimates, machine, nesting, output, part_form, recipe};
use crate::state::actions::SheetField;
use crate::state::model::Model;
use crate::widgets::sought;
use egui::{Context, RawInput, Rect, Ui, pos2};
use std::collections::BTreeSet;

/// Lays the sections out in a window that is never drawn.
#[derive(Default)]
pub(super) struct Index {
    unseen: Option<Context>,
}

impl Index {
    /// The fields of all sections, each once, in the order of the sheet.
    pub(super) fn fields(
        &mut self,
        model: &Model,
        shown_recipe: Option<&String>,
    ) -> Vec<SheetField> {
        let unseen = self.unseen.get_or_insert_with(Context::default);
        let size = pos2(400.0, 4000.0);
        let input = || RawInput {
            screen_rect: Some(Rect::from_min_max(pos2(0.0, 0.0), size)),
            ..RawInput::default()
        };
        let mut fields = Vec::new();
        for section in Section::ALL {
            sought::list(unseen);
            let mut drawn = unseen.run_ui(input(), |ui| body(section, ui, model, shown_recipe));
            drawn.textures_delta.clear(); // nobody draws them
            let mut known = BTreeSet::new();
            let names = sought::listed(unseen).into_iter();
            let new = names.filter(|name| known.insert(name.clone()));
            fields.extend(new.map(|name| SheetField { section: section.name(), name }));
        }
        fields
    }
}

/// What a section has of fields; of the parts, the form of those that are chosen.
fn body(section: Section, ui: &mut Ui, model: &Model, shown_recipe: Option<&String>) {
    let nobody = &mut Vec::new(); // nothing is pressed there, so nothing is asked for
    match section {
        Section::Machine => machine::show(ui, model, nobody),
        Section::Recipe => recipe::show(ui, model, &mut shown_recipe.cloned(), nobody),
        Section::Parts => part_form::show(ui, model, nobody),
        Section::Nesting => nesting::show(ui, model, nobody),
        Section::Findings => {}
        Section::Estimates => estimates::show(ui, model, nobody),
        Section::Output => output::show(ui, model, nobody),
    }
}
