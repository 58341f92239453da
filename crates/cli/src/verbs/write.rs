//! `write`: job in, vector file out.

use super::ready::ready;
use crate::args::WriteArgs;
use crate::console::{SAFETY, accepted_as_json, json, line, sorted, whole, with_progress};
use crate::outcome::{Failure, Outcome};
use pipeline::{
    Build, Judged, Sorted, Stops, default_output, not_fit, prove_clearance, sorted_by_acceptance,
    write_judged,
};
use scan_path::{LeftOut, Totals};
use serde_json::json;
use std::path::Path;

pub(crate) fn run(args: &WriteArgs) -> Result<Outcome, Failure> {
    if let Some(threads) = args.threads {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build_global()?;
    }
    let mut build = ready(&args.job)?;
    leave_out(args, &mut build)?;
    // a part of a build does not go where all of it is looked for
    let ending = match (args.from_layer, args.without.is_empty()) {
        (Some(layer), _) => format!(".from-{layer}.hwv"),
        (None, true) => ".hwv".to_owned(),
        (None, false) => ".without.hwv".to_owned(),
    };
    let path = args.out.clone().unwrap_or_else(|| default_output(&args.job, &ending));
    build.loaded.inputs.check(&path)?;
    let stops = if args.despite_stops {
        build.loaded.inputs.check(&not_fit(&path))?;
        Stops::NameNotFit
    } else {
        Stops::Refuse
    };
    let clearance = if args.unproven {
        None
    } else {
        Some(with_progress("Proving clearances", |progress| {
            prove_clearance(&build.loaded, progress)
        })?)
    };
    let proven = clearance.iter().flat_map(|c| c.findings.iter().cloned()).collect();
    // What is accepted of the arrangement stops nothing.
    let proven = sorted_by_acceptance(&build.loaded.job, proven, false);
    build.findings.extend(proven.open);
    let mut judged =
        with_progress("Writing layers", |progress| write_judged(&build, &path, stops, progress))?;
    // Said once, by the proof.
    judged.findings.retain(|finding| !clearance.as_ref().is_some_and(|c| c.says(finding)));
    let all = std::mem::take(&mut judged.findings);
    let mut found = sorted_by_acceptance(&build.loaded.job, all, false);
    found.accepted.extend(proven.accepted);
    if args.json {
        let Judged { file, totals, .. } = &judged;
        let (findings, accepted) = (&found.open, accepted_as_json(&found));
        json(
            &json!({ "written": file, "totals": totals, "findings": findings, "accepted": accepted }),
        )?;
        return Ok(Outcome::of(findings));
    }
    Ok(say(&path, &build, &judged, &found))
}

/// What was written, or was not, and all that was found.
fn say(path: &Path, build: &Build, judged: &Judged, found: &Sorted) -> Outcome {
    if let (Some(file), Some(totals)) = (&judged.file, &judged.totals) {
        show(file, build, totals);
    }
    let outcome = sorted(found);
    match (&outcome, &judged.file) {
        (Outcome::Done, _) => line(SAFETY),
        (Outcome::Stopped, Some(file)) => line(&format!(
            "Not fit to be built, and named so: {}. Put the stop findings right and write it anew before \
             any controller runs it.",
            whole(file)
        )),
        (Outcome::Stopped, None) => line(&refused(path)),
    }
    outcome
}

/// What the layers are not to hold.
fn leave_out(args: &WriteArgs, build: &mut Build) -> Result<(), Failure> {
    let layers = build.layer_count();
    if let Some(layer) = args.from_layer {
        if layer >= layers {
            return Err(Failure(format!(
                "there is no layer {layer}: the job has {layers}, from 0"
            )));
        }
        build.leave_out(LeftOut { placement: None, from_layer: 0, below_layer: Some(layer) });
    }
    for name in &args.without {
        let Some(row) = build.row_named(name) else {
            let one = build.header.placement_name(0);
            return Err(Failure(format!("no placement is called \"{name}\"; one is \"{one}\"")));
        };
        let from_layer = args.from_layer.unwrap_or(0);
        build.leave_out(LeftOut { placement: Some(row), from_layer, below_layer: None });
    }
    Ok(())
}

fn refused(path: &Path) -> String {
    let older = if path.exists() {
        format!(" {} is older, and of a job that may have been another.", whole(path))
    } else {
        String::new()
    };
    format!(
        "Nothing was written: the job has a stop finding. Put it right, or write the file in spite of it, \
         as {}, with --despite-stops.{older}",
        whole(&not_fit(path))
    )
}

fn show(path: &Path, build: &Build, totals: &Totals) {
    line(&format!("{}: {} layers", whole(path), build.layer_count()));
    for left_out in build.header.left_out_words() {
        line(&format!("  {left_out}"));
    }
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
}
