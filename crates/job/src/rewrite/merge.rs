//! What has to change in a text so that it says something else.

use super::layout::{Edit, insert, remove, rendered, replace};
use super::tree::{Field, Inside, Node};
use crate::tokens::comments;

/// Compares the text that is there with what the program would write for it and for what is wanted.
pub(super) struct Merge<'a> {
    there: &'a str,
    written: &'a str,
    wanted: &'a str,
    pub(super) edits: Vec<Edit>,
}

/// What is to be put behind one place.
struct Pending {
    /// End of the value behind which it goes; at the beginning if absent.
    after: Option<usize>,
    texts: Vec<String>,
}

impl<'a> Merge<'a> {
    pub(super) fn new(there: &'a str, written: &'a str, wanted: &'a str) -> Self {
        Self { there, written, wanted, edits: Vec::new() }
    }

    /// The version is always the newest, whatever the text states.
    pub(super) fn version(&mut self, there: &Node, wanted: &Node) {
        let (Inside::Fields(there), Inside::Fields(wanted)) = (&there.inside, &wanted.inside)
        else {
            return;
        };
        let states = find(there, self.there, "version");
        if let (Some(states), Some(newest)) = (states, find(wanted, self.wanted, "version"))
            && self.there[states.value.span.clone()] != self.wanted[newest.value.span.clone()]
        {
            self.replace(&states.value, &newest.value);
        }
    }

    /// Follows one value through the three texts.
    pub(super) fn value(&mut self, there: &Node, written: &Node, wanted: &Node) {
        if self.is_unchanged(written, wanted) {
            return;
        }
        // Alternatives are written with their name; a struct is not, though the person may have named it.
        let name = name_of(wanted, self.wanted);
        let is_alike = name == name_of(written, self.written)
            && (name.is_empty() || name == name_of(there, self.there));
        match (&there.inside, &written.inside, &wanted.inside) {
            (Inside::Fields(t), Inside::Fields(w), Inside::Fields(n)) if is_alike => {
                self.fields(there, [t, w, n]);
            }
            (Inside::Items(t), Inside::Items(w), Inside::Items(n))
                if is_alike && t.len() == w.len() && !t.is_empty() =>
            {
                let text = &self.there[there.open..there.span.end];
                let is_plain_line = !text.contains('\n') && comments(text).is_empty();
                if text.starts_with('[') && !(is_plain_line && n.len() > w.len()) {
                    self.list(there, [t, w, n]);
                } else if w.len() == n.len() && !text.starts_with('[') {
                    t.iter().zip(w).zip(n).for_each(|((t, w), n)| self.value(t, w, n));
                } else {
                    self.replace(there, wanted); // a line that grows is laid out anew
                }
            }
            _ => self.replace(there, wanted),
        }
    }

    fn fields(&mut self, whole: &Node, [there, written, wanted]: [&[Field]; 3]) {
        let mut pending = Pending { after: None, texts: Vec::new() };
        for field in wanted {
            let name = &self.wanted[field.name.clone()];
            let before = find(written, self.written, name);
            match (find(there, self.there, name), before) {
                (Some(there), Some(before)) => {
                    self.value(&there.value, &before.value, &field.value);
                    self.flush(whole, &mut pending, there.span.end);
                }
                (Some(there), None) => {
                    self.replace(&there.value, &field.value);
                    self.flush(whole, &mut pending, there.span.end);
                }
                (None, Some(before)) if self.is_unchanged(&before.value, &field.value) => {}
                (None, _) => {
                    let indent = self.indent_inside(whole);
                    let value = rendered(&field.value, self.wanted, &indent);
                    pending.texts.push(format!("{name}: {value}"));
                }
            }
        }
        self.flush(whole, &mut pending, 0);
        for field in written {
            let name = &self.written[field.name.clone()];
            if find(wanted, self.wanted, name).is_none()
                && let Some(gone) = find(there, self.there, name)
            {
                self.edits.extend(remove(self.there, &gone.span));
            }
        }
    }

