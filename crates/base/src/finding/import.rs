//! What is odd about a mesh file that can be read all the same.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::{CommonPractice, FileFormat, Geometry, Program};
use crate::Unit;

/// Oddities of STL files.
#[derive(Clone, Debug, PartialEq)]
pub enum StlProblem {
    /// The header of the binary form announces another number of triangles than there are.
    CountFieldWrong {
        /// What byte 80 says.
        announced: u64,
        /// What the bytes hold.
        held: u64,
    },
    /// Bytes after the last triangle of the binary form.
    TrailingBytes {
        /// How many.
        count: u64,
        /// The first of them.
        from: u64,
    },
    /// Text after `endsolid` that is no STL.
    TextAfterEnd {
        /// Where, from 1.
        line: u64,
    },
    /// The text form ends without `endsolid`.
    EndsolidMissing {
        /// Where, from 1.
        line: u64,
    },
    /// `endsolid` has another name than `solid`.
    SolidNamesDiffer {
        /// Where, from 1.
        line: u64,
    },
    /// A facet has no normal.
    NormalsMissing {
        /// The first such line, from 1.
        line: u64,
    },
    /// Several solids in one file.
    SolidsJoined {
        /// How many.
        solids: u64,
    },
}

impl StlProblem {
    pub(super) fn entry(&self) -> Entry {
        match *self {
            Self::CountFieldWrong { announced, held } => count_field_wrong(announced, held),
            Self::TrailingBytes { count, from } => said(
                Kind::TrailingBytes,
                format!("{count} bytes after the last triangle (from byte {from}) were ignored."),
            )
            .caution("Check that the part is complete.")
            .limit("none", FileFormat),
            Self::TextAfterEnd { line } => said(
                Kind::TrailingBytes,
                format!("Line {line}: what follows \"endsolid\" is not STL and was ignored."),
            )
            .caution("Check that the part is complete.")
            .limit("nothing but further solids", FileFormat),
            Self::EndsolidMissing { line } => said(
                Kind::EndsolidMissing,
                format!(
                    "Line {line}: the file ends without \"endsolid\"; it may have been cut short."
                ),
            )
            .caution("Compare with the original.")
            .limit("every solid ends with \"endsolid\"", FileFormat),
            Self::SolidNamesDiffer { line } => said(
                Kind::SolidNamesDiffer,
                format!("Line {line}: \"endsolid\" has another name than \"solid\"."),
            )
            .note("")
            .limit("the same name", FileFormat),
            Self::NormalsMissing { line } => said(
                Kind::NormalsMissing,
                format!(
                    "Line {line}: a facet has no normal (the first such line). The order of the \
                     corners was used."
                ),
            )
            .note("")
            .limit("a normal in every facet", FileFormat),
            Self::SolidsJoined { solids } => said(
                Kind::SolidsJoined,
                format!("The file holds {solids} solids; they were read as one part."),
            )
            .note("")
            .limit("one solid is one part", Program),
        }
    }
}

fn count_field_wrong(announced: u64, held: u64) -> Entry {
    let (sentence, advice) = if announced > held {
        let sentence = format!(
            "The header (byte 80) announces {announced} triangles, the file holds {held}. Either \
             the header is wrong or the file was cut short."
        );
        (sentence, "Compare with the original.")
    } else {
        let sentence = format!(
            "The header (byte 80) announces {announced} triangles, the bytes hold {held} whole \
             ones; all were read."
        );
        (sentence, "Check that the part looks right.")
    };
    said(Kind::CountFieldWrong, sentence)
        .caution(advice)
        .limit("the number of triangles in the file", FileFormat)
}

/// Oddities that more than one format may have, or formats other than STL.
#[derive(Clone, Debug, PartialEq)]
pub enum FileProblem {
    /// Triangles left out because a corner is not finite.
    CornersNotFinite {
        /// How many.
        count: u64,
        /// What the place counts: `byte` or `line`.
        place_name: &'static str,
        /// Where the first is.
        first: u64,
    },
    /// Stored normals that point against the order of their corners.
    NormalsDisagree {
        /// How many.
        count: u64,
        /// What the place counts: `byte` or `line`.
        place_name: &'static str,
        /// Where the first is.
        first: u64,
    },
    /// The size suggests that the file is in metres, inches or microns.
    SizeSuggests {
        /// The more likely unit.
        unit: SuggestedUnit,
        /// The largest side as read, mm.
        largest_mm: f64,
        /// The largest side if the file is in that unit, mm.
        then_mm: f64,
        /// The side from which on another unit is more likely, mm.
        limit_mm: f64,
    },
    /// Faces with fewer than three corners (OBJ).
    FacesTooShort {
        /// How many.
        count: u64,
        /// The first line, from 1.
        line: u64,
    },
    /// Curved surfaces, which are not read (OBJ).
    CurvedSurfacesIgnored {
        /// How many statements.
        count: u64,
        /// The first line, from 1.
        line: u64,
    },
    /// The person stated another unit than the file (3MF).
    UnitOverruled {
        /// The file's.
        stated: Unit,
        /// The person's.
        used: Unit,
    },
    /// The file says that an object is a surface (3MF).
    SurfaceNotSolid,
    /// Support structures that were left out (3MF).
    SupportsLeftOut {
        /// How many.
        count: u32,
    },
    /// Content of an extension that was left out (3MF).
    ExtensionIgnored {
        /// The extension's XML namespace.
        namespace: String,
    },
}

