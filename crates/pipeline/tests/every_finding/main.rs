//! Every kind of finding, provoked: the match below names a fixture for each, so that the compiler
//! asks for one when a kind is added.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod arrangements;
mod doses;
mod files;
mod heads;
mod jobs;
mod meshes;
#[path = "../../../scan_path/tests/vector_file/repack.rs"]
mod repack;
mod shapes;
mod solids;
mod vector_files;
mod vectors;

use base::Severity::{Caution, Note, Stop};
use base::{Finding, Kind, Place, Severity};

/// What a fixture found.
pub(crate) struct Provoked {
    findings: Vec<Finding>,
    /// Kinds that cannot be kept from coming along.
    along: Vec<Kind>,
}

pub(crate) fn found(findings: Vec<Finding>) -> Provoked {
    Provoked { findings, along: Vec::new() }
}

impl Provoked {
    pub(crate) fn along(mut self, kinds: &[Kind]) -> Self {
        self.along.extend(kinds);
        self
    }
}

/// What is to be found, how much it matters, and what its place says.
#[expect(clippy::too_many_lines, reason = "one line for each kind")]
fn provoke(kind: Kind) -> (Provoked, Severity, &'static str) {
    match kind {
        Kind::CornersNotFinite => (files::corners_not_finite(), Caution, ""),
        Kind::NormalsDisagree => (files::normals_disagree(), Note, ""),
        Kind::SizeSuggestsMetres => (files::box_of_size(0.2), Caution, ""),
        Kind::SizeSuggestsInches => (files::box_of_size(5.0), Note, ""),
        Kind::SizeSuggestsMicrons => (files::box_of_size(20_000.0), Caution, ""),
        Kind::CountFieldWrong => (files::binary_stl(1, &[]), Caution, ""),
        Kind::TrailingBytes => (files::binary_stl(0, b"more"), Caution, ""),
        Kind::EndsolidMissing => (files::text_stl(Some("normal 0 0 1"), ""), Caution, ""),
        Kind::SolidNamesDiffer => (files::text_stl(Some("normal 0 0 1"), "endsolid b"), Note, ""),
        Kind::NormalsMissing => (files::text_stl(None, "endsolid a"), Note, ""),
        Kind::SolidsJoined => (files::two_solids(), Note, ""),
        Kind::FacesTooShort => (files::obj_with("f 1 2"), Note, ""),
        Kind::CurvedSurfacesIgnored => (files::obj_with("surf 0 1 0 1 1 2 3 4"), Caution, ""),
        Kind::UnitOverruled => (files::unit_overruled(), Note, ""),
        Kind::SurfaceNotSolid => (files::surface_not_solid(), Caution, "part"),
        Kind::SupportsLeftOut => (files::supports_left_out(), Note, ""),
        Kind::ExtensionIgnored => (files::extension_ignored(), Caution, ""),
        Kind::EmptyMesh => (meshes::empty_mesh(), Stop, ""),
        Kind::UnusableTriangles => (meshes::unusable_triangles(), Stop, ""),
        Kind::OpenEdges => (meshes::open_edges(), Caution, "point"),
        Kind::OverSharedEdges => (meshes::over_shared_edges(), Note, "point"),
        Kind::InconsistentOrientation => (meshes::inconsistent_orientation(), Caution, "point"),
        Kind::DegenerateTriangles => (meshes::degenerate_triangles(), Note, "point"),
        Kind::DuplicateTriangles => (meshes::sheet().along(&[Kind::NoVolume]), Caution, "point"),
        Kind::SelfIntersections => (meshes::self_intersections(), Caution, "point"),
        Kind::NoVolume => (meshes::sheet().along(&[Kind::DuplicateTriangles]), Caution, "point"),
        Kind::InsideOut => (meshes::inside_out(), Caution, "point"),
        Kind::Cavities => (meshes::cavities(), Caution, "point"),
        Kind::NestedShells => (meshes::nested_shells(), Note, "point"),
        Kind::TrappedPowder => (shapes::trapped_powder(), Caution, "part point"),
        Kind::DeepPassage => (shapes::deep_passage(), Caution, "part point"),
        Kind::WeakWall => (shapes::weak_wall(), Caution, "part point"),
        Kind::NarrowGap => (shapes::narrow_gap(), Caution, "part point"),
        Kind::EarlierVersion => (jobs::earlier_version(), Note, "part"),
        Kind::GrowthRounded => (jobs::growth_rounded(), Note, "part"),
        Kind::EnergyOutsideWindow => (jobs::energy_outside_window(), Caution, "part"),
        Kind::OutsideCommonPractice => (jobs::outside_common_practice(), Caution, "part"),
        Kind::MissingMesh => (jobs::missing_mesh(), Stop, "part"),
        Kind::OutsideBuildSpace => (jobs::outside_build_space(), Stop, "placement"),
        Kind::UnevenCorrection => (jobs::uneven_correction(), Caution, "placement"),
        Kind::NothingToBuild => (jobs::nothing_to_build(), Stop, ""),
        Kind::Unplaced => (jobs::unplaced(), Stop, "part"),
        Kind::SelectionDoesNotFit => (jobs::selection_does_not_fit(), Caution, ""),
        Kind::AcceptanceGone => (jobs::acceptance_gone(), Note, "placement layers"),
        Kind::NotAcceptable => {
            (jobs::not_acceptable().along(&[Kind::Overlap]), Caution, "placement point")
        }
        Kind::ThinWallsRescued => (jobs::thin_wall(0.3), Note, "placement layers"),
        Kind::ThinWallsLost => (jobs::thin_wall(0.06), Caution, "placement layers point"),
        Kind::FilmsLost => (jobs::films_lost(), Caution, "placement layers point"),
        Kind::OpenSections => (jobs::open_sections(), Stop, "placement layers point"),
        Kind::InexactSections => (jobs::inexact_sections(), Caution, "placement layers"),
        Kind::PlacementsOverlap => (jobs::placements_overlap(), Stop, "placement layers point"),
        Kind::CentrelinesFailed => (jobs::centrelines_failed(), Caution, "placement layers point"),
        Kind::AreaJump => (shapes::flat_start().along(&[Kind::FlatStart]), Note, "layers"),
        Kind::FlatStart => {
            (shapes::flat_start().along(&[Kind::AreaJump]), Caution, "placement layers")
        }
        Kind::NearWall => (shapes::near_wall(), Note, "placement"),
        Kind::LongAlongSpreading => (shapes::long_along_spreading(), Note, "placement"),
        Kind::ReheatedSoon => (shapes::reheated_soon(), Caution, "placement layers point"),
        Kind::OutsideField => (heads::outside_field(), Stop, "placement"),
        Kind::PathsStartSlowly => (heads::paths_start_slowly(), Note, "placement layers point"),
        Kind::CornersSlow => (heads::corners_slow(), Note, "placement layers point"),
        Kind::LightTooShort => (heads::light_too_short(), Caution, "placement layers point"),
        Kind::LightTooLong => (heads::light_too_long(), Caution, "placement layers point"),
        Kind::Overlap => (arrangements::cubes(5.0), Stop, "placement point"),
        Kind::Clearance => (arrangements::cubes(21.0), Stop, "placement point"),
        Kind::WallClearance => (arrangements::cubes(79.0), Stop, "placement point"),
        Kind::Enclosed => (arrangements::enclosed(), Stop, "placement"),
        Kind::Hooked => (arrangements::hooked(), Stop, "placement"),
        Kind::Threaded => (arrangements::threaded(), Caution, "placement"),
        Kind::Held => (arrangements::held().along(&[Kind::Threaded]), Stop, "placement"),
        Kind::ContainerBytes => (vector_files::container_bytes(), Caution, ""),
        Kind::Entries => (vector_files::entries(), Stop, ""),
        Kind::Header => (vector_files::header(), Stop, ""),
        Kind::LayerCount => (vector_files::layer_count(), Stop, ""),
        Kind::Container => (vector_files::container(), Stop, "layers"),
        Kind::LayerMissing => (vector_files::layer_missing(), Stop, "layers"),
        Kind::LayerChecksum => (vector_files::layer_checksum(), Stop, "layers"),
        Kind::LayerMalformed => (vector_files::layer_malformed(), Stop, "layers"),
        Kind::LayerSwapped => (vector_files::layer_swapped(), Stop, "layers"),
        Kind::LayerRow => (vector_files::layer_row(), Stop, "layers"),
        Kind::VectorOutsideBuildSpace => (vector_files::outside(), Stop, "layers point"),
        Kind::Totals => (vector_files::totals(), Stop, ""),
        Kind::HeaderDiffers => (vectors::header_differs(), Stop, ""),
        Kind::SourcesChanged => (vectors::sources_changed(), Note, ""),
        Kind::NotAskedFor => (vectors::not_asked_for(), Stop, "placement layers point"),
        Kind::OrderDiffers => (vectors::order_differs(), Stop, "placement layers point"),
        Kind::MarkOutside => (vectors::mark_outside(), Stop, "placement layers point"),
        Kind::MarkShallow => (vectors::mark_shallow(), Stop, "placement layers point"),
        Kind::MarkElsewhere => (vectors::mark_elsewhere(), Stop, "placement layers point"),
        Kind::HatchAstray => (vectors::hatch_astray(), Stop, "placement layers point"),
        Kind::HatchSpacing => (vectors::hatch_spacing(), Stop, "placement layers point"),
        Kind::HatchBackwards => (vectors::hatch_backwards(), Stop, "placement layers point"),
        Kind::HatchMissing => (vectors::hatch_missing(), Stop, "placement layers point"),
        Kind::HatchRepeated => (vectors::hatch_repeated(), Stop, "placement layers point"),
        Kind::ContourMissing => (vectors::contour_missing(), Stop, "placement layers point"),
        Kind::ContourRepeated => (vectors::contour_repeated(), Stop, "placement layers point"),
        Kind::ContourAstray => (vectors::contour_astray(), Stop, "placement layers point"),
        Kind::ContourOpen => (vectors::contour_open(), Stop, "placement layers point"),
        Kind::CentrelineMissing => (vectors::centreline_missing(), Stop, "placement layers point"),
        Kind::CentrelineRepeated => {
            let provoked = vectors::centreline_repeated().along(&[Kind::DoseDiffers]);
            (provoked, Stop, "placement layers point")
        }
        Kind::CentrelineAstray => {
            let provoked = vectors::centreline_astray().along(&[Kind::DoseDiffers]);
            (provoked, Stop, "placement layers point")
        }
        Kind::DoseDiffers => (vectors::dose_differs(), Stop, "placement layers point"),
        Kind::PieceVanishes => (doses::piece_vanishes(), Caution, "placement layers point"),
        Kind::PiecesMerge => (doses::pieces_merge(), Caution, "placement layers point"),
        Kind::HoleFills => (doses::hole_fills(), Caution, "placement layers point"),
    }
}

