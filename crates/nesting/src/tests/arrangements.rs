//! Whole arrangements against known optima and distances by brute force.

use super::oracle::{self, Triangles};
use super::samples;
use crate::judge::figures::top_mm;
use crate::{
    Arrangement, Body, CopyId, Item, Locked, NestError, Options, Orientations, Placed, Space,
    boxes_baseline, nest, proof, removal,
};
use base::vec3::{Vec3, cross, dot, sub};
use base::{Affine, Progress};
use mesh::Mesh;
use proptest::prelude::*;
use std::sync::Arc;

fn item(mesh: Mesh, quantity: u32, orientations: Orientations) -> Item {
    let (name, solid) = ("part".into(), samples::solid(mesh));
    Item { name, solid, scale: [1.0; 3], quantity, orientations, due: None }
}

fn space(size_mm: Vec3, wall_clearance_mm: f64, clearance_mm: f64) -> Space {
    Space { size_mm, wall_clearance_mm, clearance_mm }
}

fn quick() -> Options {
    Options { patience: 5, ..Options::default() }
}

fn run(items: &[Item], locked: &[Locked], space: &Space, options: &Options) -> Arrangement {
    let a = nest(items, locked, space, options, &Progress::default(), &mut |_| true).unwrap();
    assert!(a.converged);
    assert_each_copy_once(items, &a);
    for build in &a.builds {
        assert_apart(items, build, space);
        assert_proven(items, build, space);
    }
    a
}

/// The judge, which knows nothing of voxels, never rejects what the search accepts.
fn assert_proven(items: &[Item], build: &[Placed], space: &Space) {
    let bodies: Vec<Body> = build
        .iter()
        .map(|p| Body { solid: Arc::clone(&items[p.item].solid), pose: p.pose })
        .collect();
    let proof = proof(&bodies, space, &Progress::default()).unwrap();
    let free = |body: usize| !build[body].locked; // locked ones lie where they were put
    assert!(
        proof.pairs.iter().all(|p| !p.violates || p.bodies.iter().all(|b| !free(*b))),
        "{proof:?}"
    );
    assert!(proof.walls.iter().all(|w| !w.violates || !free(w.body)), "{proof:?}");
    let removal = removal(&bodies, &Progress::default()).unwrap();
    assert!(removal.is_free(), "{removal:?}");
}

fn assert_each_copy_once(items: &[Item], a: &Arrangement) {
    let placed = a.builds.iter().flatten().map(Placed::id);
    let mut all: Vec<_> = placed.chain(a.unplaced.iter().copied()).collect();
    all.sort_unstable();
    let expected: Vec<_> = items
        .iter()
        .enumerate()
        .flat_map(|(i, it)| (0..it.quantity).map(move |copy| CopyId { item: i, copy }))
        .collect();
    assert_eq!(all, expected);
}

fn assert_apart(items: &[Item], build: &[Placed], space: &Space) {
    let bodies: Vec<Triangles> =
        build.iter().map(|p| oracle::triangles(items[p.item].mesh(), &p.pose)).collect();
    for body in bodies.iter().zip(build).filter_map(|(body, p)| (!p.locked).then_some(body)) {
        oracle::assert_within_walls(body, space);
    }
    for (i, a) in bodies.iter().enumerate() {
        for b in &bodies[..i] {
            let distance = oracle::distance(a, b);
            assert!(distance >= space.clearance_mm - 1e-6, "parts {distance} mm apart");
        }
    }
}

/// Soma cube (Piet Hein; Berlekamp, Conway & Guy, Winning Ways): 240 ways to fill 3 × 3 × 3.
#[test]
fn the_soma_cube_is_filled_without_a_gap() {
    let pieces: [&[[i32; 3]]; 7] = [
        &[[0, 0, 0], [1, 0, 0], [0, 1, 0]],
        &[[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0]],
        &[[0, 0, 0], [1, 0, 0], [2, 0, 0], [1, 1, 0]],
        &[[0, 0, 0], [1, 0, 0], [1, 1, 0], [2, 1, 0]],
        &[[0, 0, 0], [1, 0, 0], [1, 1, 0], [1, 1, 1]],
        &[[0, 0, 0], [0, 1, 0], [1, 1, 0], [1, 1, 1]],
        &[[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]],
    ];
    let items: Vec<Item> = pieces
        .iter()
        .map(|cells| item(samples::polycube(cells, 10.0), 1, Orientations::QuarterTurns))
        .collect();
    for height in [30.0, 70.0] {
        let a = run(&items, &[], &space([30., 30., height], 0., 0.), &quick());
        assert_eq!((a.builds.len(), a.unplaced.len()), (1, 0));
        assert!((a.summary.density - 1.0).abs() < 1e-9, "{:?}", a.summary);
    }
}

