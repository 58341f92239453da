//! The names of all kinds of findings.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// Declares [`Kind`] with a name for files beside every variant, and the list of all.
macro_rules! kinds {
    ($($kind:ident $key:literal,)*) => {
        /// Which kind of problem a finding is about, without its numbers.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[expect(missing_docs, reason = "what each means stands where its sentence does")]
        pub enum Kind {
            $($kind,)*
        }

        impl Kind {
            /// All kinds, in the order of the work: files, meshes, job, layers, arrangement, result.
            pub const ALL: &[Self] = &[$(Self::$kind,)*];

            /// Stable short name, `snake_case`, for machines and tests.
            pub fn as_str(self) -> &'static str {
                match self {
                    $(Self::$kind => $key,)*
                }
            }
        }
    };
}

impl Kind {
    /// The kind of this name, see [`Self::as_str`].
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.as_str() == name)
    }

    /// Its name as words: "weak wall".
    pub fn words(self) -> String {
        self.as_str().replace('_', " ")
    }
}

kinds! {
    // mesh files
    CornersNotFinite "corners_not_finite",
    NormalsDisagree "normals_disagree",
    SizeSuggestsMetres "size_suggests_metres",
    SizeSuggestsInches "size_suggests_inches",
    SizeSuggestsMicrons "size_suggests_microns",
    CountFieldWrong "count_field_wrong",
    TrailingBytes "trailing_bytes",
    EndsolidMissing "endsolid_missing",
    SolidNamesDiffer "solid_names_differ",
    NormalsMissing "normals_missing",
    SolidsJoined "solids_joined",
    FacesTooShort "faces_too_short",
    CurvedSurfacesIgnored "curved_surfaces_ignored",
    UnitOverruled "unit_overruled",
    SurfaceNotSolid "surface_not_solid",
    SupportsLeftOut "supports_left_out",
    ExtensionIgnored "extension_ignored",
    // meshes
    EmptyMesh "empty_mesh",
    UnusableTriangles "unusable_triangles",
    OpenEdges "open_edges",
    OverSharedEdges "over_shared_edges",
    InconsistentOrientation "inconsistent_orientation",
    DegenerateTriangles "degenerate_triangles",
    DuplicateTriangles "duplicate_triangles",
    SelfIntersections "self_intersections",
    NoVolume "no_volume",
    InsideOut "inside_out",
    Cavities "cavities",
    NestedShells "nested_shells",
    TrappedPowder "trapped_powder",
    DeepPassage "deep_passage",
    WeakWall "weak_wall",
    NarrowGap "narrow_gap",
    // the job
    EarlierVersion "earlier_version",
    GrowthRounded "growth_rounded",
    EnergyOutsideWindow "energy_outside_window",
    OutsideCommonPractice "outside_common_practice",
    MissingMesh "missing_mesh",
    OutsideBuildSpace "outside_build_space",
    UnevenCorrection "uneven_correction",
    NothingToBuild "nothing_to_build",
    Unplaced "unplaced",
    SelectionDoesNotFit "selection_does_not_fit",
    AcceptanceGone "acceptance_gone",
    NotAcceptable "not_acceptable",
    // layers
    ThinWallsRescued "thin_walls_rescued",
    ThinWallsLost "thin_walls_lost",
    FilmsLost "films_lost",
    OpenSections "open_sections",
    InexactSections "inexact_sections",
    PlacementsOverlap "placements_overlap",
    CentrelinesFailed "centrelines_failed",
    // heat
    AreaJump "area_jump",
    FlatStart "flat_start",
    NearWall "near_wall",
    LongAlongSpreading "long_along_spreading",
    ReheatedSoon "reheated_soon",
    // mirrors and laser
    OutsideField "outside_field",
    PathsStartSlowly "paths_start_slowly",
    CornersSlow "corners_slow",
    LightTooShort "light_too_short",
    LightTooLong "light_too_long",
    // arrangement
    Overlap "overlap",
    Clearance "clearance",
    WallClearance "wall_clearance",
    Enclosed "enclosed",
    Hooked "hooked",
    Threaded "threaded",
    Held "held",
    // vector file, by itself
    ContainerBytes "container_bytes",
    Entries "entries",
    Header "header",
    LayerCount "layer_count",
    Container "container",
    LayerMissing "layer_missing",
    LayerChecksum "layer_checksum",
    LayerMalformed "layer_malformed",
    LayerSwapped "layer_swapped",
    LayerRow "layer_row",
    VectorOutsideBuildSpace "vector_outside_build_space",
    Totals "totals",
    // vectors against the job
    HeaderDiffers "header_differs",
    SourcesChanged "sources_changed",
    NotAskedFor "not_asked_for",
    OrderDiffers "order_differs",
    MarkOutside "mark_outside",
    MarkShallow "mark_shallow",
    MarkElsewhere "mark_elsewhere",
    HatchAstray "hatch_astray",
    HatchSpacing "hatch_spacing",
    HatchBackwards "hatch_backwards",
    HatchMissing "hatch_missing",
    HatchRepeated "hatch_repeated",
    ContourMissing "contour_missing",
    ContourRepeated "contour_repeated",
    ContourAstray "contour_astray",
    ContourOpen "contour_open",
    CentrelineMissing "centreline_missing",
    CentrelineRepeated "centreline_repeated",
    CentrelineAstray "centreline_astray",
    DoseDiffers "dose_differs",
    // what will melt
    PieceVanishes "piece_vanishes",
    PiecesMerge "pieces_merge",
    HoleFills "hole_fills",
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for Kind {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.as_str())
    }
}

impl<'de> Deserialize<'de> for Kind {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        let unknown = || D::Error::custom(format_args!("No finding is of a kind {name:?}"));
        Self::from_name(&name).ok_or_else(unknown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_name_is_the_variants_own_in_small_letters() {
        for kind in Kind::ALL {
            let joined: String = kind.as_str().split('_').collect();
            assert_eq!(joined, format!("{kind:?}").to_lowercase());
            assert_eq!(Kind::from_name(kind.as_str()), Some(*kind));
        }
        assert_eq!(Kind::ALL.iter().collect::<BTreeSet<_>>().len(), Kind::ALL.len());
    }
}