/// Which fields of a place are known, in words.
fn known(place: &Place) -> String {
    let fields = [
        ("part", place.part.is_some()),
        ("placement", place.placement.is_some()),
        ("layers", place.layers.is_some()),
        ("point", place.point_mm.is_some()),
    ];
    let known: Vec<&str> =
        fields.iter().filter(|(_, known)| *known).map(|(name, _)| *name).collect();
    known.join(" ")
}

#[test]
fn every_kind_is_found_where_its_fault_was_planted_and_nothing_else() {
    let mut wrong = Vec::new();
    for &kind in Kind::ALL {
        let (Provoked { findings, along }, severity, place) = provoke(kind);
        let others = findings.iter().filter(|f| f.kind() != kind && !along.contains(&f.kind()));
        wrong.extend(others.map(|other| format!("{kind}: also {:?}: {other}", other.kind())));
        let Some(finding) = findings.iter().find(|finding| finding.kind() == kind) else {
            wrong.push(format!("{kind}: not found"));
            continue;
        };
        let said = (finding.severity(), known(&finding.place));
        if said != (severity, place.to_owned()) {
            wrong.push(format!("{kind}: {said:?} instead of {severity} and {place:?}"));
        }
        let whole = finding.sentence().ends_with('.') && !finding.limit().allowed.is_empty();
        let advised = finding.severity() == Note || !finding.advice().is_empty();
        if !whole || !advised {
            wrong.push(format!("{kind}: sentence, advice or limit is missing: {finding}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
