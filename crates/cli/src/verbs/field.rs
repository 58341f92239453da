//! `field`: what a machine's head does over its field.

use crate::args::FieldArgs;
use crate::console::{json, line};
use crate::outcome::{Failure, Outcome};
use pipeline::{FieldPoint, field_map, load_machine_file};
use serde_json::json;

pub(crate) fn run(args: &FieldArgs) -> Result<Outcome, Failure> {
    let machine = load_machine_file(&args.machine)?;
    let Some(points) = field_map(&machine, args.steps) else {
        return Err(Failure(format!(
            "{} does not say how its head is made: give it a `head` (crates/motion/HEAD.md says how to measure one)",
            args.machine.display()
        )));
    };
    if args.json {
        json(&json!({ "field": points }))?;
        return Ok(Outcome::Done);
    }
    line("A quarter of the field, from its middle; the others mirror it.");
    line(
        "   X mm   Y mm   angles °           beyond focus mm   spot radius mm   longer than wide   step X, Y µm",
    );
    for point in &points {
        line(&row(point));
    }
    line(
        "In focus in the middle, an ideal beam, and nothing refocuses: measure spots before you trust it.",
    );
    Ok(Outcome::Done)
}

fn row(point: &FieldPoint) -> String {
    let [x, y] = point.at_mm;
    let angles = point
        .angles_deg
        .map_or_else(|| format!("{:<16}", "by the lens"), |[a, b]| format!("{a:7.3} {b:7.3} "));
    let [step_x, step_y] = point.step_mm.map(|step| step * 1000.0);
    format!(
        "{x:7.1}{y:7.1}   {angles}   {:15.3}   {:14.4}   {:16.4}   {step_x:.3}, {step_y:.3}",
        point.focus_excess_mm, point.radius_mm, point.stretch
    )
}
