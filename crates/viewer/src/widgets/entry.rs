//! A number that is dragged or typed. What is typed and cannot be taken is answered in words; the number
//! stays as it was until something valid is typed, and Esc puts it back.

use crate::widgets::arithmetic::value_of;
use egui::{Context, DragValue, Id, Key, Order, Response, RichText, Ui};
use std::cell::RefCell;
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

/// What may be typed into a field.
pub(crate) struct Entry<'a> {
    /// Unit behind the number, with its space, such as " mm".
    pub(crate) unit: &'a str,
    /// What is allowed.
    pub(crate) range: RangeInclusive<f64>,
    /// Change per point of dragging.
    pub(crate) step: f64,
    /// Most decimals that are shown; 0 for counts, which take whole numbers alone.
    pub(crate) decimals: usize,
    /// Words that are typed for numbers, such as "none" for 0.
    pub(crate) words: &'a [(&'a str, f64)],
}

/// What came of a text.
enum Read {
    /// It says what the field shows anyway.
    AsShown,
    Taken,
    Refused(String),
}

/// The last text that was not taken.
#[derive(Clone)]
struct Refusal {
    field: Id,
    /// What stayed.
    value: f64,
    sentence: String,
}

impl Entry<'_> {
    /// Shows the number, whose widget `put` adds with what it has to say of it; returns the new number, too.
    pub(crate) fn show(
        &self,
        ui: &mut Ui,
        value: f64,
        put: impl FnOnce(&mut Ui, DragValue<'_>) -> Response,
    ) -> (Response, f64) {
        let mut new = value;
        let read = RefCell::new(None);
        let parse = |text: &str| {
            let (number, outcome) = self.read(text, value);
            *read.borrow_mut() = Some(outcome);
            number
        };
        let is_mixed = is_no_number(value);
        let mut field = DragValue::new(&mut new)
            .range(self.range.clone())
            .clamp_existing_to_range(false)
            .speed(if is_mixed { 0.0 } else { self.step })
            .min_decimals(0)
            .max_decimals(self.decimals)
            .update_while_editing(false)
            .custom_parser(parse);
        if is_mixed {
            field = field.custom_formatter(|_, _| MIXED.to_owned());
        }
        let response = put(ui, field);
        let mut read = read.into_inner();
        if is_left_by_esc(&response) {
            (new, read) = (value, None);
        }
        keep(ui.ctx(), &response, value, read);
        if new.to_bits() != value.to_bits() && !response.dragged() {
            new = new.clamp(*self.range.start(), *self.range.end()); // steps by arrow keys end there
        }
        new = put_back_by_esc(ui, &response, value, new);
        (response, new)
    }

    /// The number that a text stands for, if it is allowed.
    fn read(&self, text: &str, value: f64) -> (Option<f64>, Read) {
        if is_no_number(value) && text.trim() == MIXED {
            return (None, Read::AsShown); // the field was left as it was
        }
        let word = self.words.iter().find(|(word, _)| *word == text.trim());
        let number = match word.map_or_else(|| value_of(text, self.unit), |(_, number)| Ok(*number))
        {
            Ok(number) => number,
            Err(unread) => return (None, self.refused(&unread.sentence(text), value)),
        };
        let shown: Option<f64> = format!("{value:.*}", self.decimals).parse().ok();
        if shown == Some(number) {
            return (None, Read::AsShown); // also where it shows fewer digits than the number has
        }
        let is_part = self.decimals == 0 && number.fract() != 0.0;
        // what arithmetic leaves behind the 12th digit keeps nobody out
        let slack = 1e-12 * self.range.start().abs().max(self.range.end().abs()).min(1e6);
        let is_in = number >= self.range.start() - slack && number <= self.range.end() + slack;
        if is_part || !is_in {
            let text = text.trim();
            return (None, self.refused(&format!("“{text}” is not taken."), value));
        }
        (Some(number.clamp(*self.range.start(), *self.range.end())), Read::Taken)
    }

    fn refused(&self, why: &str, value: f64) -> Read {
        Read::Refused(format!("{why} Allowed: {}. It stays {}.", self.allowed(), self.shown(value)))
    }

    /// What is allowed, with its unit: "0.01 to 1 mm".
    pub(crate) fn allowed(&self) -> String {
        let whole = if self.decimals == 0 { "whole numbers from " } else { "" };
        format!("{whole}{} to {}{}", self.range.start(), self.range.end(), self.unit)
    }

    fn shown(&self, value: f64) -> String {
        if is_no_number(value) {
            return MIXED.to_owned();
        }
        let word = self.words.iter().find(|(_, number)| number.to_bits() == value.to_bits());
        let scale = 10_f64.powi(i32::try_from(self.decimals).unwrap_or(0));
        let number = || format!("{}{}", (value * scale).round() / scale, self.unit);
        word.map_or_else(number, |(word, _)| (*word).to_owned())
    }
}

/// Esc in a drag puts back what was there when it began.
fn put_back_by_esc(ui: &Ui, response: &Response, value: f64, new: f64) -> f64 {
    let began = response.id.with("drag began");
    if response.drag_started() {
        ui.data_mut(|data| data.insert_temp(began, value));
    }
    if response.drag_stopped() {
        let start = ui.data_mut(|data| data.remove_temp::<f64>(began));
        if ui.input(|input| input.key_pressed(Key::Escape)) {
            return start.unwrap_or(new);
        }
    }
    new
}

