//! Fields of the traveller: a name, a number with its unit, limits and default.

use crate::widgets::entry::{Entry, MIXED, NO_NUMBER, is_no_number, say_below, say_over};
use crate::widgets::sought;
use crate::widgets::theme::Ink;
use base::Unit;
use egui::{Response, RichText, Sense, Ui};
use std::ops::RangeInclusive;

/// A change of a field.
pub(crate) struct Changed<T> {
    /// The new value.
    pub(crate) value: T,
    /// Key under which the edits of one gesture are one step of undo.
    pub(crate) merge: Option<u64>,
}

/// A number that can be dragged or typed.
pub(crate) struct Number<'a> {
    /// What it is, the accessible name too.
    pub(crate) name: &'a str,
    /// Unit behind the number, with its space, such as " mm".
    pub(crate) unit: &'a str,
    /// What may be typed.
    pub(crate) range: RangeInclusive<f64>,
    /// Change per point of dragging.
    pub(crate) step: f64,
    /// What a double click on the name returns to.
    pub(crate) default: Option<f64>,
    /// What hovering explains: meaning, published window and where it comes from.
    pub(crate) hint: &'a str,
}

/// Decimals that show a step.
fn decimals(step: f64) -> usize {
    let digits = (-step.log10()).ceil().clamp(0.0, 4.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 4")]
    let digits = digits as usize;
    digits
}

/// Cuts binary noise off a value that was typed or dragged: 1 nm, 1 µW, a millionth of a degree.
fn clean(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

impl Number<'_> {
    /// Shows name and number in one row; says when it changed.
    pub(crate) fn show(self, ui: &mut Ui, value: f64, ink: &Ink) -> Option<Changed<f64>> {
        self.show_common(ui, Some(value), ink)
    }

    /// The same for several things at once; without a value they differ, and stay so until a number is typed.
    pub(crate) fn show_common(
        self,
        ui: &mut Ui,
        value: Option<f64>,
        ink: &Ink,
    ) -> Option<Changed<f64>> {
        let value = value.unwrap_or(NO_NUMBER);
        let entry = self.entry();
        let mut reset = false;
        let (response, new) = row(ui, self.name, |ui, label| {
            let default = self.default.map_or(String::new(), |default| {
                reset = label.double_clicked();
                let unit = self.unit;
                format!("\nDouble click on the name: back to {default}{unit} as in the file.")
            });
            let allowed = entry.allowed();
            let label = label.on_hover_text(format!("{}\nAllowed: {allowed}.{default}", self.hint));
            let changed = self.default.is_some_and(|default| (default - value).abs() > 1e-12);
            if changed {
                let dot = label.rect.left_center() - egui::vec2(5.0, 0.0);
                ui.painter().circle_filled(dot, 2.0, ink.accent);
            }
            entry.show(ui, value, |ui, field| {
                let unit = if is_no_number(value) { "" } else { self.unit };
                ui.add(field.suffix(unit)).labelled_by(label.id)
            })
        });
        say_below(ui, &response);
        if reset && let Some(default) = self.default {
            return Some(Changed { value: default, merge: None });
        }
        changed(value, new, &response)
    }

    /// Shows the number alone, for tables; its name is the accessible one.
    pub(crate) fn show_alone(self, ui: &mut Ui, value: f64) -> Option<Changed<f64>> {
        let entry = self.entry();
        let Self { name, hint, unit, .. } = self;
        let (response, new) = entry.show(ui, value, |ui, field| ui.add(field.suffix(unit)));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
        say_over(ui, &response);
        let hint = format!("{name}: {hint}\nAllowed: {}.", entry.allowed());
        let response = response.on_hover_text(hint);
        changed(value, new, &response)
    }

    fn entry(&self) -> Entry<'_> {
        let Self { unit, step, .. } = *self;
        Entry { unit, range: self.range.clone(), step, decimals: decimals(step) + 2, words: &[] }
    }
}

/// What nobody touched keeps its last digit, whatever the field shows of it.
fn changed(before: f64, now: f64, response: &Response) -> Option<Changed<f64>> {
    let differs = now.to_bits() != before.to_bits() && !is_no_number(now);
    differs.then(|| Changed { value: clean(now), merge: Some(gesture(response)) })
}

/// A count that can be dragged or typed.
pub(crate) fn count(
    ui: &mut Ui,
    name: &str,
    value: u32,
    range: RangeInclusive<u32>,
    hint: &str,
) -> Option<Changed<u32>> {
    let entry = count_entry(range, "", &[]);
    let (response, new) = row(ui, name, |ui, label| {
        let label = label.on_hover_text(format!("{hint}\nAllowed: {}.", entry.allowed()));
        entry.show(ui, f64::from(value), |ui, field| ui.add(field).labelled_by(label.id))
    });
    say_below(ui, &response);
    let new = whole(new);
    (new != value).then(|| Changed { value: new, merge: Some(gesture(&response)) })
}

