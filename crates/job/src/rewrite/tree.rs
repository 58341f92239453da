//! RON text as a tree that knows where everything stands in it.

use crate::tokens::{name_length, quoted_length, raw_text_length, trivia_length};
use std::ops::Range;

/// A value in the text.
pub(super) struct Node {
    /// Where it stands, from its name on if it has one.
    pub(super) span: Range<usize>,
    /// Where its opening bracket stands; that of its end if it has none.
    pub(super) open: usize,
    pub(super) inside: Inside,
}

/// What a value consists of.
pub(super) enum Inside {
    /// A number, a text, a word.
    Nothing,
    /// Named values in round brackets.
    Fields(Vec<Field>),
    /// Values in round or square brackets.
    Items(Vec<Node>),
}

/// A named value.
pub(super) struct Field {
    /// Where name and value stand.
    pub(super) span: Range<usize>,
    pub(super) name: Range<usize>,
    pub(super) value: Node,
}

/// The tree of a text; `None` if it holds what no job, machine or recipe does.
pub(super) fn parse(text: &str) -> Option<Node> {
    let mut parser = Parser { text, at: 0 };
    parser.skip();
    while parser.rest().starts_with("#!") {
        parser.at += parser.rest().find(']')? + 1; // extensions that the text asks for
        parser.skip();
    }
    let node = parser.value()?;
    parser.skip();
    parser.rest().is_empty().then_some(node)
}

struct Parser<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Parser<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    /// Goes over white space and comments.
    fn skip(&mut self) {
        self.at += trivia_length(self.rest());
    }

    fn takes(&mut self, c: char) -> bool {
        let is_there = self.rest().starts_with(c);
        self.at += if is_there { c.len_utf8() } else { 0 };
        is_there
    }

    fn value(&mut self) -> Option<Node> {
        let start = self.at;
        let raw = if self.rest().starts_with('r') { raw_text_length(self.rest()) } else { None };
        match self.rest().chars().next()? {
            '[' => return self.in_brackets(start, ']'),
            '(' => return self.in_brackets(start, ')'),
            '"' => self.at += quoted_length(self.rest()),
            _ => self.at += raw.unwrap_or_else(|| word_length(self.rest())),
        }
        let end = self.at;
        if end == start {
            return None;
        }
        self.skip();
        if raw.is_none() && name_length(&self.text[start..]) > 0 && self.rest().starts_with('(') {
            let named = self.in_brackets(start, ')')?;
            let is_some = self.text[start..end] == *"Some";
            return Some(if is_some { the_only_item(named) } else { named });
        }
        self.at = end;
        Some(Node { span: start..end, open: end, inside: Inside::Nothing })
    }

    /// What begins with a bracket here, with a name before it from `start` on.
    fn in_brackets(&mut self, start: usize, close: char) -> Option<Node> {
        let open = self.at;
        self.at += 1;
        let (mut fields, mut items) = (Vec::new(), Vec::new());
        loop {
            self.skip();
            if self.takes(close) {
                break;
            }
            match self.field_name() {
                Some(name) => {
                    let value = self.value()?;
                    fields.push(Field { span: name.start..self.at, name, value });
                }
                None => items.push(self.value()?),
            }
            self.skip();
            if !self.takes(',') && !self.rest().starts_with(close) {
                return None;
            }
        }
        let inside = match (fields.is_empty(), items.is_empty()) {
            (true, _) => Inside::Items(items),
            (false, true) => Inside::Fields(fields),
            (false, false) => return None,
        };
        Some(Node { span: start..self.at, open, inside })
    }

    /// Goes over a name and the colon behind it, if both are there.
    fn field_name(&mut self) -> Option<Range<usize>> {
        let start = self.at;
        let end = start + name_length(self.rest());
        self.at = end;
        self.skip();
        if end > start && self.takes(':') {
            self.skip();
            return Some(start..end);
        }
        self.at = start;
        None
    }
}

/// Bytes up to whatever cannot be part of a number or a word.
fn word_length(text: &str) -> usize {
    let ends = |c: char| c.is_whitespace() || "()[]{},:\"'/".contains(c);
    text.find(ends).unwrap_or(text.len())
}

/// `Some(…)` means the same as what is in it.
fn the_only_item(node: Node) -> Node {
    match node {
        Node { inside: Inside::Items(mut items), .. } if items.len() == 1 => items.swap_remove(0),
        node => node,
    }
}