    fn list(&mut self, whole: &Node, [there, written, wanted]: [&[Node]; 3]) {
        let keys = |nodes: &[Node], text: &'a str| -> Vec<&'a str> {
            nodes.iter().map(|node| key(node, text)).collect()
        };
        let mut pairs = matching(&keys(written, self.written), &keys(wanted, self.wanted));
        pairs.push((written.len(), wanted.len()));
        let mut pending = Pending { after: None, texts: Vec::new() };
        let (mut from, mut to) = (0, 0);
        for (i, j) in pairs {
            // Between two that match, what stands in the same row is taken to be the same thing, changed.
            let both = (i - from).min(j - to);
            for k in 0..both {
                self.value(&there[from + k], &written[from + k], &wanted[to + k]);
                self.flush(whole, &mut pending, there[from + k].span.end);
            }
            for gone in &there[from + both..i] {
                self.edits.extend(remove(self.there, &gone.span));
            }
            let indent = self.indent_inside(whole);
            let new = wanted[to + both..j].iter().map(|n| rendered(n, self.wanted, &indent));
            pending.texts.extend(new);
            if i < written.len() {
                self.value(&there[i], &written[i], &wanted[j]);
                self.flush(whole, &mut pending, there[i].span.end);
            }
            (from, to) = (i + 1, j + 1);
        }
        self.flush(whole, &mut pending, 0);
    }

    /// Puts in what waits, and goes on behind the value that ends at `next`.
    fn flush(&mut self, whole: &Node, pending: &mut Pending, next: usize) {
        let texts = std::mem::take(&mut pending.texts);
        if !texts.is_empty() {
            self.edits.extend(insert(self.there, whole, pending.after, &texts));
        }
        pending.after = Some(next);
    }

    fn replace(&mut self, there: &Node, wanted: &Node) {
        self.edits.push(replace(self.there, there, wanted, self.wanted));
    }

    fn is_unchanged(&self, written: &Node, wanted: &Node) -> bool {
        self.written[written.span.clone()] == self.wanted[wanted.span.clone()]
    }

    fn indent_inside(&self, whole: &Node) -> String {
        super::layout::indent_inside(self.there, whole)
    }
}

/// The name before the bracket.
fn name_of<'t>(node: &Node, text: &'t str) -> &'t str {
    text[node.span.start..node.open].trim()
}

fn find<'f>(fields: &'f [Field], text: &str, name: &str) -> Option<&'f Field> {
    fields.iter().find(|field| text[field.name.clone()] == *name)
}

/// By what a value of a list is known again: its name if it has one, or else all of it.
fn key<'t>(node: &Node, text: &'t str) -> &'t str {
    let named = match &node.inside {
        Inside::Fields(fields) => find(fields, text, "name"),
        Inside::Nothing | Inside::Items(_) => None,
    };
    &text[named.map_or(&node.span, |field| &field.value.span).clone()]
}

/// Pairs of equal keys, as many as go without one crossing another; O(n m) time and memory on what is between
/// a common beginning and a common end. Where that is too much, only what is before and after it is paired.
fn matching(a: &[&str], b: &[&str]) -> Vec<(usize, usize)> {
    const MOST: usize = 4_000_000;
    let start = a.iter().zip(b).take_while(|(a, b)| a == b).count();
    let ends = a[start..].iter().rev().zip(b[start..].iter().rev());
    let end = ends.take_while(|(a, b)| a == b).count();
    let (mut n, mut m) = (a.len() - start - end, b.len() - start - end);
    if n.saturating_mul(m) > MOST {
        (n, m) = (0, 0);
    }
    let mut pairs: Vec<(usize, usize)> = (0..start).map(|i| (i, i)).collect();
    // longest[i][j]: of a from i on and b from j on, within the middle
    let mut longest = vec![0_u32; (n + 1) * (m + 1)];
    let at = |i: usize, j: usize| i * (m + 1) + j;
    for i in (0..n).rev() {
        for j in (0..m).rev() {
            longest[at(i, j)] = if a[start + i] == b[start + j] {
                longest[at(i + 1, j + 1)] + 1
            } else {
                longest[at(i + 1, j)].max(longest[at(i, j + 1)])
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    while i < n && j < m {
        if a[start + i] == b[start + j] {
            pairs.push((start + i, start + j));
            (i, j) = (i + 1, j + 1);
        } else if longest[at(i + 1, j)] >= longest[at(i, j + 1)] {
            i += 1;
        } else {
            j += 1;
        }
    }
    pairs.extend((0..end).map(|k| (a.len() - end + k, b.len() - end + k)));
    pairs
}
