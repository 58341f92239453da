//! What the estimated dose of all layers says is lost of a part, and how true its boundary comes out.

use crate::jobs::standing_with;
use crate::solids::{cuboid, joined, moved, reversed};
use crate::{Provoked, found};
use base::{Cancelled, Finding, Kind, Progress};
use job::Recipe;
use mesh::Mesh;
use pipeline::{
    BuildDose, DoseError, LayerChoice, Stated, build_dose, proposed_offsets, write_vector_file,
};

const ALL: LayerChoice = LayerChoice { first: 0, last: None, step: 1 };

/// The file of a part, written and looked through.
fn dosed(
    mesh: &Mesh,
    change: impl Fn(&mut Recipe),
    layers: LayerChoice,
    progress: &Progress,
) -> Result<BuildDose, DoseError> {
    let build = standing_with(mesh, change);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("part.hwv");
    write_vector_file(&build, &path, &Progress::default()).unwrap();
    build_dose(&path, &build, layers, &Stated::default(), progress)
}

fn as_drawn(mesh: &Mesh) -> BuildDose {
    dosed(mesh, |_| {}, ALL, &Progress::default()).unwrap()
}

fn provoked(mesh: &Mesh) -> Provoked {
    let predictions = as_drawn(mesh).predictions.into_iter();
    found(predictions.flat_map(|prediction| prediction.findings).collect())
}

fn block() -> Mesh {
    cuboid([0.0; 3], [6.0, 6.0, 0.5])
}

/// A wall that the recipe leaves out.
pub(crate) fn piece_vanishes() -> Provoked {
    provoked(&joined(&block(), &moved(&cuboid([0.0; 3], [0.06, 6.0, 0.5]), [9.0, 0.0, 0.0])))
}

/// Two blocks far nearer to each other than the beam is wide.
pub(crate) fn pieces_merge() -> Provoked {
    provoked(&joined(&block(), &moved(&block(), [6.05, 0.0, 0.0])))
}

/// A hole far narrower than the beam.
pub(crate) fn hole_fills() -> Provoked {
    provoked(&joined(&block(), &reversed(&cuboid([2.0, 2.0, 0.0], [2.1, 2.1, 0.5]))))
}

/// A block with a square hole that tapers from 1.2 mm at the bottom to nothing shortly below the top, layers
/// being 0.1 mm thick, and beside it one of 0.1 mm from bottom to top.
fn with_tapering_hole() -> Mesh {
    let mut taper = cuboid([1.0, 1.0, 0.0], [2.2, 2.2, 2.9]);
    for vertex in taper.vertices.iter_mut().filter(|vertex| vertex[2] > 0.0) {
        *vertex = [1.6, 1.6, 2.9];
    }
    let narrow = cuboid([4.0, 2.0, 0.0], [4.1, 2.1, 3.0]);
    let holes = reversed(&joined(&taper, &narrow));
    joined(&cuboid([0.0; 3], [6.0, 6.0, 3.0]), &holes)
}

#[test]
fn a_hole_that_closes_over_many_layers_is_one_finding() {
    let dose = as_drawn(&with_tapering_hole());
    assert_eq!((dose.looked_at, dose.used), (30, 30));
    let [nominal, steady] = &dose.predictions[..] else { panic!("{:?}", dose.predictions) };
    let [narrow, taper] = &nominal.findings[..] else { panic!("{:?}", nominal.findings) };
    assert_eq!([narrow.kind(), taper.kind()], [Kind::HoleFills; 2]);
    assert_eq!(narrow.place.layers, Some((0, 29)));
    assert!(narrow.sentence().starts_with("A hole up to 0.100 mm wide melts over, in 30 layers"));
    // More dose is needed where the powder lies deeper: it stays open for longer there.
    let [less] = &steady.findings[..] else { panic!("{:?}", steady.findings) };
    let first = |finding: &Finding| finding.place.layers.unwrap().0;
    assert!(first(less) > first(taper));
    for taper in [taper, less] {
        // The part's middle stands at (0, 0); half-way up layer k the hole is 1.2·(1 − (k + ½)/29) wide, and
        // is gone in the last.
        let (first, last) = taper.place.layers.unwrap();
        assert_eq!(last, 28);
        let width = 1.2 * (1.0 - (f64::from(first) + 0.5) / 29.0);
        let said = format!("A hole up to {width:.2}");
        assert!(taper.sentence().starts_with(&said), "{taper} instead of {said}");
        let [x, y, z] = taper.place.point_mm.unwrap();
        let middle = [x + 1.4, y + 1.4, z - 0.1 * (f64::from(first) + 0.5)];
        assert!(middle.iter().all(|c| c.abs() < 2e-3), "{taper}");
        // Contours melt 2·0.184 mm wide, and run that far apart and more: wider holes stay open.
        assert!((0.03..0.37).contains(&width), "{taper}");
    }
}

