//! Verifying a vector file alone: everything that can be known without the job.

use crate::layer::Layer;
use crate::manifest::{LayerRow, MANIFEST_ENTRY, Totals, layer_entry};
use crate::reader::{ReadError, VectorReader};
use crate::stats::{PathStats, stats};
use base::{Cancelled, Finding, Progress, Severity, mm_from_nm};
use std::io::{Read, Seek};

/// Why a check did not come to an end.
#[derive(Debug, thiserror::Error)]
pub enum CheckError {
    /// The medium failed; says nothing about the file.
    #[error(transparent)]
    Read(ReadError),
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Checks container, tables, every layer and all totals. Empty means nothing was found.
///
/// | kind of finding | what it means |
/// |---|---|
/// | `container_bytes` | bytes around the entries differ from what a writer lays down (caution) |
/// | `entries` | entries are missing, unknown or out of order |
/// | `header` | see [`crate::Header::problems`] |
/// | `layer_count` | the index does not have the announced number of rows |
/// | `container`, `layer_missing`, `layer_checksum`, `layer_malformed`, `layer_swapped` | the layer cannot be read, see [`ReadError`] |
/// | `layer_row` | counts, lengths or bounds of the layer are not what its row says |
/// | `outside_build_space` | a point of the layer lies outside the build space |
/// | `totals` | the totals are not the sums of the rows |
///
/// A change that keeps all checksums and totals consistent can only be found against the job.
/// Announces and credits one step per layer. O(points) time, memory for one layer.
///
/// # Errors
/// [`CheckError`] if the medium fails or the person cancels.
pub fn check_file<R: Read + Seek>(
    reader: &mut VectorReader<R>,
    progress: &Progress,
) -> Result<Vec<Finding>, CheckError> {
    let stop = |kind, sentence: String| Finding::new(Severity::Stop, kind, sentence);
    let count = u32::try_from(reader.index().len()).unwrap_or(u32::MAX);
    progress.add_total(u64::from(count));

    let mut findings = Vec::new();
    let oddities =
        reader.oddities().map_err(|error| CheckError::Read(ReadError::Container(error.into())))?;
    if let Some(first) = oddities.first() {
        let more = match oddities.len() - 1 {
            0 => String::new(),
            more => format!(", and {more} more such places"),
        };
        let sentence =
            format!("The file was changed or written by another program: {first}{more}.");
        findings.push(Finding::new(Severity::Caution, "container_bytes", sentence));
    }
    let expected = (0..count).map(layer_entry).chain([MANIFEST_ENTRY.to_owned()]);
    if !reader.entry_names().eq(expected) {
        findings.push(stop("entries", "The container does not hold exactly the layers of its index, in order, and the manifest last.".to_owned()));
    }
    findings.extend(reader.header().problems());
    let announced = reader.header().layer_count;
    if announced != count {
        findings.push(stop(
            "layer_count",
            format!("The header announces {announced} layers, the index lists {count}."),
        ));
    }
    for k in 0..count {
        match reader.layer(k) {
            Ok(layer) => findings.extend(check_layer(reader, &layer)),
            Err(error) if error.is_io() => return Err(CheckError::Read(error)),
            Err(error) => findings.push(stop(error.kind(), sentence(&error)).at_layers(k, k)),
        }
        progress.advance(1)?;
    }
    if Totals::of(reader.index()) != *reader.totals() {
        findings
            .push(stop("totals", "The totals are not the sums of the layers' rows.".to_owned()));
    }
    Ok(findings)
}

fn check_layer<R: Read + Seek>(reader: &VectorReader<R>, layer: &Layer) -> Vec<Finding> {
    let k = layer.index;
    let mut findings = Vec::new();
    if let Some(row) = reader.index().get(k as usize)
        && let Some(difference) = row_difference(row, &stats(layer), k)
    {
        let sentence = format!("The layer does not match its row in the index: {difference}.");
        findings.push(Finding::new(Severity::Stop, "layer_row", sentence).at_layers(k, k));
    }
    let header = reader.header();
    let mut points = layer.blocks.iter().flat_map(|block| block.paths.points());
    if let Some(&point) = points.find(|&&point| !header.contains(point)) {
        let [x, y] = [point.x, point.y].map(mm_from_nm);
        let z = base::layers::middle_mm(k, header.layer_thickness_mm);
        let sentence = "A vector leaves the build space. Do not run this file.";
        let finding = Finding::new(Severity::Stop, "outside_build_space", sentence);
        findings.push(finding.at_layers(k, k).at_point([x, y, z]));
    }
    findings
}

fn row_difference(row: &LayerRow, found: &PathStats, k: u32) -> Option<String> {
    let stated = &row.stats;
    let differs = |what: &str, stated: u64, found: u64| {
        (stated != found).then(|| format!("{found} {what} instead of {stated}"))
    };
    (row.entry != layer_entry(k))
        .then(|| format!("the row names the entry \"{}\"", row.entry))
        .or_else(|| differs("blocks", stated.blocks, found.blocks))
        .or_else(|| differs("paths", stated.paths, found.paths))
        .or_else(|| differs("marks", stated.marks, found.marks))
        .or_else(|| differs("points", stated.points, found.points))
        .or_else(|| differs("nm of marks", stated.mark_length_nm, found.mark_length_nm))
        .or_else(|| differs("nm of jumps", stated.jump_length_nm, found.jump_length_nm))
        .or_else(|| (stated.bounds_nm != found.bounds_nm).then(|| "other bounds".to_owned()))
}

/// An error as a sentence of a finding.
fn sentence(error: &ReadError) -> String {
    let text = error.to_string();
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| {
        format!("{}{}. Do not run this file.", first.to_uppercase(), chars.as_str())
    })
}
