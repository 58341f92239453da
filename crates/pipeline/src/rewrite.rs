//! Jobs, machines and recipes written where there may be a file already, so that nothing a person wrote is
//! lost.

use crate::inputs::Inputs;
use crate::write::{OutputError, write_atomically, write_text};
use job::{TextFile, loses_comments};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Writes a job, machine or recipe to a temporary file beside `path`, then renames it. Comments and layout
/// are those of `like`, or of the text that is there.
///
/// `known` is what the caller last read from the file or wrote to it. If the file holds something else, or
/// comments that would be lost, it is kept: beside it, under the first free one of `NAME.old`, `NAME.old-2`
/// and so on. No copy is ever written over; where one is the same already, no further one is made. Returns
/// the copy, if one was made.
///
/// # Errors
/// If one of the files cannot be written. What was there is then as it was.
pub fn write_over<T: TextFile>(
    value: &T,
    known: Option<&T>,
    like: Option<&str>,
    path: &Path,
) -> Result<Option<PathBuf>, OutputError> {
    Inputs::default().check(path)?;
    let there = std::fs::read(path).ok();
    let text_there = there.as_deref().and_then(|bytes| std::str::from_utf8(bytes).ok());
    let text = value.to_ron_over(like.or(text_there).unwrap_or_default());
    let is_known = |held: &str| known.is_some() && T::from_ron(held).ok().as_ref() == known;
    let is_spare = |held: &str| held == text || is_known(held) && !loses_comments(held, &text);
    let kept = match &there {
        Some(bytes) if !text_there.is_some_and(is_spare) => keep(path, bytes)?,
        Some(_) | None => None,
    };
    write_text(path, &text)?;
    Ok(kept)
}

/// Puts a copy beside the file, unless there is one.
fn keep(path: &Path, bytes: &[u8]) -> Result<Option<PathBuf>, OutputError> {
    let named = |number: usize| {
        let mut name = path.as_os_str().to_owned();
        name.push(if number == 1 { ".old".to_owned() } else { format!(".old-{number}") });
        PathBuf::from(name)
    };
    for copy in (1..).map(named) {
        match std::fs::read(&copy) {
            Ok(held) if held == bytes => return Ok(None),
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                write_atomically(&copy, &Inputs::default(), |file| {
                    let io = |source| OutputError::Io { path: copy.clone(), source };
                    file.write_all(bytes).map_err(io)
                })?;
                return Ok(Some(copy));
            }
            Err(source) => return Err(OutputError::Io { path: copy, source }),
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::Machine;

    fn machine() -> (String, Machine) {
        let path =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/machines/bench_co2_30w.ron");
        let text = std::fs::read_to_string(path).unwrap();
        let machine = Machine::from_ron(&text).unwrap();
        (text, machine)
    }

    #[test]
    fn a_known_file_is_changed_in_place_and_no_copy_is_made() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("m.ron");
        let (text, mut machine) = machine();
        std::fs::write(&path, &text).unwrap();
        for time in [8.0, 9.0] {
            let known = machine.clone();
            machine.recoat_time_s = time;
            assert_eq!(write_over(&machine, Some(&known), None, &path).unwrap(), None);
        }
        let held = std::fs::read_to_string(&path).unwrap();
        assert!(held != text && !loses_comments(&text, &held));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_would_be_lost_is_kept_and_no_copy_is_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let path = at("m.ron");
        let (text, machine) = machine();
        let foreign = |held: &[u8]| {
            std::fs::write(&path, held).unwrap();
            write_over(&machine, Some(&machine), None, &path).unwrap()
        };
        let other = text.replace("recoat_time_s: ", "recoat_time_s: 1");
        assert_ne!(other, text);
        assert_eq!(foreign(other.as_bytes()), Some(at("m.ron.old")), "changed by somebody else");
        assert_eq!(foreign(b"\xff\x00 no text"), Some(at("m.ron.old-2")));
        assert_eq!(foreign(other.as_bytes()), None, "there is a copy of that already");
        std::fs::write(&path, &text).unwrap();
        assert_eq!(
            write_over(&machine, Some(&machine), Some(""), &path).unwrap(),
            Some(at("m.ron.old-3"))
        );
        let held = |name: &str| std::fs::read(at(name)).unwrap();
        assert_eq!(held("m.ron.old"), other.as_bytes());
        assert_eq!(held("m.ron.old-2"), b"\xff\x00 no text");
        assert_eq!(held("m.ron.old-3"), text.as_bytes());
    }
}
