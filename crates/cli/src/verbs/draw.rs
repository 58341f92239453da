//! `draw`: one layer as SVG.

use crate::args::DrawArgs;
use crate::console::{default_out, line};
use crate::outcome::{Failure, Outcome};
use crate::verbs::inspect::hint_if_empty;
use pipeline::{open_vector_file, write_layer_svg};

pub(crate) fn run(args: &DrawArgs) -> Result<Outcome, Failure> {
    let suffix = format!("-{}.svg", args.layer);
    let path = args.out.clone().unwrap_or_else(|| default_out(&args.file, &suffix));
    write_layer_svg(&args.file, args.layer, args.jumps, &path)?;
    line(&path.display().to_string());
    hint_if_empty(open_vector_file(&args.file)?.index(), args.layer);
    Ok(Outcome::Done)
}