#[test]
fn equal_cubes_with_clearance_all_go_into_the_box_that_just_holds_them() {
    for (n, c) in [(2u32, 2.0), (3, 3.0)] {
        let side = f64::from(n) * 10.0 + f64::from(n - 1) * c + 2.0;
        let cubes = [item(samples::cuboid([0.; 3], [10.; 3]), n * n * n, Orientations::Fixed)];
        let a = run(&cubes, &[], &space([side; 3], 1.0, c), &quick());
        assert_eq!((a.builds.len(), a.unplaced.len()), (1, 0));
    }
}

/// Two brackets that make a box: their bounding boxes have to overlap.
#[test]
fn two_brackets_make_a_box() {
    let bracket = samples::polycube(&[[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 0, 1]], 5.0);
    let items = [item(bracket, 2, Orientations::QuarterTurns)];
    let a = run(&items, &[], &space([20., 5., 60.], 0., 0.), &quick());
    assert!((a.summary.height_mm - 10.0).abs() < 1e-6, "{:?}", a.summary);
    let boxes =
        boxes_baseline(&items, &space([20., 5., 60.], 0., 0.), &Progress::default()).unwrap();
    assert!(top_mm(&items, &boxes) > 10.0);
}

#[test]
fn nothing_goes_into_a_closed_shell() {
    let mut shell = samples::cuboid([0.; 3], [20.; 3]);
    let hollow = samples::cuboid([2.; 3], [18.; 3]);
    let n = u32::try_from(shell.vertices.len()).unwrap();
    shell.vertices.extend(hollow.vertices);
    shell.triangles.extend(hollow.triangles.iter().map(|[a, b, c]| [a + n, c + n, b + n]));
    let items = [
        item(shell, 1, Orientations::Fixed),
        item(samples::cuboid([0.; 3], [5.; 3]), 3, Orientations::Fixed),
    ];
    let space = space([34., 34., 90.], 1., 1.);
    let a = run(&items, &[], &space, &quick());
    assert_eq!((a.builds.len(), a.unplaced.len()), (1, 0));
    let shell = a.builds[0].iter().find(|p| p.item == 0).unwrap().pose.apply([10.; 3]);
    for p in a.builds[0].iter().filter(|p| p.item == 1) {
        let q = p.pose.apply([2.5; 3]);
        assert!((0..3).any(|k| (q[k] - shell[k]).abs() > 8.0));
    }
}

#[test]
fn what_does_not_fit_goes_to_later_builds_by_due_date() {
    let mut items: Vec<Item> =
        (0..3).map(|_| item(samples::cuboid([0.; 3], [10.; 3]), 6, Orientations::Fixed)).collect();
    items[0].due = Some(20);
    items[1].due = None;
    items[2].due = Some(10);
    items.push(item(samples::cuboid([0.; 3], [90., 1., 1.]), 1, Orientations::QuarterTurns));
    let a = run(&items, &[], &space([22., 22., 22.], 0., 2.), &quick());
    assert_eq!(a.unplaced, [CopyId { item: 3, copy: 0 }]);
    let due: Vec<Vec<u32>> = a
        .builds
        .iter()
        .map(|b| b.iter().map(|p| items[p.item].due.unwrap_or(u32::MAX)).collect())
        .collect();
    assert_eq!(due.iter().map(Vec::len).collect::<Vec<_>>(), [8, 8, 2]);
    for pair in due.windows(2) {
        assert!(pair[0].iter().max() <= pair[1].iter().min());
    }
    let few = Options { max_builds: 2, ..quick() };
    let a = run(&items, &[], &space([22., 22., 22.], 0., 2.), &few);
    assert_eq!((a.builds.len(), a.unplaced.len()), (2, 3));
}

