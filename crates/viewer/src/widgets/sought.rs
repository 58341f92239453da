//! The field of the sheet that was looked for: it rolls into sight and stands out until the next key or click.
//! And which fields there are at all: a sheet that is laid out to be listed notes their names.

use egui::{Align, Context, Id, Response, Ui};

/// Frames in which it is rolled to: its section has to open first.
const ROLLS: u8 = 4;

#[derive(Clone, Default)]
struct Sought {
    name: String,
    rolls: u8,
}

/// Names of fields, in the order in which they were shown.
#[derive(Clone, Default)]
struct Listed(Vec<String>);

fn id() -> Id {
    Id::unique("what is sought in the sheet")
}

/// Looks for a field by its name.
pub(crate) fn seek(ctx: &Context, name: String) {
    ctx.data_mut(|data| data.insert_temp(id(), Sought { name, rolls: ROLLS }));
}

/// Forgets it once the person goes on.
pub(crate) fn forget(ctx: &Context) {
    let goes_on = ctx.input(|input| {
        input.pointer.any_pressed()
            || input
                .events
                .iter()
                .any(|event| matches!(event, egui::Event::Key { pressed: true, .. }))
    });
    if goes_on {
        ctx.data_mut(|data| data.remove_temp::<Sought>(id()));
    }
}

/// Lets all fields that are shown from now on be listed.
pub(crate) fn list(ctx: &Context) {
    ctx.data_mut(|data| data.insert_temp(id(), Listed::default()));
}

/// Those that were shown since.
pub(crate) fn listed(ctx: &Context) -> Vec<String> {
    ctx.data_mut(|data| data.remove_temp::<Listed>(id())).unwrap_or_default().0
}

/// Notes a field by its label, and marks it if it is sought.
pub(crate) fn note(ui: &Ui, name: &str, label: &Response) {
    let sought = ui.data_mut(|data| {
        if let Some(mut listed) = data.get_temp::<Listed>(id()) {
            listed.0.push(name.to_owned());
            data.insert_temp(id(), listed);
        }
        let mut sought = data.get_temp::<Sought>(id()).filter(|sought| sought.name == name)?;
        let rolls = sought.rolls;
        sought.rolls = rolls.saturating_sub(1);
        data.insert_temp(id(), sought);
        Some(rolls)
    });
    let Some(rolls) = sought else { return };
    if rolls > 0 {
        label.scroll_to_me(Some(Align::Center));
        ui.ctx().request_repaint();
    }
    let line = ui.visuals().selection.stroke;
    let around = label.rect.expand2(egui::vec2(4.0, 2.0));
    ui.painter().rect_stroke(
        around,
        2.0,
        egui::Stroke::new(2.0, line.color),
        egui::StrokeKind::Outside,
    );
}
