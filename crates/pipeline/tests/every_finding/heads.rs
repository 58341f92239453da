//! What mirrors and laser cannot do as they are asked to.

use crate::jobs::{loaded, of_layers};
use crate::solids::cuboid;
use crate::{Provoked, found};
use base::{Kind, Progress};
use job::machine::{Corners, Head};
use job::recipe::Joins;
use pipeline::{Build, Loaded};

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

/// On the same head a machine that can do what it is asked to has nothing to say.
#[test]
fn a_head_that_can_do_it_says_nothing() {
    let build = with_run_ins(on(swift()));
    let Provoked { findings, along } = of_layers(&build);
    assert!(build.findings.is_empty() && along.is_empty());
    let kinds: Vec<Kind> = findings.iter().map(base::Finding::kind).collect();
    assert_eq!(kinds, []);
}
