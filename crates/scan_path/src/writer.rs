//! Writing a vector file: layers are encoded anywhere, in parallel, and pushed in order.

use crate::container::{ArchiveWriter, Packed};
use crate::digest::sha256;
use crate::header::Header;
use crate::layer::Layer;
use crate::layer_bytes::{EncodeError, bytes_of_layer};
use crate::manifest::{
    LayerRow, MANIFEST_ENTRY, MAX_MANIFEST_BYTES, Totals, layer_entry, manifest_text,
};
use crate::stats::stats;
use base::Finding;
use std::io::{self, Write};

/// A layer ready to be written: compressed, with its checksum and totals.
#[derive(Clone, Debug)]
pub struct EncodedLayer {
    index: u32,
    row: LayerRow,
    packed: Packed,
}

impl EncodedLayer {
    /// Layer number.
    pub fn index(&self) -> u32 {
        self.index
    }

    /// The row that the index will have for this layer.
    pub fn row(&self) -> &LayerRow {
        &self.row
    }
}

/// Why a vector file could not be written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The tables hold what a machine must not run.
    #[error("the vector file's header is not fit to be written: {}", .0.first().map_or("", Finding::sentence))]
    Header(Vec<Finding>),
    /// Layers must be pushed in order, each once.
    #[error("layer {pushed} was pushed where layer {expected} was due")]
    OutOfOrder {
        /// The layer due next.
        expected: u32,
        /// The layer that came.
        pushed: u32,
    },
    /// Not all layers that the header announces were pushed.
    #[error("only {pushed} of {layer_count} layers were pushed")]
    Incomplete {
        /// Layers written so far.
        pushed: u32,
        /// What the header announces.
        layer_count: u32,
    },
    /// The output refused the bytes.
    #[error("the vector file could not be written: {0}")]
    Io(#[from] io::Error),
    /// The manifest is larger than any reader accepts.
    #[error(
        "the manifest takes {0} bytes, more than the {MAX_MANIFEST_BYTES} it may have; split the job"
    )]
    TooLarge(usize),
    /// The tables cannot be written as JSON.
    #[error("the manifest could not be written: {0}")]
    Json(#[from] serde_json::Error),
}

/// Encodes a layer: bytes, checksum, totals, compression. Pure, and most of the work of writing;
/// call it on as many threads as there are.
///
/// # Errors
/// [`EncodeError`] if the layer does not fit the header's tables or the build space.
pub fn encode_layer(layer: &Layer, header: &Header) -> Result<EncodedLayer, EncodeError> {
    let bytes = bytes_of_layer(layer, header)?;
    let entry = layer_entry(layer.index);
    let packed = Packed::new(entry.clone(), &bytes)
        .map_err(|source| EncodeError::Compression { layer: layer.index, source })?;
    let row =
        LayerRow { entry, bytes: bytes.len() as u64, sha256: sha256(&bytes), stats: stats(layer) };
    Ok(EncodedLayer { index: layer.index, row, packed })
}

/// Writes a vector file. Keeps one index row per layer in memory, and no vectors.
///
/// The bytes depend on header and layers only. A writer that is dropped before
/// [`Self::finish`] leaves a file that no reader opens.
#[derive(Debug)]
pub struct VectorWriter<W> {
    archive: ArchiveWriter<W>,
    header: Header,
    rows: Vec<LayerRow>,
}

impl<W: Write> VectorWriter<W> {
    /// Begins a vector file at the start of an empty `out`. Never seeks.
    ///
    /// # Errors
    /// [`WriteError::Header`] with all of [`Header::problems`].
    pub fn new(out: W, header: Header) -> Result<Self, WriteError> {
        let problems = header.problems();
        if !problems.is_empty() {
            return Err(WriteError::Header(problems));
        }
        Ok(Self { archive: ArchiveWriter::new(out), header, rows: Vec::new() })
    }

    /// The tables given to [`Self::new`].
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Writes the next layer, encoded with the same header.
    ///
    /// # Errors
    /// [`WriteError::OutOfOrder`] unless it is the next one; [`WriteError::Io`].
    pub fn push(&mut self, layer: EncodedLayer) -> Result<(), WriteError> {
        let expected = self.pushed();
        if layer.index != expected {
            return Err(WriteError::OutOfOrder { expected, pushed: layer.index });
        }
        self.archive.push(layer.packed)?;
        self.rows.push(layer.row);
        Ok(())
    }

    /// Writes manifest and directory, flushes, and gives the output back.
    ///
    /// # Errors
    /// [`WriteError::Incomplete`] if layers are missing; [`WriteError::Io`].
    pub fn finish(mut self) -> Result<(Totals, W), WriteError> {
        let (pushed, layer_count) = (self.pushed(), self.header.layer_count);
        if pushed != layer_count {
            return Err(WriteError::Incomplete { pushed, layer_count });
        }
        let totals = Totals::of(&self.rows);
        let manifest = manifest_text(&self.header, &self.rows, &totals)?;
        if manifest.len() as u64 > MAX_MANIFEST_BYTES {
            return Err(WriteError::TooLarge(manifest.len()));
        }
        self.archive.push(Packed::new(MANIFEST_ENTRY.to_owned(), manifest.as_bytes())?)?;
        Ok((totals, self.archive.finish()?))
    }

    fn pushed(&self) -> u32 {
        u32::try_from(self.rows.len()).unwrap_or(u32::MAX)
    }
}