#[test]
fn locked_placements_stay_and_are_kept_clear_of() {
    let items = [item(samples::ball(6.0, 16), 4, Orientations::Many { extra: 3 })];
    let pose = Affine::translation([1.3, -2.7, 8.1]) * Affine::rotation_deg([10., 20., 30.]);
    let locked = [Locked { item: 0, pose }];
    let a = run(&items, &locked, &space([40., 40., 60.], 1., 1.5), &quick());
    assert_eq!(a.builds.len(), 1);
    assert_eq!(a.builds[0][0], Placed { item: 0, copy: 0, pose, locked: true });
    assert_eq!(a.builds[0].iter().filter(|p| p.locked).count(), 1);
    let wrong = [Locked { item: 0, pose: Affine::scaling([2.; 3]) }];
    let result =
        nest(&items, &wrong, &space([40.; 3], 1., 1.), &quick(), &Progress::default(), &mut |_| {
            true
        });
    assert!(
        matches!(result, Err(NestError::BadLock { index: 0, item: 0, copy: 1, .. })),
        "{result:?}"
    );
}

fn mixed() -> Vec<Item> {
    let l = samples::polycube(&[[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0], [0, 0, 1]], 4.3);
    vec![
        item(l, 5, Orientations::QuarterTurns),
        item(samples::ball(4.0, 12), 4, Orientations::AboutZ { steps: 8 }),
        item(samples::cuboid([0.; 3], [3.1, 7.7, 11.3]), 5, Orientations::QuarterTurns),
    ]
}

#[test]
fn equal_seeds_give_equal_arrangements_on_any_number_of_threads() {
    let space = space([30., 30., 80.], 1., 1.);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| run(&mixed(), &[], &space, &quick()))
    };
    let one = with(1);
    assert_eq!(one, with(3));
    let boxes = boxes_baseline(&mixed(), &space, &Progress::default()).unwrap();
    assert!(one.summary.height_mm < top_mm(&mixed(), &boxes));
}

#[test]
fn every_arrangement_shown_is_valid_and_better_and_the_search_can_be_stopped() {
    let items = mixed();
    let space = space([30., 30., 80.], 1., 1.);
    let mut heights = Vec::new();
    let a = nest(&items, &[], &space, &quick(), &Progress::default(), &mut |a| {
        assert_each_copy_once(&items, a);
        assert_apart(&items, &a.builds[0], &space);
        heights.push(a.summary.total_height_mm);
        heights.len() < 2
    })
    .unwrap();
    assert!(!a.converged && heights.len() == 2);
    assert!(heights.windows(2).all(|w| w[1] <= w[0] + 1e-9), "{heights:?}");
    let progress = Progress::default();
    progress.cancel();
    let result = nest(&items, &[], &space, &quick(), &progress, &mut |_| true);
    assert!(matches!(result, Err(NestError::Cancelled(_))));
}

/// The clock of this test is the number of arrangements: after the first, or the second, both handles are
/// cancelled. What is returned is the last that was shown, and nothing was shown after it.
#[test]
fn nothing_is_done_after_the_last_handle_is_cancelled() {
    let items = mixed();
    let space = space([30., 30., 80.], 1., 1.);
    for shown_first in [1, 2] {
        let (search, closing) = (Progress::default(), Progress::default());
        let (mut shown, mut last, mut steps) = (0, Arrangement::default(), 0);
        let mut on_better = |a: &Arrangement| {
            shown += 1;
            last = a.clone();
            if shown == shown_first {
                search.cancel();
                closing.cancel();
                steps = search.steps().0;
            }
            true
        };
        let options = quick();
        let a =
            crate::nest_and_close(&items, &[], &space, &options, &search, &closing, &mut on_better)
                .unwrap();
        assert_eq!((shown, &a.builds), (shown_first, &last.builds));
        assert!(search.steps().0 <= steps + 1 && !a.converged);
        assert_each_copy_once(&items, &a);
        assert_apart(&items, &a.builds[0], &space);
    }
}

#[test]
fn evening_out_lowers_the_peak_without_raising_the_top() {
    let items = [
        item(samples::cuboid([0.; 3], [5., 5., 40.]), 1, Orientations::Fixed),
        item(samples::cuboid([0.; 3], [8., 8., 4.]), 6, Orientations::Fixed),
    ];
    let space = space([40., 40., 50.], 1., 1.);
    let plain = run(&items, &[], &space, &quick());
    let even = run(&items, &[], &space, &Options { even_area: true, patience: 40, ..quick() });
    let peak = |a: &Arrangement| {
        let f = crate::figures(&items, &a.builds[0], &space, 0.5, &Progress::default()).unwrap();
        f.area_mm2.into_iter().fold(0.0, f64::max)
    };
    assert!((plain.summary.height_mm - even.summary.height_mm).abs() < 1e-5);
    assert!(peak(&even) < 0.6 * peak(&plain), "{} {}", peak(&even), peak(&plain));
}

