//! A part of the mutation campaign: every kind of fault once. `examples/mutations.rs` runs all.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod campaign;

use campaign::{Kind, cases, table, trial};

#[test]
fn files_as_written_pass_and_harmful_changes_are_found() {
    let cases = cases();
    let mut trials = Vec::new();
    for &kind in Kind::ALL {
        let found = (0..200).find_map(|seed| trial(&cases, kind, seed));
        trials.push(found.unwrap_or_else(|| panic!("no case has anything for {kind:?}")));
    }
    let missed: Vec<String> =
        trials.iter().filter(|t| t.is_missed()).map(campaign::Trial::describe).collect();
    assert!(missed.is_empty(), "{}\n{}", missed.join("\n"), table(&trials));
    for case in &cases {
        let findings = campaign::untouched(case).findings;
        assert!(findings.is_empty(), "{}: {findings:?}", case.name);
    }
}