#[test]
fn a_boundary_lies_off_by_what_the_offset_is_off() {
    let by = |mm: f64| {
        move |recipe: &mut Recipe| {
            let machine = crate::jobs::machine();
            let proposed = proposed_offsets(recipe, &machine).unwrap();
            recipe.beam_offset_mm = proposed.nominal_mm.unwrap() + mm;
        }
    };
    // An offset too large by 50 µm leaves the melt that far inside; the formula for the offset takes the
    // hatch as even, which on this recipe is wrong by less than 2 µm.
    for (mm, share) in [(0.0, 1.0), (0.05, 0.0)] {
        let dose = dosed(&block(), by(mm), ALL, &Progress::default()).unwrap();
        let nominal = &dose.predictions[0];
        let away = nominal.boundary_away.unwrap();
        assert!((away.mean_mm.unwrap() + mm).abs() < 2e-3, "{away:?}");
        assert!((away.true_share - share).abs() < 0.01, "{away:?}");
        assert!(nominal.boundary.unwrap().places > away.places, "a block has corners");
        // To either side of each of four corners the boundary is sharp as far as a stretch of 2w about it ends
        // nearer than on a circle of radius w: √(2d² + 2w²) < 2w·sin 1; and near it for another 1.5 w.
        let w = dose.beam_radius_mm;
        let near = w * ((2.0 * 1.0_f64.sin().powi(2) - 1.0).sqrt() + 1.5);
        let expected = 5.0 * (24.0 - 8.0 * near) / 0.05; // five layers, a place every 0.05 mm
        assert!((away.places as f64 - expected).abs() <= 40.0, "{away:?} instead of {expected}");
        let contours = dose.contours;
        assert_eq!((contours.closed, contours.contours), (5, 5));
        // a square of 6 mm less twice the offset, in five layers
        let side = 6.0 - 2.0 * (proposed(mm));
        assert!((contours.contours_mm - 5.0 * 4.0 * side).abs() < 1e-3, "{contours:?}");
    }
}

/// The beam offset that the recipe of these tests gets, and some mm more.
fn proposed(more_mm: f64) -> f64 {
    let offsets = proposed_offsets(&crate::jobs::recipe(), &crate::jobs::machine()).unwrap();
    offsets.nominal_mm.unwrap() + more_mm
}

#[test]
fn the_dose_of_layers_is_the_same_on_any_number_of_threads_and_can_be_cancelled() {
    let layers = LayerChoice { first: 3, last: Some(20), step: 4 };
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let mesh = with_tapering_hole();
        pool.install(|| dosed(&mesh, |_| {}, layers, &Progress::default()).unwrap())
    };
    let one = on(1);
    assert_eq!(one, on(3));
    assert_eq!(one.looked_at, 5, "3, 7, 11, 15 and 19");

    let cancelled = Progress::default();
    cancelled.cancel();
    let ended = dosed(&block(), |_| {}, ALL, &cancelled);
    assert!(matches!(ended, Err(DoseError::Cancelled(Cancelled))), "{ended:?}");
    let beyond = LayerChoice { first: 2, last: Some(5), step: 1 };
    let ended = dosed(&block(), |_| {}, beyond, &Progress::default());
    assert!(matches!(ended, Err(DoseError::NoSuchLayers { count: 5, .. })), "{ended:?}");
}
