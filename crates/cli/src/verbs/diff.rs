//! `diff`: what differs between two vector files.

use crate::args::DiffArgs;
use crate::console::{json, line};
use crate::outcome::{Failure, Outcome};
use pipeline::{VerifyError, open_vector_file};
use scan_path::{header_differences, layer_differences};
use serde_json::json;

/// Differing layers that are looked into, and differences of tables that are listed.
const MOST_SHOWN: usize = 10;

pub(crate) fn run(args: &DiffArgs) -> Result<Outcome, Failure> {
    let [mut a, mut b] = [open_vector_file(&args.first)?, open_vector_file(&args.second)?];
    let tables = header_differences(a.header(), b.header())?;
    let counts = [a.index().len(), b.index().len()];
    let shared = a.index().iter().zip(b.index());
    // equal sums of equal layers: the digest of the bytes is enough
    let layers: Vec<usize> =
        shared.enumerate().filter(|(_, (a, b))| a.sha256 != b.sha256).map(|(k, _)| k).collect();
    let mut first = Vec::new();
    for &k in layers.iter().take(MOST_SHOWN) {
        let number = u32::try_from(k)?;
        let read = |path: &std::path::Path| {
            let path = path.to_owned();
            move |source| VerifyError::Read { path, source }
        };
        let layer = a.layer(number).map_err(read(&args.first))?;
        let other = b.layer(number).map_err(read(&args.second))?;
        first.push((k, layer_differences(&layer, &other)));
    }
    let is_same = tables.is_empty() && layers.is_empty() && counts[0] == counts[1];
    if args.json {
        json(&json!({
            "same": is_same, "tables": tables, "layer_counts": counts, "layers": layers, "first": first
        }))?;
    } else if is_same {
        line(&format!("No difference: the same tables and the same {} layers.", counts[0]));
    } else {
        show(&tables, counts, &layers, &first);
    }
    Ok(if is_same { Outcome::Done } else { Outcome::Stopped })
}

fn show(tables: &[String], counts: [usize; 2], layers: &[usize], first: &[(usize, Vec<String>)]) {
    line(&format!("Tables: {}", counted(tables.len(), "difference")));
    for difference in tables.iter().take(MOST_SHOWN) {
        line(&format!("  {difference}"));
    }
    if counts[0] != counts[1] {
        line(&format!("{} and {} layers", counts[0], counts[1]));
    }
    let of = counts[0].min(counts[1]);
    line(&format!("Layers: {} of {of} differ{}", layers.len(), ranges(layers)));
    for (k, differences) in first {
        line(&format!("  layer {k}: {}", differences.join("\n    ")));
    }
}

fn counted(count: usize, what: &str) -> String {
    match count {
        0 => format!("no {what}"),
        1 => format!("1 {what}"),
        _ => format!("{count} {what}s"),
    }
}

/// Layers in a few ranges: ": 3 to 5, 9, …".
fn ranges(layers: &[usize]) -> String {
    let runs: Vec<&[usize]> = layers.chunk_by(|a, b| a + 1 == *b).collect();
    let said = runs.iter().take(MOST_SHOWN).filter_map(|run| {
        let (first, last) = (run.first()?, run.last()?);
        Some(if first == last { first.to_string() } else { format!("{first} to {last}") })
    });
    let mut said: Vec<String> = said.collect();
    if runs.len() > said.len() {
        said.push("…".to_owned());
    }
    if said.is_empty() { String::new() } else { format!(": {}", said.join(", ")) }
}