/// What may be typed for a count; `words` may stand for numbers.
pub(crate) fn count_entry<'a>(
    range: RangeInclusive<u32>,
    unit: &'a str,
    words: &'a [(&'a str, f64)],
) -> Entry<'a> {
    let range = f64::from(*range.start())..=f64::from(*range.end());
    Entry { unit, range, step: 0.05, decimals: 0, words }
}

/// A count as a whole number.
pub(crate) fn whole(count: f64) -> u32 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "`as` saturates")]
    let whole = count.round() as u32;
    whole
}

/// How a number that is absent is shown and may be typed.
pub(crate) const NONE: [(&str, f64); 4] = [("–", 0.0), ("-", 0.0), ("", 0.0), ("none", 0.0)];

pub(crate) fn shown_or_none(number: f64) -> String {
    if is_no_number(number) {
        MIXED.to_owned()
    } else if number < 1.0 {
        NONE[0].0.to_owned()
    } else {
        format!("{number:.0}")
    }
}

/// One of a few words.
pub(crate) fn choice<T: PartialEq + Clone>(
    ui: &mut Ui,
    name: &str,
    value: &T,
    words: &[(T, &str)],
    hint: &str,
) -> Option<T> {
    choice_among(ui, (name, hint), Some(value), "", words)
}

/// The same; `otherwise` is shown where there is no value.
pub(crate) fn choice_among<T: PartialEq + Clone>(
    ui: &mut Ui,
    (name, hint): (&str, &str),
    value: Option<&T>,
    otherwise: &str,
    words: &[(T, &str)],
) -> Option<T> {
    let mut new = None;
    row(ui, name, |ui, label| {
        let label = label.on_hover_text(hint);
        let current = words.iter().find(|(v, _)| Some(v) == value);
        let current = current.map_or(otherwise, |(_, word)| word);
        let width = (ui.available_width() - 8.0).clamp(60.0, 160.0);
        let combo =
            egui::ComboBox::from_id_salt(name).selected_text(current).width(width).truncate();
        let combo = ui.scope(|ui| {
            ui.set_max_width(width); // words that are longer are cut
            combo.show_ui(ui, |ui| {
                for (v, word) in words {
                    let is_it = Some(v) == value;
                    if ui.selectable_label(is_it, *word).clicked() && !is_it {
                        new = Some(v.clone());
                    }
                }
            })
        });
        combo.inner.response.labelled_by(label.id)
    });
    new
}

/// One line of text, taken over when the field is left.
pub(crate) fn text(ui: &mut Ui, name: &str, value: &str, hint: &str) -> Option<Changed<String>> {
    let mut new = value.to_owned();
    let response = row(ui, name, |ui, label| {
        let label = label.on_hover_text(hint);
        let width = ui.available_width() - 12.0; // its margins come on top
        ui.add(egui::TextEdit::singleline(&mut new).desired_width(width)).labelled_by(label.id)
    });
    let usable = !new.trim().is_empty();
    (new != value && usable).then(|| Changed { value: new, merge: Some(gesture(&response)) })
}

/// A row with a name on the left and a field at a fixed distance from it.
pub(crate) fn row<T>(ui: &mut Ui, name: &str, field: impl FnOnce(&mut Ui, Response) -> T) -> T {
    ui.horizontal(|ui| {
        let left = ui.min_rect().left();
        // Not a stop of the keyboard: the field beside it is one.
        let label = ui.add(egui::Label::new(name).truncate().sense(Sense::CLICK));
        sought::note(ui, name, &label);
        to_column(ui, left);
        field(ui, label)
    })
    .inner
}

/// Goes on to where fields begin in a row that began at `left`.
pub(crate) fn to_column(ui: &mut Ui, left: f32) {
    let column = left + (ui.max_rect().width() * 0.48).max(110.0);
    ui.add_space((column - ui.cursor().left()).max(0.0));
}

/// A key for the gesture that a field is in: typing into it or dragging it is one step.
pub(crate) fn gesture(response: &Response) -> u64 {
    response.id.value()
}

/// Whether no field is being dragged or typed into, so that the next edit is a step of its own.
pub(crate) fn is_at_rest(ctx: &egui::Context) -> bool {
    ctx.input(|input| !input.pointer.any_down()) && ctx.memory(|memory| memory.focused().is_none())
}

/// A small heading above a group of fields.
pub(crate) fn heading(ui: &mut Ui, text: &str, ink: &Ink) {
    ui.add_space(crate::widgets::theme::GAP);
    ui.label(RichText::new(text).size(crate::widgets::theme::CAPTION).color(ink.soft));
}

/// All units with their words, for a choice.
pub(crate) const UNITS: [(Unit, &str); 6] = [
    (Unit::Millimetre, "millimetres"),
    (Unit::Micron, "micrometres"),
    (Unit::Centimetre, "centimetres"),
    (Unit::Inch, "inches"),
    (Unit::Foot, "feet"),
    (Unit::Metre, "metres"),
];

#[cfg(test)]
mod tests {
    use super::shown_or_none;

    #[test]
    fn a_count_that_is_absent_is_a_dash() {
        assert_eq!([0.0, 1.0, 12.0].map(shown_or_none), ["–", "1", "12"]);
    }
}
