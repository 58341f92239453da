//! `nest`: parts of a job into the build space, and the proof that they are clear of each other.

use super::prove::{apply, as_json, show};
use crate::args::{NestArgs, Objective};
use crate::console::{findings, json, line, whole, with_progress};
use crate::outcome::{Failure, Outcome};
use base::Finding;
use nesting::Figures;
use pipeline::{
    Before, Clearance, Ended, Loaded, NestRequest, Nested, SoFar, default_output, index_meshes,
    load, nest_job, prove_written_job, write_job,
};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::time::Instant;

pub(crate) fn run(args: &NestArgs) -> Result<Outcome, Failure> {
    if args.time.is_some_and(|s| !(0.0..=1e6).contains(&s)) {
        return Err(Failure("--time must be at least 0 and at most 1000000 seconds".to_owned()));
    }
    if let Some(threads) = args.threads {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build_global()?;
    }
    let mut loaded =
        with_progress("Reading the job and its meshes", |progress| load(&args.job, progress))?;
    apply(&args.clearances, &mut loaded.job)?;
    let first = args.out.clone().unwrap_or_else(|| default_output(&args.job, "_nested.ron"));
    (0..args.builds.clamp(1, 100))
        .try_for_each(|number| loaded.inputs.check(&numbered(&first, number)))?;
    with_progress("Getting the meshes ready", |progress| index_meshes(&loaded, progress))?;
    let start = Instant::now();
    let nested = search(args, &loaded, start)?;
    if !args.json {
        line(&format!(
            "{:7.1} s: nesting has ended; what it found is written, read back and proven",
            start.elapsed().as_secs_f64()
        ));
    }
    let builds = write_builds(args, &loaded, &first, &nested)?;
    let mut found: Vec<Finding> = loaded.findings.clone();
    found.extend(nested.findings.iter().cloned());
    found.extend(builds.iter().flat_map(|build| build.proven.findings.iter().cloned()));
    if args.json {
        json(&nested_as_json(&nested, &builds, &found))?;
        return Ok(Outcome::of(&found));
    }
    for Written { path, proven, figures: f } in &builds {
        line(&format!("{}: {:.2} mm high, {} layers", whole(path), f.height_mm, f.layers));
        line(&format!(
            "  parts fill {:.2} % of platform × height ({:.1} cm³); clearance counts as empty",
            100.0 * f.density,
            f.volume_mm3 / 1000.0
        ));
        show(proven, args.all);
    }
    summary(&nested, loaded.machine.recoat_time_s);
    Ok(findings(&found))
}

/// The job of one build, written, and what was found of it.
struct Written<'a> {
    path: PathBuf,
    proven: Clearance,
    figures: &'a Figures,
}

/// Writes the job of every build, and proves what was written, read back. The meshes are those that are
/// there already.
fn write_builds<'a>(
    args: &NestArgs,
    loaded: &Loaded,
    first: &Path,
    nested: &'a Nested,
) -> Result<Vec<Written<'a>>, Failure> {
    let from = args.job.parent().unwrap_or(Path::new(""));
    let builds = nested.jobs.iter().zip(&nested.figures).enumerate();
    builds
        .filter(|(_, (job, _))| !job.parts.is_empty())
        .map(|(number, (job, figures))| {
            let path = numbered(first, number);
            write_job(job, from, &path, &loaded.inputs)?;
            let proven = with_progress("Proving what was written", |progress| {
                prove_written_job(&path, loaded, progress)
            })?;
            Ok(Written { path, proven, figures })
        })
        .collect()
}

fn nested_as_json(nested: &Nested, builds: &[Written], found: &[Finding]) -> Value {
    let builds = builds.iter().map(|Written { path, proven, figures: f }| {
        json!({
            "job": path,
            "placements": proven.placements.len(),
            "height_mm": f.height_mm,
            "density": f.density,
            "layers": f.layers,
            "volume_mm3": f.volume_mm3,
            "area_mm2": f.area_mm2,
            "clearance": as_json(proven),
        })
    });
    json!({
        "converged": nested.ended == Ended::Converged,
        "stopped": nested.ended == Ended::Stopped,
        "builds": builds.collect::<Vec<_>>(),
        "layers_before": match nested.before {
            Before::Placements(n) | Before::Boxes(n) => Some(n),
            Before::Nothing => None,
        },
        "findings": found,
    })
}

/// Runs the search, with a time limit if there is one.
fn search(args: &NestArgs, loaded: &Loaded, start: Instant) -> Result<Nested, Failure> {
    let request = NestRequest {
        only: None,
        compact: args.compact,
        seconds: args.time,
        seed: args.seed,
        even_area: match args.objective {
            Objective::Even => true,
            Objective::Height => false,
        },
        max_builds: args.builds,
        patience: args.patience,
    };
    with_progress("Nesting", |progress| {
        let mut report = |so_far: &SoFar| {
            let a = so_far.arrangement;
            if !args.json {
                let (builds, s) = (a.builds.len(), a.summary);
                let unplaced = a.unplaced.len();
                line(&format!(
                    "{:7.1} s: {builds} build(s), {:.2} mm in all, density {:.4}{}",
                    start.elapsed().as_secs_f64(),
                    s.total_height_mm,
                    s.density,
                    if unplaced > 0 {
                        format!(", {unplaced} copies unplaced")
                    } else {
                        String::new()
                    }
                ));
            }
            true
        };
        Ok(nest_job(loaded, &request, progress, &mut report)?)
    })
}

/// The file of a build: the name as given, then with -2, -3 …
fn numbered(first: &Path, number: usize) -> PathBuf {
    if number == 0 {
        return first.to_owned();
    }
    let stem = first.file_stem().unwrap_or_default().to_string_lossy();
    first.with_file_name(format!("{stem}-{}.ron", number + 1))
}

fn summary(nested: &Nested, recoat_s: f64) {
    let now: u32 = nested.figures.iter().map(|f| f.layers).sum();
    let (before, of) = match nested.before {
        Before::Placements(n) => (n, "the placements that the job had"),
        Before::Boxes(n) => (n, "their bounding boxes packed alike"),
        Before::Nothing => (now, "nothing to compare with"),
    };
    let saved = i64::from(before) - i64::from(now);
    let (by, word) = (saved.unsigned_abs(), if saved < 0 { "more" } else { "less" });
    let minutes = recoat_s * by as f64 / 60.0;
    line(&format!(
        "{now} layers against {before} of {of}: {by} layers {word}, {minutes:.0} min of recoating"
    ));
    match nested.ended {
        Ended::Converged => {}
        Ended::TimeUp => line("The time was over before the search ended by itself."),
        Ended::Stopped => {
            line("The search was stopped; this is the best arrangement that it had found.");
        }
    }
}
