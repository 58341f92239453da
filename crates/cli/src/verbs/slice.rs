//! `slice`: the job's sections as 3MF with slice stacks.

use super::ready::ready;
use crate::args::SliceArgs;
use crate::console::{findings, line, whole, with_progress};
use crate::outcome::{Failure, Outcome};
use pipeline::{default_output, write_slices};

pub(crate) fn run(args: &SliceArgs) -> Result<Outcome, Failure> {
    let build = ready(&args.job)?;
    let path = args.out.clone().unwrap_or_else(|| default_output(&args.job, ".3mf"));
    build.loaded.inputs.check(&path)?;
    if build.must_stop() {
        line("Nothing was written: the job has a stop finding.");
        return Ok(findings(&build.findings));
    }
    with_progress("Writing slices", |progress| write_slices(&build, &path, progress))?;
    line(&whole(&path));
    Ok(findings(&build.findings))
}
