//! `verify`: is the file whole, and does it make the job's parts?

use super::ready::ready;
use crate::args::VerifyArgs;
use crate::console::{SAFETY, findings, json, line, whole, with_progress};
use crate::outcome::{Failure, Outcome};
use pipeline::{verify_against, verify_alone};
use serde_json::json;

pub(crate) fn run(args: &VerifyArgs) -> Result<Outcome, Failure> {
    let verdict = match &args.job {
        Some(job) => {
            let build = ready(job)?;
            let mut verdict = with_progress("Verifying layers", |progress| {
                verify_against(&args.file, &build, progress)
            })?;
            // What is wrong with the job itself is as much in the way as what is wrong with the file.
            verdict.findings.extend(build.findings);
            verdict
        }
        None => with_progress("Checking", |progress| verify_alone(&args.file, progress))?,
    };
    if args.json {
        json(&json!({
            "file": args.file,
            "verified": verdict.is_verified(),
            "against_job": args.job,
            "layers": verdict.layers,
            "points_tested": verdict.points_tested,
            "thin_unexposed_mm2": verdict.thin_unexposed_mm2,
            "left_out": verdict.left_out,
            "findings": verdict.findings,
        }))?;
        return Ok(Outcome::of(&verdict.findings));
    }
    let ended = findings(&verdict.findings);
    let file = whole(&args.file);
    if !verdict.is_verified() {
        line(&format!("{file}: NOT verified. Do not run it."));
    } else if args.job.is_some() {
        line(&format!(
            "{file}: verified against the job. {} layers, {} points tested; {:.2} mm² of corners \
             and walls narrower than the beam, summed over layers, remain unexposed.",
            verdict.layers, verdict.points_tested, verdict.thin_unexposed_mm2
        ));
    } else {
        line(&format!(
            "{file}: whole. {} layers. Add --job to verify its content.",
            verdict.layers
        ));
    }
    for left_out in &verdict.left_out {
        line(&format!("  On purpose, the file says: {left_out}."));
    }
    line(SAFETY);
    Ok(ended)
}
