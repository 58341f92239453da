//! Job to layers to files. The only crate that knows the order of stages, and the only one below
//! the command line that opens files.
//!
//! ```text
//! load ─► Build ─► layers ─► write_vector_file
//!  │            ├────►└────► verify_against (by other means)
//!  │            └────► survey ─► sums, findings
//!  │   a layer of a vector file ─► layer_dose ─► write_dose_picture
//!  │   many layers of one ─► build_dose
//!  ├────► nest_job ─► write_job
//!  ├────► cage_placements ─► write_mesh
//!  └────► prove_clearance
//! ```

mod build;
mod build_time;
mod cage;
mod checks;
mod clearance;
mod dose;
mod export;
mod exposures;
mod field_map;
mod head;
mod in_order;
mod input_files;
mod inputs;
mod kept;
mod layer_heat;
mod layers;
mod leftovers;
mod library;
mod load;
mod made;
mod nest;
mod offsets;
mod output;
mod picture;
mod posed;
mod powder;
mod rewrite;
mod sampled_time;
mod sections;
mod shapes;
mod shared;
mod strokes;
mod survey;
mod tables;
mod time_variants;
mod verify;
mod write;
mod write_job;

pub use build::{Build, BuildError};
pub use build_time::BuildTime;
pub use cage::{CageError, Caged, cage_placements, write_mesh};
pub use checks::{
    Accepted, AcceptedGroup, Group, LayerReport, Sorted, grouped, grouped_accepted,
    sorted_by_acceptance,
};
pub use clearance::{
    Clearance, index_meshes, is_arranged_alike, prove_clearance, prove_written_job,
};
pub use dose::{
    Assumed, BuildDose, BuildPrediction, Closed, DoseDrawing, DoseError, DoseQuestion, DoseRange,
    Gap, HatchMean, Histogram, LayerChoice, LayerDose, OutlineDeviation, PartBoundary, Picture,
    PlaceDose, PowderDepth, Prediction, ProposedOffset, Raster, SectionDose, Spot, Spread, Stated,
    TRUE_TO_MM, Threshold, build_dose, layer_dose, write_dose_picture,
};
pub use export::{DrawError, write_layer_drawing, write_layer_svg, write_slices};
pub use exposures::ExposuresError;
pub use field_map::{FieldPoint, field_map};
pub use head::{head, servo};
pub use in_order::in_order;
pub use inputs::{Inputs, PathError, is_same_file};
pub use layer_heat::{LayerHeat, Soonest, layer_heat};
pub use layers::{ComputedLayer, LayerError};
pub use library::{
    Library, LibraryEntry, LibraryError, LibraryKind, copy_to, load_bundle, renamed,
};
pub use load::{
    LoadError, Loaded, LoadedMesh, LoadedRecipe, load, load_job_file, load_machine_file,
    load_mesh_file, load_part_mesh, load_recipe_file,
};
pub use nest::{Before, Ended, NestRequest, Nested, SoFar, nest_job};
pub use offsets::{ProposedOffsets, proposed_offsets};
pub use output::default_output;
pub use picture::write_picture;
pub use powder::powder;
pub use rewrite::write_over;
pub use sampled_time::{Sample, TimeEstimate, estimate_time, least_jumps_s};
pub use shapes::{
    ShapeLook, is_told_by_shapes, known_shape_findings, look_at_shape, look_at_shape_alone,
    replace_with_shapes, shape_findings, shapes_to_look_at,
};
pub use strokes::strokes;
pub use survey::{Extent, LayerSums, Survey};
pub use time_variants::{TimeError, TimeVariant, time_variants};
pub use verify::{Verdict, VerifyError, open_vector_file, verify_against, verify_alone};
pub use write::{
    Judged, OutputError, Stops, Written, not_fit, write_judged, write_proven, write_text,
    write_vector_file,
};
pub use write_job::{rebase_job, rebased, seen_from, write_job};