#[test]
fn impossible_questions_get_an_answer_not_a_panic() {
    let ask = |items: &[Item], space: Space| {
        nest(items, &[], &space, &quick(), &Progress::default(), &mut |_| true)
    };
    let cube = [item(samples::cuboid([0.; 3], [1.; 3]), 1, Orientations::Fixed)];
    assert!(matches!(ask(&cube, space([0., 1., 1.], 0., 0.)), Err(NestError::BadMeasure { .. })));
    assert!(matches!(ask(&cube, space([9.; 3], 0., f64::NAN)), Err(NestError::BadMeasure { .. })));
    assert_eq!(ask(&cube, space([9.; 3], 5., 0.)), Err(NestError::NoRoom));
    let empty = [item(Mesh::default(), 1, Orientations::Fixed)];
    assert!(matches!(ask(&empty, space([9.; 3], 0., 0.)), Err(NestError::UnusableMesh { .. })));
    let nothing = ask(&[], space([9.; 3], 0., 0.)).unwrap();
    assert_eq!((nothing.builds.len(), nothing.unplaced.len()), (1, 0));
    let none = [item(samples::cuboid([0.; 3], [1.; 3]), 0, Orientations::Many { extra: 0 })];
    assert!(ask(&none, space([9.; 3], 0., 0.)).is_ok());
}

/// Touching parts slid into a hook here once, and were reported so.
#[test]
fn what_slides_together_must_still_come_apart() {
    let p = [
        [0.0, 1.330_745_758_236_038, -3.399_995_589_156_680_4],
        [2.744_394_669_545_282, -2.335_205_105_862_972, -2.811_475_915_371_308_7],
        [-0.844_483_125_146_122_6, 2.450_781_760_101_184, 0.279_568_297_589_310_8],
        [0.0, -2.418_786_607_806_57, -3.623_567_468_534_617_3],
    ];
    let mut triangles = vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
    if dot(sub(p[1], p[0]), cross(sub(p[2], p[0]), sub(p[3], p[0]))) < 0.0 {
        for t in &mut triangles {
            t.swap(1, 2);
        }
    }
    let mesh = Mesh { vertices: p.to_vec(), triangles };
    let items = [
        item(mesh, 3, Orientations::Many { extra: 4 }),
        item(samples::ring(4.0, 1.0, 8), 1, Orientations::Many { extra: 4 }),
    ];
    let options = Options { seed: 1_441_939_551_623_686_458, patience: 5, ..Options::default() };
    run(&items, &[], &space([16., 15., 40.], 1.225_137_108_647_308_6, 0.0), &options);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]
    /// The voxel test never accepts what the exact distance rejects: random tetrahedra, clearances
    /// and voxels, many orientations.
    #[test]
    fn random_parts_keep_their_clearance(
        corners in prop::collection::vec(prop::array::uniform4(prop::array::uniform3(-4.0..4.0_f64)), 1..4),
        clearance in prop_oneof![Just(0.0), 0.1..2.0_f64],
        wall in 0.0..1.5_f64,
        voxel in prop::option::of(0.3..1.0_f64),
        scale in prop_oneof![Just([1.0; 3]), Just([1.1, 1.1, 0.9]), Just([1.2, 1.0, 1.1])],
        hollow in prop_oneof![Just(None), Just(Some(true)), Just(Some(false))],
        seed: u64,
    ) {
        let mut items: Vec<Item> = corners
            .into_iter()
            .map(|p| {
                let volume = dot(sub(p[1], p[0]), cross(sub(p[2], p[0]), sub(p[3], p[0])));
                let mut triangles = vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
                if volume < 0.0 {
                    for t in &mut triangles {
                        t.swap(1, 2);
                    }
                }
                item(Mesh { vertices: p.to_vec(), triangles }, 3, Orientations::Many { extra: 4 })
            })
            .collect();
        // Something to reach through and into.
        items.extend(hollow.map(|ring| {
            let mesh = if ring { samples::ring(4.0, 1.0, 8) } else { samples::bowl(2.0) };
            item(mesh, 1, Orientations::Many { extra: 4 })
        }));
        for i in &mut items {
            i.scale = scale;
        }
        let options = Options { seed, voxel_mm: voxel, patience: 5, ..Options::default() };
        let a = run(&items, &[], &space([16., 15., 40.], wall, clearance), &options);
        prop_assert!(a.unplaced.is_empty());
    }
}
