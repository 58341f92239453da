//! `check`: what is wrong with a job or a mesh, in words.

use super::accept::accept;
use super::ready::ready;
use crate::args::CheckArgs;
use crate::console::{accepted_as_json, findings, json, line, sorted, with_progress};
use crate::outcome::{Failure, Outcome};
use base::{Finding, duration};
use mesh::{HealthReport, health};
use pipeline::{
    Build, BuildTime, ShapeLook, Sorted, load_mesh_file, look_at_shape_alone, prove_clearance,
    replace_with_shapes, shape_findings, sorted_by_acceptance,
};
use serde_json::json;

pub(crate) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    if args.file.extension().is_some_and(|extension| extension == "ron") {
        check_job(args)
    } else if args.accept.is_empty() {
        check_mesh(args)
    } else {
        Err(Failure(
            "only a job keeps what is accepted: give --accept with a job (.ron)".to_owned(),
        ))
    }
}

/// Everything the window would find: meshes, sections and paths of all layers, clearances.
fn check_job(args: &CheckArgs) -> Result<Outcome, Failure> {
    let build = ready(&args.file)?;
    let mut found = build.findings.clone();
    let shapes =
        with_progress("Looking at the shapes", |progress| shape_findings(&build.loaded, progress))?;
    replace_with_shapes(&mut found, shapes);
    let mut time = None;
    if !build.must_stop() {
        let survey = with_progress("Looking through all layers", |progress| {
            build.survey(progress, &mut |_| Ok(()))
        })?;
        let layers = survey.layers.iter().map(|layer| layer.time);
        time = Some(BuildTime::of(&build.loaded.machine, layers));
        let layers = build.layer_findings(&survey.report);
        let clearance = with_progress("Proving clearance", |progress| {
            prove_clearance(&build.loaded, progress)
        })?;
        found.extend(layers);
        found.extend(build.heat_findings(&survey));
        found.retain(|finding| !clearance.says(finding));
        found.extend(clearance.findings);
    }
    let mut job = build.loaded.job.clone();
    if !args.accept.is_empty() {
        job = accept(args, &build, &found)?;
    }
    let found = sorted_by_acceptance(&job, found, !build.must_stop());
    say_job(args, &build, time, &found)
}

/// Everything that was found of a job.
fn say_job(
    args: &CheckArgs,
    build: &Build,
    time: Option<BuildTime>,
    found: &Sorted,
) -> Result<Outcome, Failure> {
    if args.json {
        let meshes: Vec<_> = build
            .loaded
            .meshes
            .iter()
            .map(|m| json!({ "file": m.file, "sound": m.health.is_sound(), "health": m.health }))
            .collect();
        json(&json!({
            "layers": build.layer_count(), "meshes": meshes, "time": time,
            "at_commanded_speeds": build.loaded.machine.head.is_none(), "findings": found.open,
            "accepted": accepted_as_json(found)
        }))?;
        return Ok(Outcome::of(&found.open));
    }
    let placements = build.header.placements.len();
    line(&format!(
        "{}: parts: {}, placements: {placements}, layers: {}",
        args.file.display(),
        build.loaded.job.parts.len(),
        build.layer_count()
    ));
    for mesh in &build.loaded.meshes {
        describe(&mesh.file, &mesh.health);
    }
    if let Some(time) = &time {
        say_time(time, build.loaded.machine.head.is_none());
    }
    Ok(sorted(found))
}

/// How long the build takes, and what with.
fn say_time(time: &BuildTime, is_ideal: bool) {
    let parts = time.parts().into_iter().filter(|(_, s)| *s > 0.0);
    let parts: Vec<_> = parts.map(|(name, s)| format!("{name} {}", duration(s))).collect();
    let (all, speeds) = (duration(time.until_done_s()), super::time::speeds(is_ideal));
    line(&format!("time: {all} ({}). {speeds}", parts.join(", ")));
    if time.cooling_s > 0.0 {
        line(&format!("then {} of cooling, unopened", duration(time.cooling_s)));
    }
}

/// Of a mesh alone the question is whether it is sound: the answer counts as a stop finding does.
fn check_mesh(args: &CheckArgs) -> Result<Outcome, Failure> {
    let (imported, reports, looks) = with_progress("Checking", |progress| {
        let imported = load_mesh_file(&args.file, args.unit, progress)?;
        let reports: Vec<HealthReport> = imported
            .objects
            .iter()
            .map(|object| health(&object.mesh, progress))
            .collect::<Result<_, _>>()?;
        let pairs = imported.objects.iter().zip(&reports);
        let looks: Vec<ShapeLook> = pairs
            .map(|(object, health)| look_at_shape_alone(&object.mesh, health, progress))
            .collect::<Result<_, _>>()?;
        Ok::<_, Failure>((imported, reports, looks))
    })?;
    let mut found = imported.findings;
    for ((object, report), look) in imported.objects.iter().zip(&reports).zip(looks) {
        let at_object = |finding: Finding| finding.at_part(name_of(args, &object.name));
        let mut own: Vec<Finding> = report.findings.iter().cloned().map(at_object).collect();
        let shapes = look.findings(None).into_iter().map(at_object).collect();
        replace_with_shapes(&mut own, shapes);
        found.extend(own);
    }
    let is_sound = reports.iter().all(HealthReport::is_sound);
    let outcome = if is_sound { Outcome::of(&found) } else { Outcome::Stopped };
    if args.json {
        let objects: Vec<_> = imported
            .objects
            .iter()
            .zip(&reports)
            .map(|(o, health)| {
                let sound = health.is_sound();
                json!({ "name": o.name, "part_number": o.part_number, "sound": sound, "health": health })
            })
            .collect();
        json(&json!({ "sound": is_sound, "objects": objects, "findings": found }))?;
        return Ok(outcome);
    }
    for (object, report) in imported.objects.iter().zip(&reports) {
        describe(&name_of(args, &object.name), report);
    }
    findings(&found);
    Ok(outcome)
}

/// An object's own name; the file's where it has none, as in STL.
fn name_of(args: &CheckArgs, name: &str) -> String {
    if name.is_empty() { args.file.display().to_string() } else { name.to_owned() }
}

fn describe(name: &str, report: &HealthReport) {
    let sound = if report.is_sound() { "sound" } else { "not sound" };
    let size = report
        .measures
        .bounds_mm
        .map_or([0.0; 3], |(low, high)| [high[0] - low[0], high[1] - low[1], high[2] - low[2]]);
    line(&format!(
        "{name}: {sound}; triangles: {}, shells: {}; {:.2} × {:.2} × {:.2} mm; {:.1} mm³, {:.1} mm²",
        report.triangle_count,
        report.shells.len(),
        size[0],
        size[1],
        size[2],
        report.measures.volume_mm3,
        report.measures.area_mm2
    ));
}
