//! Cautions about energies and values that are far from what was published or is usual: none for what is
//! shipped, and one for each that is far.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::{Finding, Kind, Progress};
use job::Recipe;
use pipeline::{Build, Loaded};
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn far(findings: &[Finding]) -> Vec<&Finding> {
    let kinds = [Kind::EnergyOutsideWindow, Kind::OutsideCommonPractice];
    findings.iter().filter(|finding| kinds.contains(&finding.kind())).collect()
}

/// The coupon with a recipe of `assets/`, on the machine that it is meant for.
fn coupon(recipe: &Path) -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    let text = fs::read_to_string(root().join("demo-jobs/coupon.ron")).unwrap();
    let assets = fs::canonicalize(root().join("assets")).unwrap();
    let text = text.replace("../assets/recipes/pa12.ron", &recipe.display().to_string());
    let text = text.replace("../assets", &assets.display().to_string());
    let job = folder.path().join("coupon.ron");
    fs::write(&job, text).unwrap();
    pipeline::load(&job, &Progress::default()).unwrap()
}

#[test]
fn nothing_that_is_shipped_is_far_from_what_is_usual() {
    let mut read = 0;
    for entry in fs::read_dir(root().join("assets/recipes")).unwrap() {
        let recipe = fs::canonicalize(entry.unwrap().path()).unwrap();
        assert!(far(&coupon(&recipe).findings).is_empty(), "{}", recipe.display());
        read += 1;
    }
    assert!(read >= 5);
    for entry in fs::read_dir(root().join("demo-jobs")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "ron") {
            let loaded = pipeline::load(&path, &Progress::default()).unwrap();
            assert!(far(&loaded.findings).is_empty(), "{}", path.display());
            read += 1;
        }
    }
    assert!(read >= 8);
}

fn pa12(change: impl Fn(&mut Recipe)) -> Build {
    let mut loaded = coupon(&fs::canonicalize(root().join("assets/recipes/pa12.ron")).unwrap());
    let mut recipe = loaded.recipes[0].recipe.clone();
    change(&mut recipe);
    let mesh = loaded.meshes.remove(0);
    let (job, machine) = (loaded.job, loaded.machine);
    let loaded = Loaded::assemble(job, machine, |_| Ok(recipe.clone()), |_| Ok(mesh.clone()));
    Build::new(loaded.unwrap(), &Progress::default()).unwrap()
}

fn said(change: impl Fn(&mut Recipe)) -> Vec<String> {
    let build = pa12(change);
    far(&build.findings).iter().map(|finding| finding.sentence().to_string()).collect()
}

/// 24 W at 4000 mm/s over 0.2 mm and 0.1 mm are 0.3 J/mm³ (Nelson 1993); published are 0.2 to 0.4.
#[test]
fn twenty_times_the_energy_is_a_caution_with_its_source() {
    let faster = |by: f64| {
        move |recipe: &mut Recipe| {
            recipe.exposures.iter_mut().for_each(|exposure| exposure.speed_mm_s *= by);
        }
    };
    let much = said(faster(1.0 / 20.0));
    assert_eq!(much.len(), 2, "core and down-facing: {much:?}");
    assert!(much[0].contains("core brings 6.00 J/mm³, more than was published"), "{}", much[0]);
    assert!(much[0].contains("0.20 to 0.40 J/mm³") && much[0].contains("Wegner and Witt 2012"));
    let little = said(|recipe| {
        recipe.exposures.iter_mut().for_each(|exposure| exposure.power_w *= 0.6);
    });
    assert!(little[0].contains("core brings 0.18 J/mm³, less than"), "{}", little[0]);
    assert_eq!(said(faster(0.8)), [""; 0], "0.375 and 0.25 J/mm³");
    // Every other layer filled has to melt two.
    let every_other = said(|recipe| recipe.core.hatch.as_mut().unwrap().every_nth_layer = 2);
    assert!(every_other[0].contains("core brings 0.15 J/mm³"), "{}", every_other[0]);
    // A powder that takes half the energy to melt.
    let easy = said(|recipe| {
        recipe.material.latent_heat_j_g /= 2.0;
        recipe.material.heat_capacity_j_g_k /= 2.0;
    });
    assert!(easy[0].contains("0.10 to 0.20 J/mm³ for this powder"), "{}", easy[0]);
}

#[test]
fn values_that_are_unusual_are_cautions() {
    let unusual = said(|recipe| {
        recipe.layer_thickness_mm = 0.25;
        recipe.z_growth_mm = 0.25;
        recipe.shrinkage_percent = [3.2, 12.0, -1.0];
        recipe.beam_offset_mm = 0.0184;
        recipe.hole_offset_mm = Some(0.5);
        recipe.core.hatch.as_mut().unwrap().spacing_mm = 0.5;
    });
    for (finding, begins) in unusual.iter().filter(|said| !said.contains("published")).zip([
        "The layer thickness of 0.25 mm is outside of what is usual, 0.05 to 0.2 mm.",
        "The shrinkage along Y of 12 %",
        "The shrinkage along Z of -1 %",
        "The beam offset of 0.0184 mm",
        "The hole offset of 0.5 mm is outside of what is usual, 0.063 to 0.375 mm, which is 0.25 to 1.5 \
         times the beam radius of 0.25 mm.",
        "The hatch spacing of the core of 0.5 mm",
    ]) {
        assert!(finding.starts_with(begins), "{finding}");
    }
    assert_eq!(
        unusual.iter().filter(|said| !said.contains("published")).count(),
        6,
        "{unusual:#?}"
    );
}

/// A grid of coupons steps out of the window: the placement says so, and the recipe does not.
#[test]
fn an_exposure_that_a_placement_changes_is_looked_at() {
    let mut loaded = coupon(&fs::canonicalize(root().join("assets/recipes/pa12.ron")).unwrap());
    let change =
        job::ExposureChange { name: "hatch".to_owned(), power_w: Some(1.0), speed_mm_s: None };
    loaded.job.parts[0].exposure_changes.insert(0, vec![change]);
    let build = Build::new(loaded, &Progress::default()).unwrap();
    let found = far(&build.findings);
    assert_eq!(found.len(), 1);
    assert!(found[0].place.placement.is_some());
}
