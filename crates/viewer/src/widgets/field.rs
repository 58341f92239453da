//! Fields of the traveller: a name, a number with its unit, limits and default.

use crate::widgets::theme::Ink;
use base::Unit;
use egui::{DragValue, Response, RichText, Sense, Ui};
use std::ops::RangeInclusive;

/// What a field shows in place of values that differ.
pub(crate) const MIXED: &str = "mixed";

/// What a field of numbers holds while its values differ: far below anything that may be typed. (No NaN, which
/// fields take for a change in every frame.)
pub(crate) const NO_NUMBER: f64 = -1e9;

/// Whether a field holds no number, since its values differ.
pub(crate) fn is_no_number(value: f64) -> bool {
    value < 0.5 * NO_NUMBER
}

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

/// A number as people type it: a comma for the point and a true minus are meant alike.
pub(crate) fn parsed(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").replace('−', "-").parse().ok()
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
        // No number: it cannot be dragged, and every number that is typed is another.
        let value = value.unwrap_or(NO_NUMBER);
        let mut new = value;
        let mut reset = false;
        let response = row(ui, self.name, |ui, label| {
            let limits = format!("{} to {}{}", self.range.start(), self.range.end(), self.unit);
            let default = self.default.map_or(String::new(), |default| {
                reset = label.double_clicked();
                let unit = self.unit;
                format!("\nDouble click on the name: back to {default}{unit} as in the file.")
            });
            let label = label.on_hover_text(format!("{}\nAllowed: {limits}.{default}", self.hint));
            let changed = self.default.is_some_and(|default| (default - value).abs() > 1e-12);
            if changed {
                let dot = label.rect.left_center() - egui::vec2(5.0, 0.0);
                ui.painter().circle_filled(dot, 2.0, ink.accent);
            }
            ui.add(self.field(&mut new)).labelled_by(label.id)
        });
        if reset && let Some(default) = self.default {
            return Some(Changed { value: default, merge: None });
        }
        changed(value, new, &response)
    }

    /// Shows the number alone, for tables; its name is the accessible one.
    pub(crate) fn show_alone(self, ui: &mut Ui, value: f64) -> Option<Changed<f64>> {
        let mut new = value;
        let Self { name, hint, unit, .. } = self;
        let limits = format!("{} to {}{unit}", self.range.start(), self.range.end());
        let response = ui.add(self.field(&mut new));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
        let response = response.on_hover_text(format!("{name}: {hint}\nAllowed: {limits}."));
        changed(value, new, &response)
    }

    fn field<'v>(&self, value: &'v mut f64) -> DragValue<'v> {
        let is_mixed = is_no_number(*value);
        let field = DragValue::new(value)
            .range(self.range.clone())
            .clamp_existing_to_range(!is_mixed)
            .speed(if is_mixed { 0.0 } else { self.step })
            .custom_parser(parsed)
            .min_decimals(0)
            .max_decimals(decimals(self.step) + 2);
        if is_mixed {
            field.custom_formatter(|_, _| MIXED.to_owned())
        } else {
            field.suffix(self.unit)
        }
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
    let mut new = value;
    let response = row(ui, name, |ui, label| {
        let label = label.on_hover_text(hint);
        ui.add(DragValue::new(&mut new).range(range).speed(0.05)).labelled_by(label.id)
    });
    (new != value).then(|| Changed { value: new, merge: Some(gesture(&response)) })
}

/// A field of a whole number that may be absent, which is shown as "–" and reached below the least number: 0
/// stands for "none" in it and nowhere else; no number, for several that differ.
pub(crate) fn optional_number(value: &mut f64, most: u32) -> DragValue<'_> {
    let is_mixed = is_no_number(*value);
    DragValue::new(value)
        .range(0..=most)
        .clamp_existing_to_range(!is_mixed)
        .speed(if is_mixed { 0.0 } else { 0.05 })
        .max_decimals(0)
        .custom_formatter(|number, _| shown_or_none(number))
        .custom_parser(parsed_or_none)
}

/// How a number that is absent is shown.
const NONE: &str = "–";

fn shown_or_none(number: f64) -> String {
    if is_no_number(number) {
        MIXED.to_owned()
    } else if number < 1.0 {
        NONE.to_owned()
    } else {
        format!("{number:.0}")
    }
}

fn parsed_or_none(text: &str) -> Option<f64> {
    match text.trim() {
        "" | NONE | "-" | "none" => Some(0.0),
        number => parsed(number),
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
        let width = (ui.available_width() - 8.0).clamp(60.0, 140.0);
        let combo =
            egui::ComboBox::from_id_salt(name).selected_text(current).width(width).truncate();
        let combo = combo.show_ui(ui, |ui| {
            for (v, word) in words {
                let is_it = Some(v) == value;
                if ui.selectable_label(is_it, *word).clicked() && !is_it {
                    new = Some(v.clone());
                }
            }
        });
        combo.response.labelled_by(label.id)
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
pub(crate) fn row(
    ui: &mut Ui,
    name: &str,
    field: impl FnOnce(&mut Ui, Response) -> Response,
) -> Response {
    ui.horizontal(|ui| {
        let left = ui.min_rect().left();
        // Not a stop of the keyboard: the field beside it is one.
        let label = ui.add(egui::Label::new(name).truncate().sense(Sense::CLICK));
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
    use super::{parsed, parsed_or_none, shown_or_none};

    #[test]
    fn a_count_that_is_absent_is_a_dash_and_is_typed_as_one() {
        assert_eq!([0.0, 1.0, 12.0].map(shown_or_none), ["–", "1", "12"]);
        for none in ["–", " - ", "", "none", "0"] {
            assert_eq!(parsed_or_none(none), Some(0.0), "{none:?}");
        }
        assert_eq!((parsed_or_none("7"), parsed_or_none("seven")), (Some(7.0), None));
    }

    #[test]
    fn a_comma_is_a_point_and_words_are_no_number() {
        assert_eq!(parsed(" −10,5 "), Some(-10.5));
        assert_eq!((parsed("1e-3"), parsed("1,234.5"), parsed("abc")), (Some(1e-3), None, None));
    }
}
