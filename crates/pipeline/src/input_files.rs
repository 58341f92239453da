//! Opening the files that people name: regular files only, and no more of them than stated limits.

use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// The environment variable that multiplies every limit.
pub(crate) const LIMITS_VARIABLE: &str = "HATCHWRIGHT_LIMITS";

/// Most bytes of a job, machine or recipe: the text of some 200,000 placements.
const MOST_TEXT_BYTES: u64 = 32 << 20;

/// How many times as much as usual files may hold: what the person has set, from 1 to 1,000, or 1.
pub(crate) fn limit_factor() -> f64 {
    let set = std::env::var(LIMITS_VARIABLE).ok().and_then(|text| text.trim().parse::<f64>().ok());
    set.filter(|factor| factor.is_finite()).map_or(1.0, |factor| factor.clamp(1.0, 1000.0))
}

/// A limit of a number of things, as raised by the person.
pub(crate) fn raised(limit: u64) -> u64 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
    let raised = (limit as f64 * limit_factor()) as u64;
    raised
}

/// Opens a regular file, or a link to one; its length in bytes, too. Nothing else is opened: a pipe waits
/// for somebody to write, and a device may never end.
pub(crate) fn open(path: &Path) -> io::Result<(File, u64)> {
    refuse_irregular(&std::fs::metadata(path)?)?;
    let file = File::open(path)?;
    let found = file.metadata()?;
    refuse_irregular(&found)?; // another file may have taken its place
    Ok((file, found.len()))
}

fn refuse_irregular(found: &std::fs::Metadata) -> io::Result<()> {
    let error = |what| Err(io::Error::new(ErrorKind::InvalidInput, what));
    if found.is_dir() {
        return error("it is a folder");
    }
    if !found.is_file() {
        return error("it is a pipe or a device; copy what it gives into a file");
    }
    Ok(())
}

/// Why a text could not be read.
pub(crate) enum TextError {
    /// The system, or the encoding.
    Io(io::Error),
    /// It is longer than so many bytes.
    TooLong(u64),
}

/// Reads a text in UTF-8, with or without a mark before it.
pub(crate) fn read_text(path: &Path) -> Result<String, TextError> {
    let most = raised(MOST_TEXT_BYTES);
    let (file, length) = open(path).map_err(TextError::Io)?;
    let mut bytes = Vec::new();
    if length <= most {
        file.take(most + 1).read_to_end(&mut bytes).map_err(TextError::Io)?;
    }
    if length.max(bytes.len() as u64) > most {
        return Err(TextError::TooLong(most));
    }
    let wide = bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]);
    let with_zeros = bytes.get(..4).is_some_and(|start| start.contains(&0));
    if wide || with_zeros {
        return Err(encoding("its text is UTF-16 or UTF-32; save it as UTF-8".to_owned()));
    }
    String::from_utf8(bytes).map_err(|error| {
        let valid = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..valid].split(|b| *b == b'\n').count();
        encoding(format!("line {line} has a letter that is not UTF-8; save the file as UTF-8"))
    })
}

fn encoding(what: String) -> TextError {
    TextError::Io(io::Error::new(ErrorKind::InvalidData, what))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(bytes: &[u8]) -> String {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), bytes).unwrap();
        match read_text(file.path()) {
            Ok(text) => text,
            Err(TextError::Io(error)) => error.to_string(),
            Err(TextError::TooLong(most)) => format!("more than {most}"),
        }
    }

    #[test]
    fn texts_in_other_encodings_and_too_long_ones_are_named() {
        assert_eq!(said("(name: \"Zahnrad ö\")".as_bytes()), "(name: \"Zahnrad ö\")");
        assert!(said(b"\xff\xfe(\0").contains("UTF-16"));
        assert!(said(b"(\0n\0").contains("UTF-16"));
        assert!(said(b"(\n\nname: \"\xf6\")").contains("line 3"));
        let most = usize::try_from(MOST_TEXT_BYTES).unwrap();
        assert!(said(&vec![b' '; most + 1]).contains("more than"));
    }

    #[cfg(unix)]
    #[test]
    fn only_regular_files_are_opened() {
        let error = |path: &str| open(Path::new(path)).unwrap_err().to_string();
        assert!(error("/dev/zero").contains("device"));
        assert!(error("/").contains("folder"));
        assert!(error("/no/such/file").contains("No such file"));
    }
}
