//! Edits of a text that leave its layout as it is.

use super::tree::{Inside, Node};
use crate::tokens::{comment_length, trivia_length};
use std::ops::Range;

/// A stretch of the text and what takes its place.
pub(super) type Edit = (Range<usize>, String);

/// Longest value that is put on one line, characters.
const LINE: usize = 96;
/// One step of indentation.
const STEP: &str = "    ";

/// Carries out edits; `None` if two of them concern the same text.
pub(super) fn apply(text: &str, mut edits: Vec<Edit>) -> Option<String> {
    edits.sort_by_key(|(span, _)| (span.start, span.end)); // stable: insertions stay in their order
    let (mut out, mut done) = (String::with_capacity(text.len()), 0);
    for (span, new) in edits {
        out.push_str(text.get(done..span.start)?);
        out.push_str(&new);
        done = span.end;
    }
    out.push_str(text.get(done..)?);
    Some(out)
}

/// A value in the place of another.
pub(super) fn replace(text: &str, old: &Node, new: &Node, new_text: &str) -> Edit {
    (old.span.clone(), rendered(new, new_text, indent_of(text, old.span.start)))
}

/// A value as text, to be put where lines begin with `indent`: on one line if it is short.
pub(super) fn rendered(node: &Node, text: &str, indent: &str) -> String {
    let mut line = String::new();
    on_one_line(node, text, &mut line);
    if line.chars().count() <= LINE {
        return line;
    }
    let own = indent_of(text, node.span.start);
    let mut lines = text[node.span.clone()].lines();
    let mut out = lines.next().unwrap_or_default().to_owned();
    for line in lines {
        out.push('\n');
        out.push_str(indent);
        out.push_str(line.strip_prefix(own).unwrap_or(line));
    }
    out
}

fn on_one_line(node: &Node, text: &str, out: &mut String) {
    let close = match &node.inside {
        Inside::Nothing => return out.push_str(&text[node.span.clone()]),
        Inside::Fields(_) | Inside::Items(_) => &text[node.span.end - 1..node.span.end],
    };
    out.push_str(&text[node.span.start..=node.open]);
    let mut separator = "";
    match &node.inside {
        Inside::Nothing => {}
        Inside::Fields(fields) => {
            for field in fields {
                out.push_str(std::mem::replace(&mut separator, ", "));
                out.push_str(&text[field.name.clone()]);
                out.push_str(": ");
                on_one_line(&field.value, text, out);
            }
        }
        Inside::Items(items) => {
            for item in items {
                out.push_str(std::mem::replace(&mut separator, ", "));
                on_one_line(item, text, out);
            }
        }
    }
    out.push_str(close);
}

/// Blanks at the beginning of the line of a place.
fn indent_of(text: &str, at: usize) -> &str {
    let line = &text[text[..at].rfind('\n').map_or(0, |end| end + 1)..];
    &line[..line.len() - line.trim_start_matches([' ', '\t']).len()]
}

/// Blanks before the values within brackets that are spread over lines.
pub(super) fn indent_inside(text: &str, whole: &Node) -> String {
    let first = match &whole.inside {
        Inside::Nothing => None,
        Inside::Fields(fields) => fields.first().map(|field| field.span.start),
        Inside::Items(items) => items.first().map(|item| item.span.start),
    };
    let outer = indent_of(text, whole.span.start);
    let first = first.map(|first| indent_of(text, first));
    first.filter(|first| first.len() > outer.len()).map_or(format!("{outer}{STEP}"), str::to_owned)
}

/// Values put into brackets that hold some: behind the one that ends at `after`, or first.
pub(super) fn insert(text: &str, whole: &Node, after: Option<usize>, new: &[String]) -> Vec<Edit> {
    let close = whole.span.end - 1;
    let line = text[..close].rfind('\n').filter(|end| *end > whole.open);
    let is_tall = line.is_some_and(|end| text[end..close].trim().is_empty());
    let start = after.unwrap_or(whole.open + 1);
    let comma = after.and_then(|end| comma_after(text, end));
    let place = comma.map_or(start, |comma| comma + 1);
    let mut edits = Vec::new();
    if is_tall && let Some(end) = end_of_line(text, place) {
        if after.is_some() && comma.is_none() {
            edits.push((start..start, ",".to_owned()));
        }
        let indent = indent_inside(text, whole);
        let lines: Vec<String> = new.iter().map(|new| format!("\n{indent}{new},")).collect();
        edits.push((end..end, lines.concat()));
    } else {
        let new = new.join(", ");
        edits.push((
            place..place,
            match (after, comma) {
                (None, _) => format!("{new}, "),
                (Some(_), Some(_)) => format!(" {new},"),
                (Some(_), None) => format!(", {new}"),
            },
        ));
    }
    edits
}

/// A value taken out, with the comma behind it, and its lines if nothing else is on them.
pub(super) fn remove(text: &str, span: &Range<usize>) -> Vec<Edit> {
    let mut span = span.clone();
    let mut edits = Vec::new();
    if let Some(comma) = comma_after(text, span.end) {
        if text[span.end..comma].trim().is_empty() {
            span.end = comma + 1;
        } else {
            edits.push((comma..comma + 1, String::new())); // comments between them stay
        }
    }
    let before = text[..span.start].trim_end_matches([' ', '\t']);
    let begins_line = before.is_empty() || before.ends_with('\n');
    let rest = &text[span.end..];
    let blank = rest.len() - rest.trim_start_matches([' ', '\t', '\r']).len();
    if begins_line && rest[blank..].starts_with('\n') {
        (span.start, span.end) = (before.len(), span.end + blank + 1);
    } else if begins_line {
        span.end += blank; // a comment takes its place
    } else if before.ends_with(['(', '[']) {
        span.end += blank;
    } else {
        span.start = before.len();
    }
    edits.push((span, String::new()));
    edits
}

/// The comma behind a value, if there is one.
fn comma_after(text: &str, end: usize) -> Option<usize> {
    let at = end + trivia_length(&text[end..]);
    text[at..].starts_with(',').then_some(at)
}

/// The end of the line of a place, if nothing but comments comes before it.
fn end_of_line(text: &str, place: usize) -> Option<usize> {
    let mut at = place;
    loop {
        let rest = &text[at..];
        at += rest.len() - rest.trim_start_matches([' ', '\t', '\r']).len();
        let rest = &text[at..];
        if rest.is_empty() || rest.starts_with('\n') {
            return Some(at);
        }
        match comment_length(rest) {
            0 => return None,
            length => at += length,
        }
    }
}
