//! What the health check of a mesh finds.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::Geometry;
use super::severity::Severity;

/// Faults of edges and triangles.
#[derive(Clone, Debug, PartialEq)]
pub enum SurfaceProblem {
    /// There is no triangle.
    EmptyMesh,
    /// Corners that do not exist or are not finite.
    UnusableTriangles {
        /// How many triangles.
        count: u64,
    },
    /// Edges with a triangle on one side only.
    OpenEdges {
        /// How many edges.
        count: u64,
    },
    /// Edges with more than two triangles.
    OverSharedEdges {
        /// How many edges.
        count: u64,
        /// Whether as many triangles run along each edge one way as the other, so that solids
        /// only touch.
        balanced: bool,
    },
    /// Edges whose two triangles disagree on which side is outside.
    InconsistentOrientation {
        /// How many edges.
        count: u64,
    },
    /// Triangles whose corners lie on one line.
    DegenerateTriangles {
        /// How many.
        count: u64,
    },
    /// Triangles with the same three vertices as another.
    DuplicateTriangles {
        /// How many.
        count: u64,
    },
    /// Pairs of triangles that touch or cross without a common vertex.
    SelfIntersections {
        /// How many pairs.
        count: u64,
        /// How many of them are of two different shells.
        between_shells: u64,
        /// Whether there are so many neighbours that not all were looked at.
        ended_early: bool,
    },
}

impl SurfaceProblem {
    pub(super) fn entry(&self) -> Entry {
        match *self {
            Self::EmptyMesh => said(Kind::EmptyMesh, "The mesh has no triangles.")
                .stop("Check the file and its export settings.")
                .limit("at least one triangle", Geometry),
            Self::UnusableTriangles { count } => unusable_triangles(count),
            Self::OpenEdges { count } => open_edges(count),
            Self::OverSharedEdges { count, balanced } => over_shared_edges(count, balanced),
            Self::InconsistentOrientation { count } => inconsistent_orientation(count),
            Self::DegenerateTriangles { count } => degenerate_triangles(count),
            Self::DuplicateTriangles { count } => duplicate_triangles(count),
            Self::SelfIntersections { count, between_shells, ended_early } => {
                self_intersections(count, between_shells, ended_early)
            }
        }
    }
}

fn unusable_triangles(count: u64) -> Entry {
    let what = counted(count, "triangle has", "triangles have");
    let sentence = format!(
        "{what} a corner that does not exist or is not a finite number, and cannot be built."
    );
    said(Kind::UnusableTriangles, sentence).stop("Export the file anew.").limit("none", Geometry)
}

fn open_edges(count: u64) -> Entry {
    let what = counted(count, "edge has", "edges have");
    let sentence = format!(
        "{what} a triangle on one side only: the surface has a hole or a gap there. Contours that \
         end at it are closed by a straight line."
    );
    said(Kind::OpenEdges, sentence)
        .caution("Check the layers around it, or close the surface.")
        .limit("none: the surface of a solid is closed", Geometry)
}

fn over_shared_edges(count: u64, balanced: bool) -> Entry {
    let (severity, meaning, advice) = if balanced {
        (
            Severity::Note,
            "solids touch along a line there. They are sliced as separate solids; the bond \
             between them is weak.",
            "",
        )
    } else {
        (
            Severity::Caution,
            "a surface ends on another there, and contours may end with it.",
            "Remove the extra surface, or check the layers around it.",
        )
    };
    let what = counted(count, "edge has", "edges have");
    said(Kind::OverSharedEdges, format!("{what} more than two triangles: {meaning}"))
        .of(severity, advice)
        .limit("two triangles at each edge", Geometry)
}

fn inconsistent_orientation(count: u64) -> Entry {
    let what = counted(count, "edge lies", "edges lie");
    let sentence = format!(
        "{what} between triangles that disagree on which side is outside: some of them face the \
         wrong way, and material may be missing or added there."
    );
    said(Kind::InconsistentOrientation, sentence)
        .caution("Make the orientation of the mesh consistent.")
        .limit("none: every triangle faces outside", Geometry)
}

fn degenerate_triangles(count: u64) -> Entry {
    let what = counted(count, "triangle has", "triangles have");
    let sentence =
        format!("{what} no area, the corners lie on one line. Sections are not affected.");
    said(Kind::DegenerateTriangles, sentence).note("").limit("none", Geometry)
}

