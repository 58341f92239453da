//! `inspect`: what a vector file holds.

use crate::args::InspectArgs;
use crate::console::{json, line};
use crate::outcome::{Failure, Outcome};
use base::mm_from_nm;
use pipeline::{VerifyError, open_vector_file};
use scan_path::{Block, FORMAT_VERSION, Header, Layer, LayerRow, PathStats, Paths, stats};
use serde_json::{Value, json};

pub(crate) fn run(args: &InspectArgs) -> Result<Outcome, Failure> {
    let mut reader = open_vector_file(&args.file)?;
    match args.layer {
        None if args.json => json(&json!({
            "format_version": reader.format_version(),
            "header": reader.header(), "totals": reader.totals(), "layers": reader.index()
        }))?,
        None => {
            if reader.format_version() < FORMAT_VERSION {
                let version = reader.format_version();
                line(&format!("written in format version {version}, which numbers no copies"));
            }
            show_header(reader.header());
            show_stats(&reader.totals().stats);
        }
        Some(index) => {
            let layer = reader
                .layer(index)
                .map_err(|source| VerifyError::Read { path: args.file.clone(), source })?;
            if args.json {
                json(&layer_as_json(reader.header(), &layer, args.vectors))?;
            } else {
                show_layer(reader.header(), &layer, args.vectors);
                hint_if_empty(reader.index(), index);
            }
        }
    }
    Ok(Outcome::Done)
}

/// If nothing is exposed in a layer, says which near it are not empty.
pub(super) fn hint_if_empty(index: &[LayerRow], layer: u32) {
    let exposed: Vec<u32> =
        (0..).zip(index).filter(|(_, row)| row.stats.marks > 0).map(|(at, _)| at).collect();
    let (before, from) = exposed.split_at(exposed.partition_point(|&at| at < layer));
    let where_else = match (before.last(), from.first()) {
        (_, Some(&first)) if first == layer => return,
        (Some(last), Some(first)) => format!("this layer; {last} and {first} are not empty"),
        (Some(last), None) => format!("this layer; {last} is the last that is not empty"),
        (None, Some(first)) => format!("this layer; {first} is the first that is not empty"),
        (None, None) => "any layer".to_owned(),
    };
    line(&format!("nothing is exposed in {where_else}"));
}

fn show_header(header: &Header) {
    let [x, y, z] = header.build_space_mm;
    line(&format!(
        "{} on {}, written by {}",
        header.job_name, header.machine_name, header.generator
    ));
    line(&format!("build space {x} × {y} × {z} mm, origin at the centre of the platform"));
    line(&format!("{} layers of {} mm", header.layer_count, header.layer_thickness_mm));
    line(&format!("jumps at {} mm/s", header.jump_speed_mm_s));
    line("placements");
    for (number, row) in (0..).zip(&header.placements) {
        let name = header.placement_name(number);
        let ([x, y, z], [a, b, c]) = (row.location_mm, row.rotation_deg);
        line(&format!("  {name}  at ({x}, {y}, {z}) mm, rotated ({a}, {b}, {c})°"));
    }
    line("exposures");
    for (number, row) in header.exposures.iter().enumerate() {
        line(&format!(
            "  {number:>4}  {} of {}: {} W, {} mm/s, run-in {} mm, run-out {} mm",
            row.name,
            row.recipe,
            row.power_w,
            row.speed_mm_s,
            row.path_run_in_mm,
            row.path_run_out_mm
        ));
    }
}

fn show_stats(stats: &PathStats) {
    line(&format!(
        "{} marks in {} paths, {:.3} mm",
        stats.marks,
        stats.paths,
        stats.mark_length_mm()
    ));
    line(&format!("jumps between them: {:.3} mm", stats.jump_length_mm()));
    if let Some(bounds) = stats.bounds_nm {
        let [x0, y0, x1, y1] = bounds.map(mm_from_nm);
        line(&format!("within ({x0:.3}, {y0:.3}) to ({x1:.3}, {y1:.3}) mm"));
    }
}

fn show_layer(header: &Header, layer: &Layer, vectors: bool) {
    let [bottom, top] = heights_mm(header, layer.index);
    line(&format!("layer {}, {bottom:.4} to {top:.4} mm", layer.index));
    show_stats(&stats(layer));
    for block in &layer.blocks {
        let words = words(block);
        line(&format!(
            "  {}: {} of {} region, exposure {}; {} paths, {:.3} mm",
            header.placement_name(block.placement),
            words.kind,
            words.region,
            exposure_name(header, block),
            block.paths.len(),
            block_length_mm(block)
        ));
        if vectors {
            for path in block.paths.iter() {
                let corners = path.iter().map(|p| {
                    let [x, y] = p.to_mm();
                    format!("({x:.6}, {y:.6})")
                });
                line(&format!("    {}", corners.collect::<Vec<_>>().join(" ")));
            }
        }
    }
}

fn layer_as_json(header: &Header, layer: &Layer, vectors: bool) -> Value {
    let [bottom, top] = heights_mm(header, layer.index);
    let blocks: Vec<Value> = layer
        .blocks
        .iter()
        .map(|block| {
            let mut row = json!({
                "placement": block.placement,
                "part": part_name(header, block),
                "copy": header.placements.get(block.placement as usize).and_then(|row| row.copy),
                "kind": block.kind,
                "region": block.region,
                "exposure": exposure_name(header, block),
                "paths": block.paths.len(),
                "mark_length_mm": block_length_mm(block),
            });
            if vectors {
                let path =
                    |path: &[base::Point]| path.iter().map(|p| p.to_mm()).collect::<Vec<_>>();
                row["vectors_mm"] = json!(block.paths.iter().map(path).collect::<Vec<_>>());
            }
            row
        })
        .collect();
    json!({
        "layer": layer.index, "bottom_mm": bottom, "top_mm": top,
        "totals": stats(layer), "blocks": blocks
    })
}

struct Words {
    kind: String,
    region: String,
}

/// Kind and region in the words of the file's own schema, spaces for underscores.
fn words(block: &Block) -> Words {
    let word = |value: Value| value.as_str().unwrap_or_default().replace('_', " ");
    Words { kind: word(json!(block.kind)), region: word(json!(block.region)).replace(' ', "-") }
}

pub(super) fn heights_mm(header: &Header, layer: u32) -> [f64; 2] {
    [layer, layer + 1].map(|k| f64::from(k) * header.layer_thickness_mm)
}

fn part_name<'a>(header: &'a Header, block: &Block) -> &'a str {
    let placement = header.placements.get(block.placement as usize);
    placement
        .and_then(|placement| header.parts.get(placement.part as usize))
        .map_or("?", |part| &part.name)
}

fn exposure_name<'a>(header: &'a Header, block: &Block) -> &'a str {
    header.exposures.get(usize::from(block.exposure)).map_or("?", |row| &row.name)
}

fn block_length_mm(block: &Block) -> f64 {
    let nm: f64 = match &block.paths {
        Paths::Segments(segments) => segments.iter().map(|[a, b]| a.distance(*b)).sum(),
        Paths::Polylines { .. } => {
            block.paths.iter().flat_map(|path| path.windows(2)).map(|m| m[0].distance(m[1])).sum()
        }
    };
    nm / base::NM_PER_MM
}
