//! Layers of vectors in memory, and the vector file: read, write, verify alone.
//!
//! Knows nothing of meshes, regions or recipes: points, tables and bytes only. The vector file
//! is specified in `SPEC.md` beside this crate.

pub mod slices_3mf;

mod check;
mod container;
mod decimal;
mod differences;
mod digest;
mod head_row;
mod header;
mod layer;
mod layer_bytes;
mod made_from;
mod manifest;
mod reader;
mod stats;
mod svg;
mod writer;

pub use check::{CheckError, check_file};
pub use container::ContainerError;
pub use differences::{header_differences, layer_differences};
pub use digest::{sha256, sha256_of};
pub use head_row::{HeadRow, TimesRow};
pub use header::{ExposureRow, Header, LeftOut, MAX_LAYERS, MeltRow, PartRow, PlacementRow};
pub use layer::{Block, ExposureKind, Layer, Paths, RegionKind};
pub use layer_bytes::{EncodeError, MAX_LAYER_BYTES, Malformed};
pub use made_from::{MadeFrom, SourceRow};
pub use manifest::{FORMAT_VERSION, LayerRow, ManifestError, Totals};
pub use reader::{LayerBytes, ReadError, VectorReader};
pub use stats::{PathStats, stats};
pub use svg::{SvgOptions, layer_svg};
pub use writer::{EncodedLayer, VectorWriter, WriteError, encode_layer};
