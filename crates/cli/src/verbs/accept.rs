//! What a person takes as it is, with a reason, into the job.

use crate::args::CheckArgs;
use crate::console::{line, whole};
use crate::outcome::Failure;
use base::{Finding, Kind, Severity};
use job::{Acceptance, Job};
use pipeline::{Build, write_over};

/// Accepts in a job what the command line names among what was found, and writes the job anew, with its
/// comments. The job with what it accepts.
///
/// # Errors
/// If nothing of the kind was found there, if it may not be accepted, or if the job cannot be written: then
/// it is as it was.
pub(super) fn accept(args: &CheckArgs, build: &Build, found: &[Finding]) -> Result<Job, Failure> {
    let job = &build.loaded.job;
    let top = build.layer_count().saturating_sub(1);
    let layers = args.layers.map(|(first, last)| (first, last.unwrap_or(top)));
    let mut changed = job.clone();
    let reason = args.reason.as_deref().unwrap_or_default();
    for text in &args.accept {
        accept_one(text, (layers, reason), &mut changed, found)?;
    }
    if let Err(problems) = changed.validate() {
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        return Err(Failure(format!("nothing was accepted: {}", told.join(". "))));
    }
    let kept = write_over(&changed, Some(job), None, &args.file)?;
    if !args.json {
        line(&format!("Accepted, and kept in the job: {}", whole(&args.file)));
        if let Some(copy) = kept {
            line(&format!("What it held before is kept: {}", whole(&copy)));
        }
    }
    Ok(changed)
}

fn accept_one(
    text: &str,
    (layers, reason): (Option<(u32, u32)>, &str),
    job: &mut Job,
    found: &[Finding],
) -> Result<(), Failure> {
    let (name, place) = text.split_once(':').map_or((text, None), |(k, place)| (k, Some(place)));
    let Some(kind) = Kind::from_name(name.trim()) else {
        let sentence = format!("no finding is of a kind {name:?}; --json names the kind of each");
        return Err(Failure(sentence));
    };
    let reason = reason.to_owned();
    let mut new = Acceptance { kind, placement: None, layers, says: None, reason };
    let part = place.map(str::trim).and_then(|place| at(job, place, &mut new));
    let entry = part.map(|part| &job.parts[part]);
    // what is told of a recipe or machine, which is no part, is told by its file
    let is_there = |finding: &&Finding| match (place.map(str::trim), part) {
        (Some(file), None) => finding.place.part() == Some(file),
        _ => true,
    };
    let covered = found.iter().filter(|finding| new.covers(finding, entry)).filter(is_there);
    let covered: Vec<&Finding> = covered.collect();
    if covered.is_empty() {
        return Err(Failure(nothing_there(kind, text, found)));
    }
    if let Some(never) = covered.iter().find(|finding| !finding.is_acceptable()) {
        return Err(Failure(format!(
            "this cannot be accepted, since what is built would be false or cannot be built: {never}"
        )));
    }
    let is_stop = covered.iter().any(|finding| finding.severity() == Severity::Stop);
    if is_stop || place.is_some() && part.is_none() {
        job.accept(covered, &new.reason); // as they are worded now
        return Ok(());
    }
    let list = match part.and_then(|part| job.parts.get_mut(part)) {
        Some(part) => &mut part.accepted,
        None => &mut job.accepted,
    };
    let place = |of: &Acceptance| (of.kind, of.placement, of.layers, of.says.clone());
    list.retain(|known| place(known) != place(&new));
    list.push(new);
    Ok(())
}

/// The part that a place names: by a placement, which goes to the acceptance, by its own name, or by its mesh.
fn at(job: &Job, place: &str, new: &mut Acceptance) -> Option<usize> {
    let is_named = |part: &job::PartEntry| part.name == place;
    if let Some(part) = job.parts.iter().position(is_named) {
        return Some(part);
    }
    let mut all = job.placements().map(|(id, _)| id);
    let is_it = |id: &base::PlacementId| {
        job.placement_name(*id).is_some_and(|name| name.to_string() == place)
    };
    if let Some(id) = all.find(is_it) {
        new.placement = u32::try_from(id.copy).ok();
        return Some(id.part);
    }
    job.parts.iter().position(|part| part.mesh == place)
}

fn nothing_there(kind: Kind, text: &str, found: &[Finding]) -> String {
    let of_kind = found.iter().filter(|finding| finding.kind() == kind);
    let mut places: Vec<String> = of_kind.map(|finding| finding.place.to_string()).collect();
    places.dedup();
    places.truncate(10);
    if places.is_empty() {
        return format!("nothing was found of the kind {kind}, so that there is nothing to accept");
    }
    format!("nothing was found at {text:?}; of this kind there is: {}", places.join("; "))
}
