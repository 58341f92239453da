//! What nesting could not place.

use base::Finding;
use base::finding::JobProblem;
use job::Job;
use nesting::Arrangement;

/// For each part with copies that fit no build.
pub(crate) fn unplaced(job: &Job, arrangement: &Arrangement) -> Vec<Finding> {
    let parts = job.parts.iter().enumerate();
    parts
        .filter_map(|(part, entry)| {
            let copies = arrangement.unplaced.iter().filter(|copy| copy.item == part).count();
            let problem = JobProblem::Unplaced { copies: copies as u64 };
            (copies > 0).then(|| Finding::new(problem).at_part(&entry.name))
        })
        .collect()
}

/// For a selection that does not fit around all the rest.
pub(crate) fn selection_does_not_fit() -> Finding {
    Finding::new(JobProblem::SelectionDoesNotFit)
}
