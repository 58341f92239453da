//! `gather`: small parts of a job in a cage of thin bars, as one part.

use crate::args::GatherArgs;
use crate::console::{findings, line, whole, with_progress};
use crate::outcome::{Failure, Outcome};
use base::PlacementId;
use pipeline::{
    cage_placements, default_output, load, prove_clearance, seen_from, write_job, write_mesh,
};
use std::collections::BTreeSet;
use std::path::Path;

pub(crate) fn run(args: &GatherArgs) -> Result<Outcome, Failure> {
    let loaded = with_progress("Reading the job", |progress| load(&args.job, progress))?;
    let parts = &loaded.job.parts;
    let mut gathered = BTreeSet::new();
    for name in &args.parts {
        let Some(part) = parts.iter().position(|part| part.name == *name) else {
            let names: Vec<&str> = parts.iter().map(|part| part.name.as_str()).collect();
            let sentence = format!("the job has no part {name:?}; it has {}", names.join(", "));
            return Err(Failure(sentence));
        };
        gathered.extend((0..parts[part].placements.len()).map(|copy| PlacementId::new(part, copy)));
    }
    let out = args.out.clone().unwrap_or_else(|| default_output(&args.job, "_caged.ron"));
    let mesh_path = out.with_extension("cage.obj");
    loaded.inputs.check(&out)?;
    loaded.inputs.check(&mesh_path)?;
    // Seen from the folder of the job that was read; writing the job elsewhere changes it with the rest.
    let from = args.job.parent().unwrap_or(Path::new(""));
    let file = seen_from(&mesh_path, from);
    let shape = [args.bar, args.opening];
    let caged = with_progress("Making the cage", |progress| {
        cage_placements(&loaded, &gathered, shape, "cage", &file, progress)
    })?;
    write_mesh(&caged.mesh, &mesh_path, &loaded.inputs)?;
    write_job(&caged.job, from, &out, &loaded.inputs)?;
    let proven = with_progress("Proving clearance", |progress| {
        let loaded = load(&out, progress)?;
        Ok::<_, Failure>(prove_clearance(&loaded, progress)?)
    })?;
    line(&format!(
        "{}: {} placements in a cage of bars {} mm wide, openings of at most {} mm ({})",
        whole(&out),
        gathered.len(),
        args.bar,
        args.opening,
        whole(&mesh_path)
    ));
    Ok(findings(&proven.findings))
}