/// A unit that the size of a file may suggest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SuggestedUnit {
    /// The part is smaller than most parts.
    Metres,
    /// The part is small.
    Inches,
    /// The part is larger than any machine of this kind builds.
    Microns,
}

impl FileProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::CornersNotFinite { count, place_name, first } => {
                corners_not_finite(*count, place_name, *first)
            }
            Self::NormalsDisagree { count, place_name, first } => {
                normals_disagree(*count, place_name, *first)
            }
            Self::SizeSuggests { unit, largest_mm, then_mm, limit_mm } => {
                size_suggests(*unit, *largest_mm, *then_mm, *limit_mm)
            }
            Self::FacesTooShort { count, line } => faces_too_short(*count, *line),
            Self::CurvedSurfacesIgnored { count, line } => curved_surfaces(*count, *line),
            Self::UnitOverruled { stated, used } => said(
                Kind::UnitOverruled,
                format!("The file says {stated:?}; it was read as {used:?}, as you asked.")
                    .to_lowercase(),
            )
            .note("")
            .limit("the unit that the file states", FileFormat),
            Self::SurfaceNotSolid => {
                said(Kind::SurfaceNotSolid, "The file says that this is a surface, not a solid.")
                    .caution("See whether its health report finds it closed.")
                    .limit("objects of type \"model\"", FileFormat)
            }
            Self::SupportsLeftOut { count } => said(
                Kind::SupportsLeftOut,
                format!("Support structures left out: {count}. The powder carries the parts."),
            )
            .note("")
            .limit("none are needed in powder", CommonPractice),
            Self::ExtensionIgnored { namespace } => said(
                Kind::ExtensionIgnored,
                format!("Objects hold content of the extension {namespace}, which was left out."),
            )
            .caution("Check that the part is complete.")
            .limit("the core specification, and objects of the production extension", Program),
        }
    }
}

fn corners_not_finite(count: u64, place_name: &str, first: u64) -> Entry {
    let sentence = format!(
        "Triangles left out because a corner is not a number or infinite: {count}, the first at \
         {place_name} {first}. The part has holes there."
    );
    said(Kind::CornersNotFinite, sentence).caution("Export it again.").limit("none", Geometry)
}

fn normals_disagree(count: u64, place_name: &str, first: u64) -> Entry {
    let sentence = format!(
        "Stored normals that point against the order of their corners: {count}, the first at \
         {place_name} {first}. The order of the corners was used."
    );
    said(Kind::NormalsDisagree, sentence).note("").limit("less than 120° apart", CommonPractice)
}

fn size_suggests(unit: SuggestedUnit, largest_mm: f64, then_mm: f64, limit_mm: f64) -> Entry {
    let (kind, name, side) = match unit {
        SuggestedUnit::Metres => (Kind::SizeSuggestsMetres, "metres", "at least"),
        SuggestedUnit::Inches => (Kind::SizeSuggestsInches, "inches", "at least"),
        SuggestedUnit::Microns => (Kind::SizeSuggestsMicrons, "microns", "at most"),
    };
    let sentence = format!(
        "The largest side measures {largest_mm:.4} mm. If the file is in {name}, it is \
         {then_mm:.1} mm."
    );
    let found = said(kind, sentence);
    let found = if unit == SuggestedUnit::Inches {
        // Many parts are that small.
        found.note("If it is too small, import it again with that unit.")
    } else {
        found.caution("Import it again with that unit, or state the unit to keep this size.")
    };
    found.limit(format!("{side} {limit_mm} mm"), CommonPractice)
}

fn faces_too_short(count: u64, line: u64) -> Entry {
    let sentence = format!(
        "Faces with fewer than three corners, left out: {count}, the first in line {line}."
    );
    said(Kind::FacesTooShort, sentence).note("").limit("three corners", Geometry)
}

fn curved_surfaces(count: u64, line: u64) -> Entry {
    let what = counted(count, "statement", "statements");
    let sentence = format!(
        "Curved surfaces are not read and were left out: {what}, the first in line {line}."
    );
    said(Kind::CurvedSurfacesIgnored, sentence)
        .caution("Export the part as polygons.")
        .limit("polygons", Program)
}
