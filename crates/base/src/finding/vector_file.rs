//! What is wrong with a vector file by itself; the rules are those of its `SPEC.md`.

use super::entry::{Entry, said};
use super::kind::Kind;
use super::limit::Source::{FileFormat, Machine};

/// Problems of a vector file that can be known without the job.
#[derive(Clone, Debug, PartialEq)]
pub enum VectorFileProblem {
    /// Bytes around the entries differ from what a writer lays down.
    ContainerBytes {
        /// The first such place, in words.
        first: String,
        /// How many more there are.
        more: u64,
    },
    /// Entries are missing, unknown or out of order.
    Entries,
    /// A number in the tables that a machine must not run.
    Header {
        /// What is wrong, a sentence.
        what: String,
    },
    /// The index does not have the announced number of rows.
    LayerCount {
        /// What the header says.
        announced: u32,
        /// What the index lists.
        listed: u32,
    },
    /// A layer cannot be read.
    Unreadable {
        /// How it fails.
        fault: LayerFault,
        /// What is wrong, a sentence.
        what: String,
    },
    /// Counts, lengths or bounds of a layer are not what its row says.
    LayerRow {
        /// What differs, in words.
        difference: String,
    },
    /// A point of a layer lies outside the build space.
    OutsideBuildSpace {
        /// Size of the build space, mm.
        build_space_mm: [f64; 3],
    },
    /// The totals are not the sums of the rows.
    Totals,
}

/// How a layer of a vector file is unreadable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LayerFault {
    /// Its entry is damaged.
    Container,
    /// It has no entry.
    Missing,
    /// Its bytes are not those of the index.
    Checksum,
    /// Its bytes break the specification.
    Malformed,
    /// Another layer stands in its place.
    Swapped,
}

const DO_NOT_RUN: &str = "Do not run this file; write it again.";

impl VectorFileProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::ContainerBytes { first, more } => container_bytes(first, *more),
            Self::Entries => said(
                Kind::Entries,
                "The container does not hold exactly the layers of its index, in order, and the \
                 manifest last.",
            )
            .stop(DO_NOT_RUN)
            .limit("one entry for each layer, then the manifest", FileFormat),
            Self::Header { what } => said(Kind::Header, what.clone())
                .stop(DO_NOT_RUN)
                .limit("see the sentence", FileFormat),
            Self::LayerCount { announced, listed } => said(
                Kind::LayerCount,
                format!("The header announces {announced} layers, the index lists {listed}."),
            )
            .stop(DO_NOT_RUN)
            .limit("as many as announced", FileFormat),
            Self::Unreadable { fault, what } => unreadable(*fault, what),
            Self::LayerRow { difference } => said(
                Kind::LayerRow,
                format!("The layer does not match its row in the index: {difference}."),
            )
            .stop(DO_NOT_RUN)
            .limit("what the row says", FileFormat),
            Self::OutsideBuildSpace { build_space_mm: [x, y, z] } => {
                said(Kind::VectorOutsideBuildSpace, "A vector leaves the build space.")
                    .stop(DO_NOT_RUN)
                    .limit(format!("{x} × {y} × {z} mm"), Machine)
            }
            Self::Totals => said(Kind::Totals, "The totals are not the sums of the layers' rows.")
                .stop(DO_NOT_RUN)
                .limit("the sums of the rows", FileFormat),
        }
    }
}

fn container_bytes(first: &str, more: u64) -> Entry {
    let more = if more == 0 { String::new() } else { format!(", and {more} more such places") };
    let sentence = format!("The file was changed or written by another program: {first}{more}.");
    said(Kind::ContainerBytes, sentence)
        .caution("Compare with the original, or write it again.")
        .limit("the bytes that a writer lays down", FileFormat)
}

fn unreadable(fault: LayerFault, what: &str) -> Entry {
    let (kind, allowed) = match fault {
        LayerFault::Container => (Kind::Container, "entries that can be unpacked"),
        LayerFault::Missing => (Kind::LayerMissing, "one entry for each layer"),
        LayerFault::Checksum => (Kind::LayerChecksum, "the SHA-256 of the index"),
        LayerFault::Malformed => (Kind::LayerMalformed, "the layout of a layer entry"),
        LayerFault::Swapped => (Kind::LayerSwapped, "the number of the entry's name"),
    };
    said(kind, what).stop(DO_NOT_RUN).limit(allowed, FileFormat)
}
