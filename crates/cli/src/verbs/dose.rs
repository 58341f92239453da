//! `dose`: the laser energy that every spot of a layer gets, and what will melt; of one layer, or of many in
//! sums.

mod many_layers;
mod one_layer;
mod said;

use crate::args::DoseArgs;
use crate::outcome::{Failure, Outcome};

pub(crate) fn run(args: &DoseArgs) -> Result<Outcome, Failure> {
    match (args.layer, &args.job) {
        (None, Some(job)) => many_layers::run(args, job),
        // a job or a layer is always named
        (layer, _) => one_layer::run(args, layer.unwrap_or_default()),
    }
}
