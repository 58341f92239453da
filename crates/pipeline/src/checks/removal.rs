//! Whether every part can be taken out of the part cake.

use base::finding::ArrangementProblem;
use base::{Finding, NamedPlacement};
use nesting::{Hold, Removal};

/// What holds parts; `placements` are the bodies of the removal, in order.
pub(crate) fn removal(removal: &Removal, placements: &[NamedPlacement]) -> Vec<Finding> {
    let trapped = removal.trapped.iter().filter_map(|trapped| {
        let names = trapped.by.iter().filter_map(|body| placements.get(*body));
        let by = names.map(|placement| placement.name.clone()).collect();
        let problem = match trapped.hold {
            Hold::Enclosed => ArrangementProblem::Enclosed { by },
            Hold::Hooked => ArrangementProblem::Hooked { by },
            Hold::Threaded => ArrangementProblem::Threaded { by },
            Hold::Held => ArrangementProblem::Held { by },
        };
        Some(Finding::new(problem).at_placement(placements.get(trapped.body)?.clone()))
    });
    trapped.collect()
}
