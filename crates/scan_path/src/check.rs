//! Verifying a vector file alone: everything that can be known without the job.

use crate::layer::Layer;
use crate::manifest::{LayerRow, MANIFEST_ENTRY, Totals, layer_entry};
use crate::reader::{ReadError, VectorReader};
use crate::stats::{PathStats, stats};
use base::finding::VectorFileProblem;
use base::{Cancelled, Finding, Progress, mm_from_nm};
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
/// | `vector_outside_build_space` | a point of the layer lies outside the build space |
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
    let count = u32::try_from(reader.index().len()).unwrap_or(u32::MAX);
    progress.add_total(u64::from(count));

    let mut findings = Vec::new();
    let oddities =
        reader.oddities().map_err(|error| CheckError::Read(ReadError::Container(error.into())))?;
    if let Some(first) = oddities.first() {
        let (first, more) = (first.clone(), oddities.len() as u64 - 1);
        findings.push(Finding::new(VectorFileProblem::ContainerBytes { first, more }));
    }
    let expected = (0..count).map(layer_entry).chain([MANIFEST_ENTRY.to_owned()]);
    if !reader.entry_names().eq(expected) {
        findings.push(Finding::new(VectorFileProblem::Entries));
    }
    findings.extend(reader.header().problems());
    let announced = reader.header().layer_count;
    if announced != count {
        let problem = VectorFileProblem::LayerCount { announced, listed: count };
        findings.push(Finding::new(problem));
    }
    for k in 0..count {
        match reader.layer(k) {
            Ok(layer) => findings.extend(check_layer(reader, &layer)),
            Err(error) if error.is_io() => return Err(CheckError::Read(error)),
            Err(error) => findings.push(unreadable(&error).at_layers(k, k)),
        }
        progress.advance(1)?;
    }
    if Totals::of(reader.index()) != *reader.totals() {
        findings.push(Finding::new(VectorFileProblem::Totals));
    }
    Ok(findings)
}

fn check_layer<R: Read + Seek>(reader: &VectorReader<R>, layer: &Layer) -> Vec<Finding> {
    let k = layer.index;
    let mut findings = Vec::new();
    if let Some(row) = reader.index().get(k as usize)
        && let Some(difference) = row_difference(row, &stats(layer), k)
    {
        findings.push(Finding::new(VectorFileProblem::LayerRow { difference }).at_layers(k, k));
    }
    let header = reader.header();
    let mut points = layer.blocks.iter().flat_map(|block| block.paths.points());
    if let Some(&point) = points.find(|&&point| !header.contains(point)) {
        let [x, y] = [point.x, point.y].map(mm_from_nm);
        let z = base::layers::middle_mm(k, header.layer_thickness_mm);
        let build_space_mm = header.build_space_mm;
        let finding = Finding::new(VectorFileProblem::OutsideBuildSpace { build_space_mm });
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

/// Why a layer cannot be read, as a finding: the error with a capital letter and a full stop.
fn unreadable(error: &ReadError) -> Finding {
    let text = error.to_string();
    let mut chars = text.chars();
    let what = chars
        .next()
        .map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), chars.as_str()));
    Finding::new(VectorFileProblem::Unreadable { fault: error.fault(), what })
}
