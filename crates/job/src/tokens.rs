//! How long the pieces are of which RON text consists. Text that is no RON has some length or other.

/// Bytes of the name or number that the text starts with; 0 if it starts with neither.
pub(crate) fn name_length(text: &str) -> usize {
    text.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(text.len())
}

/// Bytes of text in quotes, `"…"`, in which a backslash takes its meaning from the next character.
pub(crate) fn quoted_length(text: &str) -> usize {
    let mut escaped = false;
    let end = text.char_indices().skip(1).find(|(_, c)| {
        let ends = *c == '"' && !escaped;
        escaped = *c == '\\' && !escaped;
        ends
    });
    end.map_or(text.len(), |(at, _)| at + 1)
}

/// Bytes of raw text, `r"…"` or `r#"…"#` with any number of `#`; `None` if it is none.
pub(crate) fn raw_text_length(text: &str) -> Option<usize> {
    let hashes = text[1..].chars().take_while(|c| *c == '#').count();
    let content = text[1 + hashes..].strip_prefix('"')?;
    let end = format!("\"{}", "#".repeat(hashes));
    let length = content.find(&end).map_or(content.len(), |at| at + end.len());
    Some(text.len() - content.len() + length)
}

/// Bytes of the comment that the text starts with, `// …` up to the end of the line or `/* … */`, which may
/// hold further ones; 0 if it starts with none.
pub(crate) fn comment_length(text: &str) -> usize {
    if text.starts_with("//") {
        return text.find('\n').unwrap_or(text.len());
    }
    if !text.starts_with("/*") {
        return 0;
    }
    let (mut depth, mut at) = (0_usize, 0);
    while let Some(c) = text[at..].chars().next() {
        if text[at..].starts_with("/*") {
            depth += 1;
            at += 2;
        } else if text[at..].starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += c.len_utf8();
        }
    }
    at
}

/// Bytes of white space and comments that the text starts with.
pub(crate) fn trivia_length(text: &str) -> usize {
    let mut at = 0;
    loop {
        let rest = &text[at..];
        let blank = rest.len() - rest.trim_start().len();
        let comment = comment_length(&rest[blank..]);
        at += blank + comment;
        if comment == 0 {
            return at;
        }
    }
}

/// Every comment, from left to right.
pub(crate) fn comments(text: &str) -> Vec<&str> {
    let (mut found, mut at) = (Vec::new(), 0);
    while let Some(c) = text[at..].chars().next() {
        let rest = &text[at..];
        at += match c {
            '"' => quoted_length(rest),
            '/' if comment_length(rest) > 0 => {
                let length = comment_length(rest);
                found.push(rest[..length].trim_end());
                length
            }
            'r' => raw_text_length(rest).unwrap_or(name_length(rest)),
            _ => name_length(rest).max(c.len_utf8()),
        };
    }
    found
}