/// Whether a field was left by Esc: in this frame, or in the one before, since egui says twice that a field
/// was left, and takes the text the second time.
fn is_left_by_esc(response: &Response) -> bool {
    let left = Id::unique("the last number that was left by Esc");
    let ctx = &response.ctx;
    if response.has_focus() {
        ctx.data_mut(|data| data.remove::<Id>(left));
    }
    if !response.lost_focus() {
        return false;
    }
    if ctx.input(|input| input.key_pressed(Key::Escape)) {
        ctx.data_mut(|data| data.insert_temp(left, response.id));
    }
    ctx.data(|data| data.get_temp::<Id>(left)) == Some(response.id)
}

/// Where the last refusal is kept: there is one at a time.
fn place() -> Id {
    Id::unique("the last number that was not taken")
}

/// Keeps a refusal, or drops that of this field when something was taken or the number changed.
fn keep(ctx: &Context, response: &Response, value: f64, read: Option<Read>) {
    let esc = response.lost_focus() && ctx.input(|input| input.key_pressed(Key::Escape));
    ctx.data_mut(|data| match read {
        Some(Read::Refused(sentence)) => {
            data.insert_temp(place(), Refusal { field: response.id, value, sentence });
        }
        Some(Read::AsShown | Read::Taken) | None => {
            let last: Option<Refusal> = data.get_temp(place());
            let is_ours = last.is_some_and(|last| {
                last.field == response.id
                    && (read.is_some() || esc || last.value.to_bits() != value.to_bits())
            });
            if is_ours {
                data.remove::<Refusal>(place());
            }
        }
    });
}

/// Why the last text of a field was not taken, if it was not.
fn refusal(response: &Response) -> Option<String> {
    let last: Option<Refusal> = response.ctx.data(|data| data.get_temp(place()));
    last.filter(|last| last.field == response.id).map(|last| last.sentence)
}

/// Says below a row why what was typed in its field was not taken.
pub(crate) fn say_below(ui: &mut Ui, response: &Response) {
    match refusal(response) {
        Some(sentence) => {
            ui.label(RichText::new(sentence).color(ui.visuals().warn_fg_color));
        }
        // fields below keep their ids, and by these what is being typed, whether it is said or not
        None => ui.skip_ahead_auto_ids(1),
    }
}

/// The same for a field of a table or a strip, where there is no room below: over what lies there, until
/// the pointer is pressed somewhere.
pub(crate) fn say_over(ui: &Ui, response: &Response) {
    let Some(sentence) = refusal(response).filter(|_| ui.is_rect_visible(response.rect)) else {
        return;
    };
    if ui.input(|input| input.pointer.any_pressed()) {
        return ui.data_mut(|data| data.remove::<Refusal>(place()));
    }
    let colour = ui.visuals().warn_fg_color;
    egui::Area::new(response.id.with("refused"))
        .order(Order::Foreground)
        .fixed_pos(response.rect.left_bottom())
        .constrain(true)
        .interactable(false)
        .show(ui.ctx(), |ui| {
            egui::Frame::popup(ui.style()).show(ui, |ui| {
                ui.set_max_width(260.0);
                ui.label(RichText::new(sentence).color(colour));
            });
        });
}

#[cfg(test)]
mod tests {
    use super::*;

    const LENGTH: Entry<'_> =
        Entry { unit: " mm", range: 0.01..=1.0, step: 0.001, decimals: 4, words: &[] };

    fn said(entry: &Entry<'_>, text: &str, value: f64) -> String {
        match entry.read(text, value) {
            (None, Read::Refused(sentence)) => sentence,
            (Some(number), Read::Taken) => format!("{number}"),
            (None, Read::AsShown) => "as shown".to_owned(),
            (Some(_), _) | (None, Read::Taken) => panic!("a number that is not taken"),
        }
    }

    #[test]
    fn what_is_not_allowed_is_said_with_what_would_be() {
        let stays = "Allowed: 0.01 to 1 mm. It stays 0.1 mm.";
        assert_eq!(said(&LENGTH, "3", 0.1), format!("“3” is not taken. {stays}"));
        assert_eq!(said(&LENGTH, "thick", 0.1), format!("“thick” is no number. {stays}"));
        assert_eq!(said(&LENGTH, "", 0.1), format!("Nothing was typed. {stays}"));
        assert_eq!(said(&LENGTH, "1/2", 0.1), "0.5");
        assert_eq!(said(&LENGTH, "0.9+0.1", 0.1), "1");
    }

    #[test]
    fn what_is_shown_changes_nothing_even_where_the_number_has_more_digits_or_is_out_of_range() {
        assert_eq!(said(&LENGTH, "0.1841", 0.184_123), "as shown");
        assert_eq!(said(&LENGTH, "5", 5.0), "as shown");
    }

    #[test]
    fn a_field_of_values_that_differ_can_be_left_as_it_is() {
        assert_eq!(said(&LENGTH, "mixed", NO_NUMBER), "as shown");
        assert_eq!(said(&LENGTH, "0.2", NO_NUMBER), "0.2");
        assert!(said(&LENGTH, "thick", NO_NUMBER).ends_with("It stays mixed."));
    }

    #[test]
    fn counts_take_whole_numbers_and_their_words() {
        let rank = Entry {
            unit: "",
            range: 0.0..=999.0,
            step: 0.05,
            decimals: 0,
            words: &[("–", 0.0), ("none", 0.0)],
        };
        assert_eq!((said(&rank, "2*3", 1.0), said(&rank, " none ", 1.0)), ("6".into(), "0".into()));
        let stays = "Allowed: whole numbers from 0 to 999. It stays –.";
        assert_eq!(said(&rank, "2.5", 0.0), format!("“2.5” is not taken. {stays}"));
    }
}
