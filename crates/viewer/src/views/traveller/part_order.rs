//! In which order the parts of a layer are exposed.

use crate::state::actions::{Action, Edit};
use crate::state::model::Model;
use crate::widgets::field::{choice, heading};
use egui::Ui;
use job::{NextPart, PartOrder, Rounds};

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let Some(order) = model.content().map(|content| content.job.part_order) else { return };
    let mut edit = |new: PartOrder| {
        let edit = Edit::new("order of parts", move |content| content.job.part_order = new);
        actions.push(edit.into());
    };
    heading(ui, "All parts of a layer", &model.ink);
    let words =
        [(Rounds::PartAfterPart, "part after part"), (Rounds::KindAfterKind, "kind after kind")];
    let hint = "Part after part finishes each before the next. Kind after kind goes over all parts three \
                times: hatch that comes before contours, contours, then the rest.";
    if let Some(rounds) = choice(ui, "Rounds", &order.rounds, &words, hint) {
        edit(PartOrder { rounds, ..order });
    }
    let words = [
        (NextPart::Nearest, "nearest to the beam"),
        (NextPart::AsListed, "as listed"),
        (NextPart::Rotating, "taking turns"),
    ];
    let hint = "Which part comes next. Taking turns: as listed, but each layer starts with another part, so \
                that none is always the first or the last.";
    if let Some(next) = choice(ui, "Next part", &order.next, &words, hint) {
        edit(PartOrder { next, ..order });
    }
}
