//! A cage of bars around small parts, made and written in the background.

use crate::state::model::CageShape;
use crate::state::results::Built;
use crate::work::tasks::{Context, Outcome};
use base::PlacementId;
use pipeline::Inputs;
use std::collections::BTreeSet;
use std::path::Path;

/// Puts placements into a cage; its mesh is written into the job's folder under a free name.
pub(crate) fn cage(
    built: &Built,
    (folder, inputs): (&Path, &Inputs),
    selected: &BTreeSet<PlacementId>,
    CageShape { bar_mm, opening_mm }: CageShape,
    context: &Context,
) {
    let names =
        std::iter::once("cage.obj".to_owned()).chain((2..).map(|n| format!("cage-{n}.obj")));
    let Some(file) = names.into_iter().find(|name| !folder.join(name).exists()) else { return };
    let (loaded, shape) = (&built.build.loaded, [bar_mm, opening_mm]);
    let caged =
        pipeline::cage_placements(loaded, selected, shape, "cage", &file, &context.progress);
    let written = caged.map_err(|error| error.to_string()).and_then(|caged| {
        let path = folder.join(&file);
        pipeline::write_mesh(&caged.mesh, &path, inputs).map_err(|error| error.to_string())?;
        Ok(caged.job)
    });
    context.send(match written {
        Ok(job) => Outcome::Caged(built.revision, Box::new(job)),
        Err(sentence) => Outcome::Failed(format!("No cage: {sentence}.")),
    });
}
