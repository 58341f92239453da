//! Tests of the crate as a whole, and what the tests of its files share.

mod arrangements;
mod judge;
mod motion;
mod oracle;
pub(crate) mod samples;
mod separation;

/// What the rooms say of themselves: the judge knows the moves' distance and nothing of the search, and
/// the moves know neither the search nor the judge.
#[test]
fn judge_and_moves_import_nothing_of_the_search() {
    let judge = [
        include_str!("../judge/mod.rs"),
        include_str!("../judge/figures.rs"),
        include_str!("../judge/proof.rs"),
        include_str!("../judge/removal.rs"),
    ];
    let exact = [
        include_str!("../exact/mod.rs"),
        include_str!("../exact/distance.rs"),
        include_str!("../exact/linear_program.rs"),
        include_str!("../exact/motion.rs"),
        include_str!("../exact/motion/path.rs"),
        include_str!("../exact/placed_bodies.rs"),
        include_str!("../exact/separation.rs"),
        include_str!("../exact/slide.rs"),
        include_str!("../exact/touching.rs"),
    ];
    let imports = |source: &'static str| {
        source.lines().map(str::trim).filter(|line| line.starts_with("use "))
    };
    for line in judge.into_iter().chain(exact).flat_map(imports) {
        assert!(!line.contains("search"), "{line}");
    }
    for line in judge.into_iter().flat_map(imports).filter(|line| line.contains("exact")) {
        assert!(line.starts_with("use crate::exact::distance::"), "{line}");
    }
    for line in exact.into_iter().flat_map(imports) {
        assert!(!line.contains("judge"), "{line}");
    }
}
