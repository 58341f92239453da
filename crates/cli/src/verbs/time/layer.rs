//! `time --layer`: how soon the beam comes back in one layer, and the heat that is left.

use crate::args::TimeArgs;
use crate::console::{json, line, with_progress};
use crate::outcome::{Failure, Outcome};
use pipeline::{Build, LayerHeat, layer_heat};

pub(super) fn run(args: &TimeArgs, build: &Build, layer: u32) -> Result<Outcome, Failure> {
    if layer >= build.layer_count() {
        let last = build.layer_count().saturating_sub(1);
        return Err(Failure(format!("there is no layer {layer}: the last one is {last}")));
    }
    if !(args.conductivity.is_finite() && args.conductivity > 0.0) {
        return Err(Failure("the conductivity must be above 0".to_owned()));
    }
    let asked = (&args.places[..], args.conductivity);
    let heat = with_progress("Following the beam", |p| layer_heat(build, layer, asked, p))?;
    if args.json {
        json(&heat)?;
        return Ok(Outcome::Done);
    }
    show(&heat, layer);
    Ok(Outcome::Done)
}

fn show(heat: &LayerHeat, layer: u32) {
    line(&format!(
        "Layer {layer}: until another mark comes within {} mm, spots half of that apart",
        heat.reach_mm
    ));
    let all = heat.histogram.iter().map(|(_, count)| count).sum::<u64>() + heat.never;
    #[expect(clippy::cast_precision_loss, reason = "shown in percent")]
    let row = |what: String, count: u64| {
        line(&format!(
            "  {what:>16}{count:>10}{:>7.1} %",
            100.0 * count as f64 / all.max(1) as f64
        ));
    };
    for (end, count) in &heat.histogram {
        row(end.map_or("later".to_owned(), |end| format!("below {end} ms")), *count);
    }
    row("not again".to_owned(), heat.never);
    line("Soonest:");
    for of in &heat.soonest {
        let limit = match (of.below_limit, of.limit_ms) {
            (Some(count), Some(limit)) if count > 0 => {
                format!("; {count} spots sooner than the {limit} ms of the recipe")
            }
            _ => String::new(),
        };
        let [x, y] = of.at_mm;
        line(&format!(
            "  {:>9.3} ms  {}, {}, at ({x:.2}, {y:.2}) mm{limit}",
            of.after_ms, of.placement, of.kind
        ));
    }
    for ([x, y], rise_k) in &heat.rises {
        line(&format!(
            "At ({x}, {y}) mm the bed is {rise_k:.1} K hotter at the end of the layer, without regard to melting."
        ));
    }
}
