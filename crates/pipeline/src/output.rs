//! Where outputs go that the person gave no name.

use std::path::{Path, PathBuf};

/// The folder for outputs, beside what they are made from.
const FOLDER: &str = "out";

/// The file for an output made from `input`, with `suffix` in place of its extension: in the folder `out`
/// beside the input, whatever folder the program was started in; beside it if it lies in such a folder
/// itself, as an output of an output does.
pub fn default_output(input: &Path, suffix: &str) -> PathBuf {
    let stem = input.file_stem().map_or_else(|| "job".into(), |stem| stem.to_string_lossy());
    let beside = input.parent().unwrap_or(Path::new(""));
    let is_output = beside.file_name().is_some_and(|name| name == FOLDER);
    let folder = if is_output { beside.to_owned() } else { beside.join(FOLDER) };
    folder.join(format!("{stem}{suffix}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outputs_lie_together_beside_what_they_are_made_from() {
        let path = |input: &str, suffix| default_output(Path::new(input), suffix);
        assert_eq!(path("jobs/plate.ron", ".hwv"), Path::new("jobs/out/plate.hwv"));
        assert_eq!(path("plate.ron", "_nested.ron"), Path::new("out/plate_nested.ron"));
        assert_eq!(path("jobs/out/plate.hwv", "-7.svg"), Path::new("jobs/out/plate-7.svg"));
        assert_eq!(path("/", ".hwv"), Path::new("out/job.hwv"));
    }
}