fn duplicate_triangles(count: u64) -> Entry {
    let what = counted(count, "triangle has", "triangles have");
    let sentence = format!(
        "{what} the same three vertices as another: a surface lies there twice, or is a wall \
         without thickness."
    );
    said(Kind::DuplicateTriangles, sentence).caution("Remove the copies.").limit("none", Geometry)
}

fn self_intersections(count: u64, between_shells: u64, ended_early: bool) -> Entry {
    let what =
        counted(count, "pair of triangles touches or crosses", "pairs of triangles touch or cross");
    let whose = match between_shells {
        0 => "all within one shell".to_owned(),
        n if n == count => "all between different shells".to_owned(),
        n => format!("{n} of them between different shells"),
    };
    let more = if ended_early {
        " There may be more: so many triangles are next to each other that not all pairs were looked at."
    } else {
        ""
    };
    let sentence =
        format!("{what}, {whose}.{more} Overlapping solids are merged in every section.");
    said(Kind::SelfIntersections, sentence)
        .caution("Where a single surface crosses itself, check the layers around it.")
        .limit("none: a surface does not meet itself", Geometry)
}

/// What is odd about the volumes that shells enclose.
#[derive(Clone, Debug, PartialEq)]
pub enum ShellProblem {
    /// The mesh encloses no volume at all.
    NoVolume,
    /// Closed shells whose triangles face inwards, though no solid surrounds them.
    InsideOut {
        /// How many shells.
        shells: u64,
        /// What they enclose, mm³.
        volume_mm3: f64,
        /// Whether that is the whole mesh.
        whole_mesh: bool,
    },
    /// Closed hollows without an opening.
    Cavities {
        /// How many.
        count: u64,
        /// What they hold, mm³.
        volume_mm3: f64,
    },
    /// Solids wholly inside another solid.
    NestedShells {
        /// How many.
        count: u64,
        /// Their volume, mm³.
        volume_mm3: f64,
    },
}

impl ShellProblem {
    pub(super) fn entry(&self) -> Entry {
        match *self {
            Self::NoVolume => said(
                Kind::NoVolume,
                "The mesh encloses no volume: sections of surfaces without thickness are empty.",
            )
            .caution("Give the surfaces a thickness.")
            .limit("more than 0 mm³", Geometry),
            Self::InsideOut { shells, volume_mm3, whole_mesh } => {
                inside_out(shells, volume_mm3, whole_mesh)
            }
            Self::Cavities { count, volume_mm3 } => cavities(count, volume_mm3),
            Self::NestedShells { count, volume_mm3 } => nested_shells(count, volume_mm3),
        }
    }
}

fn inside_out(shells: u64, volume_mm3: f64, whole_mesh: bool) -> Entry {
    let (sentence, advice) = if whole_mesh {
        let sentence = format!(
            "The whole mesh is inside out: its triangles face inwards around {volume_mm3:.3} mm³."
        );
        (sentence, "Turn all of them around.")
    } else {
        let what = counted(shells, "closed shell is", "closed shells are");
        let sentence = format!(
            "{what} inside out: the triangles face inwards around {volume_mm3:.3} mm³ though no \
             solid surrounds them."
        );
        let advice = "Turn their triangles around if they are solids; remove them if they are leftovers \
                      of cavities.";
        (sentence, advice)
    };
    said(Kind::InsideOut, sentence)
        .caution(advice)
        .limit("none: every triangle faces outside", Geometry)
}

fn cavities(count: u64, volume_mm3: f64) -> Entry {
    let what = counted(count, "closed cavity", "closed cavities");
    let sentence =
        format!("The part has {what} of {volume_mm3:.3} mm³ in all: powder stays locked inside.");
    said(Kind::Cavities, sentence)
        .caution("Add an opening to let it out, or fill the cavity if it is not meant.")
        .limit("none", Geometry)
}

fn nested_shells(count: u64, volume_mm3: f64) -> Entry {
    let what = counted(count, "solid lies", "solids lie");
    let sentence = format!(
        "{what} wholly inside another solid, {volume_mm3:.3} mm³ in all: overlapping material is \
         built once."
    );
    said(Kind::NestedShells, sentence)
        .note("If a cavity is meant, turn the inner shell around.")
        .limit("none", Geometry)
}
