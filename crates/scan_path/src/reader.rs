//! Reading a vector file, layer by layer, without loading the rest.

use crate::container::{Archive, ContainerError};
use crate::digest::sha256;
use crate::header::Header;
use crate::layer::Layer;
use crate::layer_bytes::{MAX_LAYER_BYTES, Malformed, layer_from_bytes};
use crate::manifest::{
    LayerRow, MANIFEST_ENTRY, MAX_MANIFEST_BYTES, Manifest, ManifestError, PRIVATE_PREFIX, Totals,
    layer_entry, parse_manifest,
};
use base::finding::LayerFault;
use std::io::{self, Read, Seek};

/// Why a vector file or one of its layers cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The container is damaged or no container at all.
    #[error(transparent)]
    Container(#[from] ContainerError),
    /// The manifest is damaged, or of a version or with features that are not known.
    #[error(transparent)]
    Manifest(#[from] ManifestError),
    /// The file has no such layer.
    #[error("layer {layer} does not exist: the file lists {layers} layers")]
    NoSuchLayer {
        /// The layer asked for.
        layer: u32,
        /// Rows of the index.
        layers: usize,
    },
    /// The content of the layer's entry is not what the index describes.
    #[error(
        "layer {layer} does not match its SHA-256 in the index: the file was damaged or changed"
    )]
    Checksum {
        /// The layer asked for.
        layer: u32,
    },
    /// The layer's bytes break the specification.
    #[error("layer {layer} is malformed {source}")]
    Malformed {
        /// The layer asked for.
        layer: u32,
        /// What and where.
        source: Malformed,
    },
    /// Another layer stands in this one's place.
    #[error("layer {layer} is not where it belongs: layer {found} stands in its place")]
    Swapped {
        /// The layer asked for.
        layer: u32,
        /// What the layer's own bytes say it is.
        found: u32,
    },
}

impl ReadError {
    /// Whether the medium failed rather than the content.
    pub(crate) fn is_io(&self) -> bool {
        matches!(self, Self::Container(ContainerError::Io(_)))
    }

    /// What a finding about a layer calls it.
    pub(crate) fn fault(&self) -> LayerFault {
        match self {
            Self::Container(ContainerError::Missing(_)) | Self::NoSuchLayer { .. } => {
                LayerFault::Missing
            }
            // The manifest was read before any layer; if it went bad since, so did the container.
            Self::Container(_) | Self::Manifest(_) => LayerFault::Container,
            Self::Checksum { .. } => LayerFault::Checksum,
            Self::Malformed { .. } => LayerFault::Malformed,
            Self::Swapped { .. } => LayerFault::Swapped,
        }
    }
}

/// An open vector file.
///
/// Safe on damaged and hostile files: no size in the file is trusted, and memory is bounded by
/// the file's length, the manifest's size and one layer of at most [`MAX_LAYER_BYTES`].
/// What cannot be checked layer by layer is checked by [`crate::check_file`].
#[derive(Debug)]
pub struct VectorReader<R> {
    archive: Archive<R>,
    manifest: Manifest,
}

/// A layer's unpacked bytes, still to be decoded; see [`VectorReader::layer_bytes`].
#[derive(Clone, Debug)]
pub struct LayerBytes {
    layer: u32,
    sha256: String,
    bytes: Vec<u8>,
}

impl LayerBytes {
    /// Checks and decodes the layer. Pure; can run on any thread.
    ///
    /// # Errors
    /// [`ReadError::Checksum`], [`ReadError::Malformed`] or [`ReadError::Swapped`].
    pub fn decode(&self, header: &Header) -> Result<Layer, ReadError> {
        let layer = self.layer;
        if sha256(&self.bytes) != self.sha256 {
            return Err(ReadError::Checksum { layer });
        }
        let decoded = layer_from_bytes(&self.bytes, header)
            .map_err(|source| ReadError::Malformed { layer, source })?;
        if decoded.index != layer {
            return Err(ReadError::Swapped { layer, found: decoded.index });
        }
        Ok(decoded)
    }
}

impl<R: Read + Seek> VectorReader<R> {
    /// Reads directory and manifest.
    ///
    /// # Errors
    /// [`ReadError`] if the container or the manifest cannot be understood, or if the file has a
    /// version or requires features that are not known here.
    pub fn open(input: R) -> Result<Self, ReadError> {
        let mut archive = Archive::open(input)?;
        let manifest = parse_manifest(&archive.read(MANIFEST_ENTRY, MAX_MANIFEST_BYTES)?)?;
        Ok(Self { archive, manifest })
    }

    /// The version of the format that the file is written in.
    pub fn format_version(&self) -> u32 {
        self.manifest.format_version
    }

    /// The tables.
    pub fn header(&self) -> &Header {
        &self.manifest.header
    }

    /// One row per layer, as the file states it.
    pub fn index(&self) -> &[LayerRow] {
        &self.manifest.layers
    }

    /// The sums over all layers, as the file states them.
    pub fn totals(&self) -> &Totals {
        &self.manifest.totals
    }

    /// Reads, checks and decodes layer `k`.
    ///
    /// # Errors
    /// [`ReadError`] if the layer does not exist, is damaged, or is not what the index says.
    pub fn layer(&mut self, k: u32) -> Result<Layer, ReadError> {
        self.layer_bytes(k)?.decode(self.header())
    }

    /// Reads and unpacks layer `k`; decoding it can then go on elsewhere.
    ///
    /// # Errors
    /// [`ReadError::NoSuchLayer`] or [`ReadError::Container`].
    pub fn layer_bytes(&mut self, k: u32) -> Result<LayerBytes, ReadError> {
        let rows = &self.manifest.layers;
        let no_such_layer = ReadError::NoSuchLayer { layer: k, layers: rows.len() };
        let row = rows.get(k as usize).ok_or(no_such_layer)?;
        let bytes = self.archive.read(&layer_entry(k), row.bytes.min(MAX_LAYER_BYTES))?;
        if bytes.len() as u64 != row.bytes {
            return Err(ReadError::Checksum { layer: k });
        }
        Ok(LayerBytes { layer: k, sha256: row.sha256.clone(), bytes })
    }

    /// See [`Archive::oddities`].
    pub(crate) fn oddities(&mut self) -> io::Result<Vec<String>> {
        self.archive.oddities()
    }

    /// Names of the entries in the order of the directory, without private ones.
    pub(crate) fn entry_names(&self) -> impl Iterator<Item = &str> {
        let names = self.archive.entries().iter().map(|entry| entry.name.as_str());
        names.filter(|name| !name.starts_with(PRIVATE_PREFIX))
    }
}
