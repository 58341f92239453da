//! The manifest: the `manifest.json` entry of a vector file. See SPEC.md, "Manifest".

use crate::digest::hex;
use crate::header::Header;
use crate::stats::PathStats;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// The version of the format that this crate writes. It reads this one and all before it; those
/// differ only in what they leave out, see SPEC.md, "Versions and extensions".
pub const FORMAT_VERSION: u32 = 2;
/// The first version of the format.
const FIRST_VERSION: u32 = 1;

/// Name of the manifest's entry.
pub(crate) const MANIFEST_ENTRY: &str = "manifest.json";
/// Largest manifest before compression, bytes: twice what [`crate::MAX_LAYERS`] rows take. Bounds
/// what a hostile file can make a reader allocate.
pub(crate) const MAX_MANIFEST_BYTES: u64 = 128 << 20;
/// First bytes of names that this format leaves to anyone: manifest keys and entries.
pub(crate) const PRIVATE_PREFIX: &str = "x_";

const FORMAT: &str = "hatchwright vectors";

/// The index row of one layer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LayerRow {
    /// Name of the layer's entry in the container.
    pub entry: String,
    /// Size of the layer before compression, bytes.
    pub bytes: u64,
    /// SHA-256 of the layer before compression, lower-case hexadecimal.
    pub sha256: String,
    /// Counts, lengths and bounds.
    #[serde(flatten)]
    pub stats: PathStats,
}

/// Sums over all layers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    /// Number of layers.
    pub layers: u32,
    /// SHA-256 of the `sha256` texts of all rows, one after the other: names all vectors of the
    /// build.
    pub sha256: String,
    /// Counts, lengths and bounds.
    #[serde(flatten)]
    pub stats: PathStats,
}

/// What a manifest says. Unknown keys are ignored.
#[derive(Debug, Deserialize)]
pub(crate) struct Manifest {
    pub(crate) format_version: u32,
    pub(crate) header: Header,
    pub(crate) layers: Vec<LayerRow>,
    pub(crate) totals: Totals,
}

/// What decides whether the rest may be read; every version keeps these keys.
#[derive(Debug, Deserialize)]
struct Preamble {
    format: String,
    format_version: u32,
    #[serde(default)]
    requires: Vec<String>,
}

/// Why a manifest cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ManifestError {
    /// Not JSON, or a key is missing or of the wrong type.
    #[error("the manifest cannot be understood: {0}")]
    Json(#[from] serde_json::Error),
    /// Some other format in the same kind of container.
    #[error("this is no vector file: its manifest says it holds \"{0}\"")]
    Format(String),
    /// Written by a later program.
    #[error(
        "this vector file has format version {0}, but only versions {FIRST_VERSION} to {FORMAT_VERSION} are known here; read it with a newer version of this program"
    )]
    Version(u32),
    /// Uses features that a reader must know and this one does not.
    #[error(
        "this vector file requires features that are not known here: {}; read it with a newer version of this program",
        .0.join(", ")
    )]
    Requires(Vec<String>),
}

impl Totals {
    pub(crate) fn of(rows: &[LayerRow]) -> Self {
        let mut stats = PathStats::default();
        let mut digest = Sha256::new();
        for row in rows {
            stats.add(&row.stats);
            digest.update(&row.sha256);
        }
        let layers = u32::try_from(rows.len()).unwrap_or(u32::MAX);
        Self { layers, sha256: hex(&digest.finalize()), stats }
    }
}

/// Name of the entry of layer `index`.
pub(crate) fn layer_entry(index: u32) -> String {
    format!("layers/{index:06}.bin")
}

/// The manifest's text: one line per layer, so that people and line-based tools can read it.
pub(crate) fn manifest_text(
    header: &Header,
    rows: &[LayerRow],
    totals: &Totals,
) -> serde_json::Result<String> {
    let format = serde_json::to_string(FORMAT)?;
    let tables = serde_json::to_string_pretty(header)?.replace('\n', "\n  ");
    let rows: Vec<String> = rows.iter().map(serde_json::to_string).collect::<Result<_, _>>()?;
    let rows =
        if rows.is_empty() { String::new() } else { format!("\n    {}\n  ", rows.join(",\n    ")) };
    let totals = serde_json::to_string(totals)?;
    Ok(format!(
        "{{
  \"format\": {format},
  \"format_version\": {FORMAT_VERSION},
  \"requires\": [],
  \"header\": {tables},
  \"layers\": [{rows}],
  \"totals\": {totals}
}}
"
    ))
}

/// Reads a manifest of a known version.
///
/// # Errors
/// [`ManifestError`]; version and required features are looked at before anything else.
pub(crate) fn parse_manifest(bytes: &[u8]) -> Result<Manifest, ManifestError> {
    let preamble: Preamble = serde_json::from_slice(bytes)?;
    if preamble.format != FORMAT {
        return Err(ManifestError::Format(preamble.format));
    }
    if !(FIRST_VERSION..=FORMAT_VERSION).contains(&preamble.format_version) {
        return Err(ManifestError::Version(preamble.format_version));
    }
    if !preamble.requires.is_empty() {
        return Err(ManifestError::Requires(preamble.requires));
    }
    Ok(serde_json::from_slice(bytes)?)
}
