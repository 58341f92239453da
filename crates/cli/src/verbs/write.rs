//! `write`: job in, vector file out.

use super::ready::ready;
use crate::args::WriteArgs;
use crate::console::{default_out, findings, json, line, with_progress};
use crate::outcome::{Failure, Outcome};
use pipeline::{Written, write_vector_file};
use serde_json::json;

pub(crate) fn run(args: &WriteArgs) -> Result<Outcome, Failure> {
    if let Some(threads) = args.threads {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build_global()?;
    }
    let build = ready(&args.job)?;
    if build.must_stop() {
        if args.json {
            json(&json!({ "written": null, "findings": build.findings }))?;
            return Ok(Outcome::Stopped);
        }
        line("Nothing was written: the job has a stop finding.");
        return Ok(findings(&build.findings));
    }
    let path = args.out.clone().unwrap_or_else(|| default_out(&args.job, ".hwv"));
    let Written { totals, report } =
        with_progress("Writing layers", |progress| write_vector_file(&build, &path, progress))?;
    let mut found = build.findings.clone();
    found.extend(build.layer_findings(&report));
    if args.json {
        json(&json!({ "written": path, "totals": totals, "findings": found }))?;
        return Ok(Outcome::of(&found));
    }
    line(&format!("{}: {} layers", path.display(), build.layer_count()));
    line(&format!(
        "  marks  {:>11}, {:.3} m in all",
        totals.stats.marks,
        totals.stats.mark_length_mm() / 1000.0
    ));
    line(&format!(
        "  paths  {:>11}, {:.3} m of jumps between them, {:.1} % of the marks' length",
        totals.stats.paths,
        totals.stats.jump_length_mm() / 1000.0,
        100.0 * totals.stats.jump_length_mm()
            / totals.stats.mark_length_mm().max(f64::MIN_POSITIVE)
    ));
    let outcome = findings(&found);
    match outcome {
        Outcome::Done => {}
        Outcome::Stopped => line(
            "The file was written all the same. Put the stop findings right and write it anew \
             before any controller runs it.",
        ),
    }
    Ok(outcome)
}
