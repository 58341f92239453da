//! `draw`: one layer as SVG.

use crate::args::DrawArgs;
use crate::console::{line, whole};
use crate::outcome::{Failure, Outcome};
use crate::verbs::inspect::hint_if_empty;
use pipeline::{default_output, open_vector_file, write_layer_svg};

pub(crate) fn run(args: &DrawArgs) -> Result<Outcome, Failure> {
    let suffix = format!("-{}.svg", args.layer);
    let path = args.out.clone().unwrap_or_else(|| default_output(&args.file, &suffix));
    write_layer_svg(&args.file, args.layer, args.jumps, &path)?;
    line(&whole(&path));
    hint_if_empty(open_vector_file(&args.file)?.index(), args.layer);
    Ok(Outcome::Done)
}
