//! Words that have served their time do not come back.

use crate::layers::crate_names;
use crate::source::{code_of, rust_files, short, src_of};

/// What was renamed: the old name as a whole word in code, and what it is called now.
const RENAMED: &[(&str, &str)] =
    &[("PlacementRef", "base::PlacementId"), ("turn_deg", "rotation_per_layer_deg")];

#[test]
fn old_names_do_not_come_back() {
    for file in crate_names().flat_map(|name| rust_files(&src_of(name))) {
        if short(&file).contains("upgrade") {
            continue; // reads files of earlier versions, which hold the old names
        }
        let code = code_of(&file);
        let mut words = code.split(|c: char| !c.is_alphanumeric() && c != '_');
        let found = words.find_map(|word| RENAMED.iter().find(|(old, _)| *old == word));
        if let Some((old, new)) = found {
            panic!("{} says {old}, which is now called {new}", short(&file));
        }
    }
}
