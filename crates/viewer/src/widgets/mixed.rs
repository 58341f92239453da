//! Fields of several things at once: where they differ, a field says so, and leaves them until something is
//! typed.

use crate::widgets::entry::{MIXED, NO_NUMBER, is_no_number, say_below};
use crate::widgets::field::{
    Changed, NONE, choice_among, count_entry, gesture, row, shown_or_none, whole,
};
use egui::Ui;
use std::ops::RangeInclusive;

/// The value that all of them have; `None` where they differ, or where there is none.
pub(crate) fn common<T: PartialEq>(values: impl IntoIterator<Item = T>) -> Option<T> {
    let mut values = values.into_iter();
    let first = values.next()?;
    values.all(|value| value == first).then_some(first)
}

/// One of a few words.
pub(crate) fn words<T: PartialEq + Clone>(
    ui: &mut Ui,
    name: &str,
    value: Option<&T>,
    words: &[(T, &str)],
    hint: &str,
) -> Option<T> {
    choice_among(ui, (name, hint), value, MIXED, words)
}

/// A whole number that may be absent, where 0 stands for "none"; `range` starts at 1 or above.
pub(crate) fn optional_count(
    ui: &mut Ui,
    name: &str,
    value: Option<u32>,
    range: RangeInclusive<u32>,
    hint: &str,
) -> Option<Changed<Option<u32>>> {
    let before = value.map_or(NO_NUMBER, f64::from);
    let entry = count_entry(0..=*range.end(), "", &NONE);
    let (response, new) = row(ui, name, |ui, label| {
        let label = label.on_hover_text(hint);
        entry.show(ui, before, |ui, field| {
            ui.add(field.custom_formatter(|number, _| shown_or_none(number))).labelled_by(label.id)
        })
    });
    say_below(ui, &response);
    if is_no_number(new) || new.to_bits() == before.to_bits() {
        return None;
    }
    let new = whole(new);
    let value = (new > 0).then(|| new.max(*range.start()));
    Some(Changed { value, merge: Some(gesture(&response)) })
}

/// Yes or no; a click on "mixed" makes it yes for all.
pub(crate) fn check(ui: &mut Ui, name: &str, value: Option<bool>, hint: &str) -> Option<bool> {
    let mut new = value.unwrap_or(false);
    let text = if value.is_some() { name.to_owned() } else { format!("{name} ({MIXED})") };
    let field = egui::Checkbox::new(&mut new, text).indeterminate(value.is_none());
    ui.add(field).on_hover_text(hint).changed().then_some(new)
}

#[cfg(test)]
mod tests {
    use super::common;

    #[test]
    fn what_all_have_is_common_and_nothing_else() {
        assert_eq!(common([2, 2, 2]), Some(2));
        assert_eq!(common([2, 3, 2]), None);
        assert_eq!(common(Vec::<i32>::new()), None);
    }
}
