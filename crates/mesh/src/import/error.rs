//! Why a file could not be imported.

use base::Cancelled;

/// Why a file could not be imported: what is wrong, where, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ImportError {
    /// There are no bytes.
    #[error("the file is empty; export it again")]
    Empty,
    /// The bytes could not be had.
    #[error("the file could not be read from byte {from} on ({problem}); try again")]
    Read {
        /// First byte that is missing.
        from: u64,
        /// What the reader said.
        problem: String,
    },
    /// The bytes are of another format than the one asked for.
    #[error("the file is not {expected}: {reason}; check its extension, or export it again")]
    WrongFormat {
        /// Format that was asked for.
        expected: &'static str,
        /// How one can tell.
        reason: String,
    },
    /// A binary file ends in the middle of a record.
    #[error(
        "the file is cut short at byte {length}: record {record} needs bytes {needed_from} to \
         {needed_to}; copy or export it again"
    )]
    Truncated {
        /// Length of the file, bytes.
        length: u64,
        /// Record that is incomplete, from 0.
        record: u64,
        /// First byte of the record.
        needed_from: u64,
        /// The byte after its last.
        needed_to: u64,
    },
    /// A line of a text file cannot be understood.
    #[error("line {line}: {problem}; export the file again, or correct the line")]
    Line {
        /// Line number, from 1.
        line: u64,
        /// What is wrong.
        problem: String,
    },
    /// The ZIP container of a 3MF file, or its relations, are not as they must be.
    #[error("3MF package: {problem}; export the file again")]
    Package {
        /// What is wrong.
        problem: String,
    },
    /// A part inside a 3MF file breaks the 3MF core specification.
    #[error("3MF part {part}, byte {offset}: {problem}; export the file again")]
    Model {
        /// Name of the part inside the package.
        part: String,
        /// Byte in the unpacked part, from 0, near the problem.
        offset: u64,
        /// What is wrong.
        problem: String,
    },
    /// A 3MF file needs a part of the standard that is not read here.
    #[error(
        "the 3MF file requires the extension {namespace}, which is not supported; export it \
         without this extension"
    )]
    RequiredExtension {
        /// XML namespace of the extension.
        namespace: String,
    },
    /// More than a stated limit.
    #[error("the file holds more than {limit} {what}, the limit; split it into smaller files")]
    TooLarge {
        /// What there is too much of.
        what: &'static str,
        /// The limit.
        limit: u64,
    },
    /// Understood, but without a single usable triangle.
    #[error("the file holds no usable triangle; export it again as a triangle mesh{detail}")]
    NoTriangles {
        /// Empty, or what was found instead, in parentheses.
        detail: String,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
