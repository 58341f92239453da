//! What mirrors and laser cannot do as they are asked to.

use crate::jobs::{loaded, of_layers};
use crate::solids::cuboid;
use crate::vectors::verified_build;
use crate::{Provoked, found};
use base::{Kind, Progress};
use job::machine::{BuildTimes, Corners, Head};
use job::recipe::{Joins, Runs};
use pipeline::{Build, Loaded, Sample, estimate_time, time_variants};

/// A plate on a machine that says how its head moves.
fn on(head: Head) -> Loaded {
    let plate = cuboid([0.0; 3], [8.0, 8.0, 0.3]);
    let mut loaded = loaded(&[("plate", Some(plate), &[([0.0, 0.0, 0.15], [0.0; 3])])], |_| {});
    loaded.machine.head = Some(head);
    loaded
}

/// A head for which no run-in is too short and no corner too sharp.
fn swift() -> Head {
    Head { acceleration_mm_s2: [1e10; 2], corners: Corners::RunPast, ..Head::TO_BEGIN_WITH }
}

fn with_run_ins(mut loaded: Loaded) -> Build {
    for exposure in loaded.recipes.iter_mut().flat_map(|entry| &mut entry.recipe.exposures) {
        (exposure.path_run_in_mm, exposure.path_run_out_mm) = (1.0, 1.0);
    }
    Build::new(loaded, &Progress::default()).unwrap()
}

pub(crate) fn outside_field() -> Provoked {
    let build = with_run_ins(on(Head { field_size_mm: [300.0, 6.0], ..swift() }));
    found(build.findings)
}

/// Contours without a run-in.
pub(crate) fn paths_start_slowly() -> Provoked {
    of_layers(&Build::new(on(swift()), &Progress::default()).unwrap())
}

pub(crate) fn corners_slow() -> Provoked {
    let mut loaded =
        on(Head { acceleration_mm_s2: [1e7; 2], corners: Corners::SlowDown, ..swift() });
    loaded.recipes[0].recipe.joins = Joins::Mitre { limit: 2.0 };
    of_layers(&with_run_ins(loaded))
}

pub(crate) fn light_too_short() -> Provoked {
    let head = Head { shortest_mark_us: 1500.0, ..swift() };
    of_layers(&with_run_ins(on(head)))
}

pub(crate) fn light_too_long() -> Provoked {
    let head = Head { longest_mark_us: Some(1000.0), ..swift() };
    of_layers(&with_run_ins(on(head)))
}

/// Each row has the run-in of its own speed, the proof works it out by itself, and another one is refused.
#[test]
fn run_ins_that_follow_from_the_head_are_proven() {
    let mut loaded = on(Head::TO_BEGIN_WITH);
    for exposure in loaded.recipes.iter_mut().flat_map(|entry| &mut entry.recipe.exposures) {
        exposure.runs = Runs::Auto;
    }
    let build = Build::new(loaded, &Progress::default()).unwrap();
    assert!(build.header.exposures.len() > 2, "walls have rows of their own");
    for row in &build.header.exposures {
        // v²/2a for 10⁷ mm/s², and 200 µs of settling
        let wanted = row.speed_mm_s * row.speed_mm_s / 2e7 + row.speed_mm_s * 2e-4;
        assert!((row.path_run_in_mm - wanted).abs() < 1e-8, "{row:?}");
        assert!((row.path_run_out_mm - wanted).abs() < 1e-8, "{row:?}");
    }
    let Provoked { findings, .. } = verified_build(&build, |_, _| {});
    assert_eq!(findings, []);
    for row in [0, build.header.exposures.len() - 1] {
        let Provoked { findings, .. } =
            verified_build(&build, |_, header| header.exposures[row].path_run_out_mm += 0.001);
        let kinds: Vec<Kind> = findings.iter().map(base::Finding::kind).collect();
        assert_eq!(kinds, [Kind::HeaderDiffers]);
    }
    let slow = of_layers(&build);
    assert!(slow.findings.iter().all(|finding| finding.kind() != Kind::PathsStartSlowly));
}

/// Parts of the time add up, and variants differ where they should.
#[test]
fn times_of_a_build_add_up() {
    let mut loaded = on(Head::TO_BEGIN_WITH);
    loaded.machine.recoat_time_s = 10.0;
    loaded.machine.times = BuildTimes { warm_up_s: 600.0, min_layer_s: 30.0, cooling_s: 900.0 };
    let build = Build::new(loaded, &Progress::default()).unwrap();
    let variants =
        time_variants(&build, Sample::of(&build, Some(1)), &Progress::default()).unwrap();
    let time = variants[0].estimate.time;
    let layers = f64::from(build.layer_count());
    assert!((time.recoat_s - 10.0 * layers).abs() < 1e-9);
    assert!(
        (time.until_done_s() - 600.0 - 30.0 * layers).abs() < 1e-6,
        "every layer waits: {time:?}"
    );
    assert!((time.total_s() - time.until_done_s() - 900.0).abs() < 1e-9);
    let timeline = |k| build.timeline(&build.layer(k, &Progress::default()).unwrap().layer);
    let beam_s: f64 = (0..build.layer_count()).map(|k| timeline(k).total_s()).sum();
    assert!((time.beam_s() - beam_s).abs() < 1e-9 && time.jumps_s > 0.0 && time.settling_s > 0.0);
    let wider = variants.iter().find(|variant| variant.change.contains("wider")).unwrap();
    assert!(wider.estimate.time.exposure_s < 0.99 * time.exposure_s, "{variants:?}");
    assert!(variants.iter().any(|variant| variant.change.contains("one way")));
    let sampled = estimate_time(&build, Sample::of(&build, Some(3)), &Progress::default()).unwrap();
    assert_eq!(sampled.layers, build.layer_count().div_ceil(3));
    assert!((sampled.time.recoat_s - time.recoat_s).abs() < 1e-9, "each layer is spread once");
    let off_s = (sampled.time.beam_s() - beam_s).abs();
    assert!(off_s < 0.2 * beam_s, "{} s of {beam_s} s", sampled.time.beam_s());
}

/// On the same head a machine that can do what it is asked to has nothing to say.
#[test]
fn a_head_that_can_do_it_says_nothing() {
    let build = with_run_ins(on(swift()));
    let Provoked { findings, along } = of_layers(&build);
    assert!(build.findings.is_empty() && along.is_empty());
    let kinds: Vec<Kind> = findings.iter().map(base::Finding::kind).collect();
    assert_eq!(kinds, []);
}
