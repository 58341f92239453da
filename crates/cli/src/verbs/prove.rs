//! `prove`: how far apart the parts of a job are, and whether they come out.

use crate::args::{Clearances, ProveArgs};
use crate::console::{accepted_as_json, json, line, sorted, with_progress};
use crate::outcome::{Failure, Outcome};
use base::PlacementName;
use job::Job;
use nesting::Contact;
use pipeline::{Clearance, load, prove_clearance, sorted_by_acceptance};
use serde_json::{Value, json};

pub(crate) fn run(args: &ProveArgs) -> Result<Outcome, Failure> {
    let (mut found, job) = with_progress("Proving clearance", |progress| {
        let mut loaded = load(&args.job, progress)?;
        apply(&args.clearances, &mut loaded.job)?;
        let mut found = prove_clearance(&loaded, progress)?;
        found.findings.extend(loaded.findings);
        Ok::<_, Failure>((found, loaded.job))
    })?;
    let told = sorted_by_acceptance(&job, std::mem::take(&mut found.findings), false);
    if args.json {
        found.findings.clone_from(&told.open);
        let mut value = as_json(&found);
        value["accepted"] = accepted_as_json(&told).into();
        json(&value)?;
        return Ok(Outcome::of(&told.open));
    }
    show(&found, args.all);
    Ok(sorted(&told))
}

/// Puts the clearances of the command line in place of the job's.
pub(super) fn apply(wanted: &Clearances, job: &mut Job) -> Result<(), Failure> {
    let fields = [
        ("--clearance", wanted.clearance, &mut job.clearances.parts_mm),
        ("--wall", wanted.wall, &mut job.clearances.walls_mm),
    ];
    for (flag, value, field) in fields {
        let Some(value) = value else { continue };
        let allowed = job::Clearances::RANGE_MM;
        if !allowed.contains(&value) {
            let (least, most) = allowed.into_inner();
            let range = format!("at least {least} and at most {most} mm");
            return Err(Failure(format!("{flag} is {value}; it must be {range}")));
        }
        *field = value;
    }
    Ok(())
}

/// Prints what is near what, the nearest first.
pub(super) fn show(found: &Clearance, all: bool) {
    let most = if all { usize::MAX } else { 10 };
    let said = |body: usize| name(found, body).map_or("?".to_owned(), ToString::to_string);
    let (between, walls) = (found.space.clearance_mm, found.space.wall_clearance_mm);
    let pairs = &found.proof.pairs;
    line(&format!(
        "{} placements; pairs nearer than {} mm: {}",
        found.placements.len(),
        2.0 * between,
        pairs.len()
    ));
    for p in pairs.iter().take(most) {
        let [a, b] = p.bodies.map(said);
        let how = match p.contact {
            Contact::Apart => format!("{:.4} mm", p.distance_mm),
            Contact::Touch => "touching".to_owned(),
            Contact::Overlap => "OVERLAP".to_owned(),
        };
        let [p0, p1] = p.points_mm.map(point);
        let mark = if p.violates { "  TOO NEAR" } else { "" };
        line(&format!("  {a} to {b}: {how}, from {p0} to {p1}{mark}"));
    }
    line(&format!("parts nearer than {} mm to a wall: {}", 2.0 * walls, found.proof.walls.len()));
    for w in found.proof.walls.iter().take(most) {
        let mark = if w.violates { "  TOO NEAR" } else { "" };
        line(&format!(
            "  {} to the {}: {:.4} mm, at {}{mark}",
            said(w.body),
            w.wall.name(),
            w.distance_mm,
            point(w.points_mm[0])
        ));
    }
    let hidden = pairs.len().max(found.proof.walls.len());
    if hidden > most {
        line("  (--all lists them all)");
    }
    line(match &found.removal {
        None => "parts overlap, so whether they come out was not asked",
        Some(removal) if removal.is_free() => "every part can be lifted out by straight moves",
        Some(_) => "not every part can be taken out freely",
    });
}

/// What a body of the proof is called.
fn name(found: &Clearance, body: usize) -> Option<&PlacementName> {
    found.placements.get(body).map(|placement| &placement.name)
}

fn point([x, y, z]: [f64; 3]) -> String {
    format!("({x:.3}, {y:.3}, {z:.3})")
}

pub(super) fn as_json(found: &Clearance) -> Value {
    let pairs = found.proof.pairs.iter().map(|p| {
        json!({
            "placements": p.bodies.map(|body| name(found, body)),
            "distance_mm": p.distance_mm,
            "points_mm": p.points_mm,
            "overlap": p.contact == Contact::Overlap,
            "violates": p.violates,
        })
    });
    let walls = found.proof.walls.iter().map(|w| {
        json!({
            "placement": name(found, w.body),
            "wall": w.wall.name(),
            "distance_mm": w.distance_mm,
            "points_mm": w.points_mm,
            "violates": w.violates,
        })
    });
    let order = found.removal.as_ref().map(|r| {
        let one = |(placement, direction): &(usize, [f64; 3])| {
            json!({ "placement": name(found, *placement), "direction": direction })
        };
        r.order.iter().map(one).collect::<Vec<_>>()
    });
    json!({
        "clearance_mm": found.space.clearance_mm,
        "wall_clearance_mm": found.space.wall_clearance_mm,
        "proven": found.proof.holds(),
        "pairs": pairs.collect::<Vec<_>>(),
        "walls": walls.collect::<Vec<_>>(),
        "removal_order": order,
        "findings": found.findings,
    })
}
