//! `time`: how long a build takes, and what it would take if a few things were otherwise.

mod layer;

use super::ready::ready;
use crate::args::TimeArgs;
use crate::console::{json, line, with_progress};
use crate::outcome::{Failure, Outcome};
use base::duration;
use pipeline::{Build, BuildTime, Sample, TimeEstimate, TimeVariant, least_jumps_s, time_variants};
use serde_json::json;

pub(crate) fn run(args: &TimeArgs) -> Result<Outcome, Failure> {
    let build = ready(&args.job)?;
    if let Some(layer) = args.layer {
        return layer::run(args, &build, layer);
    }
    let sample = Sample::of(&build, args.every);
    let work = |progress: &base::Progress| time_variants(&build, sample, progress);
    let variants = with_progress("Looking at layers", work)?;
    let work = |progress: &base::Progress| least_jumps_s(&build, sample, progress);
    let least_s = args.least.then(|| with_progress("Looking for the shortest jumps", work));
    let least_s = least_s.transpose()?;
    let is_ideal = build.loaded.machine.head.is_none();
    if args.json {
        let rows = variants.iter().map(|v| json!({ "change": v.change, "estimate": v.estimate }));
        let variants: Vec<_> = rows.collect();
        json(&json!({
            "at_commanded_speeds": is_ideal,
            "variants": variants,
            "least_jumps_s": least_s,
        }))?;
        return Ok(Outcome::Done);
    }
    table(&variants);
    if let Some(first) = variants.first() {
        line(&how_sure(&first.estimate, &build));
    }
    if let Some(least_s) = least_s {
        line(&format!(
            "No order of the paths within their blocks has jumps of less than {}: every path but the first is \
             entered from another, at best by the shortest jump there is to it.",
            duration(least_s)
        ));
    }
    line(&speeds(is_ideal));
    Ok(Outcome::Done)
}

/// How many layers the times were taken from, and how far off they may be.
fn how_sure(estimate: &TimeEstimate, build: &Build) -> String {
    let (looked_at, count) = (estimate.layers, build.layer_count());
    if looked_at == count {
        return format!("All {count} layers were computed.");
    }
    format!(
        "From {looked_at} of {count} layers: the first line may be off by {} (twice the standard error of such a \
         sample); --every 1 computes all of them.",
        duration(estimate.within_s)
    )
}

/// What the times are of.
pub(super) fn speeds(is_ideal: bool) -> String {
    if is_ideal {
        "At commanded speeds: the machine does not say how its mirrors move, and real ones need longer."
            .to_owned()
    } else {
        "With mirrors that move as the machine says.".to_owned()
    }
}

/// A column: its title, and what it shows.
type Column = (&'static str, fn(&BuildTime) -> f64);

const COLUMNS: [Column; 7] = [
    ("warm-up", |t| t.warm_up_s),
    ("spreading", |t| t.recoat_s),
    ("light on", |t| t.exposure_s),
    ("jumps", |t| t.jumps_s),
    ("settling", |t| t.settling_s),
    ("waiting", |t| t.waiting_s),
    ("in all", BuildTime::until_done_s),
];

fn table(variants: &[TimeVariant]) {
    let widest = variants.iter().map(|v| v.change.chars().count()).max().unwrap_or(0);
    let titles = COLUMNS.map(|(title, _)| format!("{title:>11}")).concat();
    line(&format!("{:widest$}{titles}  change", ""));
    let first = variants.first().map_or(0.0, |v| v.estimate.time.until_done_s());
    for variant in variants {
        let cells =
            COLUMNS.map(|(_, of)| format!("{:>11}", duration(of(&variant.estimate.time)))).concat();
        let by = variant.estimate.time.until_done_s() - first;
        let sign = if by < 0.0 { "−" } else { "+" };
        line(&format!("{:widest$}{cells}  {sign}{}", variant.change, duration(by.abs())));
    }
}
