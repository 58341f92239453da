//! Encodings of text files: UTF-8 is read, with or without a mark.

use super::error::ImportError;

/// The text without the mark that some editors put before UTF-8.
pub(super) fn without_mark(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)
}

/// An error if a text begins like UTF-16 or UTF-32, which are read nowhere but in 3MF.
pub(super) fn refuse_wide_text(bytes: &[u8], expected: &'static str) -> Result<(), ImportError> {
    let is_wide = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] | [0, 0, 0xfe, 0xff, ..] => true,
        [a, 0, b, 0, ..] | [0, a, 0, b, ..] => a.is_ascii_graphic() && b.is_ascii(),
        _ => false,
    };
    let reason = "its text is UTF-16 or UTF-32; save it as UTF-8 or ASCII".to_owned();
    if is_wide { Err(ImportError::WrongFormat { expected, reason }) } else { Ok(()) }
}
