//! A build compared with slow searches that look at every voxel.

use super::*;
use crate::random::Random;
use crate::search::passes::Pass;
use crate::search::voxels::resolution::Rounding;
use crate::tests::samples;
use crate::{Item, Orientations, Space};
use base::Progress;
use mesh::Mesh;
use std::collections::BTreeSet;

fn item(mesh: Mesh, quantity: u32, orientations: Orientations) -> Item {
    let (name, solid) = ("part".into(), samples::solid(mesh));
    Item { name, solid, scale: [1.0; 3], quantity, orientations, due: None }
}

fn items() -> [Item; 3] {
    let bracket = samples::polycube(&[[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 0, 1]], 4.0);
    let bar = samples::cuboid([0.0; 3], [3.0, 5.0, 17.0]);
    let quarter_turns = Orientations::QuarterTurns;
    [
        item(bracket, 4, quarter_turns),
        item(bar, 4, quarter_turns),
        item(samples::ball(5.0, 12), 4, Orientations::Fixed),
    ]
}

fn space_of(items: &[Item], size_mm: [f64; 3], rounding: Rounding) -> VoxelSpace {
    let space = Space { size_mm, wall_clearance_mm: 1.0, clearance_mm: 2.0 };
    let pass = Pass { voxel_mm: 1.0, rounding };
    VoxelSpace::new(items, &[], &space, pass, &Progress::default()).unwrap()
}

fn random_rule(random: &mut Random, max_top: i32) -> PlacementRule {
    let bits = random.next();
    let (prefer_right, prefer_back) = (bits & 1 == 1, bits & 2 == 2);
    PlacementRule {
        prefer_right,
        prefer_back,
        height_weight: 8,
        ..PlacementRule::lowest_top(max_top)
    }
}

/// Whether a shape moved by so much meets another, voxel by voxel.
fn meets(part: (&Shape, VoxelPos), other: (&Shape, VoxelPos)) -> bool {
    let mut met = false;
    part.0.mask.for_each(|p| {
        let at = |k: usize| i32::try_from(p[k] + other.0.pad).unwrap() + part.1[k] - other.1[k];
        let within =
            |k: &usize| (0..i32::try_from(other.0.keep_out.dims[*k]).unwrap()).contains(&at(*k));
        met = met
            || [0, 1, 2].iter().all(within)
                && other.0.keep_out.get([0, 1, 2].map(|k| usize::try_from(at(k)).unwrap()));
    });
    met
}

/// Every voxel that a part keeps others out of.
fn taken_voxels(build: &BuildState) -> BTreeSet<VoxelPos> {
    let mut taken = BTreeSet::new();
    for (shape, at) in build.shapes() {
        let pad = i32::try_from(shape.pad).unwrap();
        shape.keep_out.for_each(|p| {
            taken.insert([0, 1, 2].map(|k| i32::try_from(p[k]).unwrap() - pad + at[k]));
        });
    }
    taken
}

/// The place that the rule likes best, found by trying every position of every shape.
fn best_place(build: &BuildState, item: usize, rule: &PlacementRule) -> Option<(usize, VoxelPos)> {
    let parts: Vec<_> = build.parts().collect();
    let taken = taken_voxels(build);
    let in_order = |n: i32, reversed: bool| (0..=n).map(move |i| if reversed { n - i } else { i });
    let lowest = |shape: &Shape| {
        let last = shape.last_position(build.space.room_mm, build.space.voxel_mm);
        let mut voxels: Vec<VoxelPos> = Vec::new();
        shape.mask.for_each(|p| voxels.push(p.map(|c| i32::try_from(c).unwrap())));
        let is_free = |at: VoxelPos| {
            (0..3).all(|k| (0..=last[k]).contains(&at[k]))
                && !voxels.iter().any(|v| taken.contains(&[0, 1, 2].map(|k| v[k] + at[k])))
        };
        let is_removable = |at: VoxelPos| {
            let (blockers, is_threaded) =
                build.blocking.blockers_of((shape, at), parts.iter().copied());
            !is_threaded && build.blocking.stays_removable_with(&blockers)
        };
        (0..=last[2].min(rule.max_top - shape.height())).find_map(|z| {
            in_order(last[1], rule.prefer_back).find_map(|y| {
                in_order(last[0], rule.prefer_right)
                    .filter(|x| {
                        is_free([*x, y, z]) && !(is_free([x - 1, y, z]) && is_free([x + 1, y, z]))
                    })
                    .take(4)
                    .map(|x| [x, y, z])
                    .find(|at| is_removable(*at))
            })
        })
    };
    let shapes = build.space.shapes[item].iter().enumerate();
    shapes
        .filter_map(|(i, shape)| lowest(shape).map(|at| (rule.score(shape, at), i, at)))
        .min()
        .map(|(_, i, at)| (i, at))
}

/// What a build remembers of rows that were blocked must never hide a place.
#[test]
fn a_build_that_was_rolled_back_finds_the_same_places_as_trying_them_all() {
    let items = items();
    let space = space_of(&items, [22.0, 20.0, 70.0], Rounding::Nearest);
    let mut random = Random::new(5);
    let mut build = BuildState::new(&space, 12, true);
    for copy in 0..12 {
        let rule = random_rule(&mut random, space.height());
        assert!(build.insert(copy, copy / 4, &rule));
    }
    for round in 0..9 {
        let snapshot = build.snapshot();
        let mut out = Vec::new();
        for _ in 0..3 {
            out.push(build.remove(random.below(build.placements.len())).copy_index);
        }
        for copy in out {
            let rule = random_rule(&mut random, space.height());
            let expected = best_place(&build, copy / 4, &rule);
            build.last_places[copy] = None; // which would do as well
            assert!(build.insert(copy, copy / 4, &rule));
            let found = build.placements.last().map(|p| (p.shape, p.at));
            assert_eq!(found, expected, "round {round}");
        }
        if round % 3 != 0 {
            build.roll_back(&snapshot);
            assert_eq!(build.placements, snapshot.placements);
        }
    }
}

/// Every part is moved out of the room step by step, and at every step all voxels are looked at.
#[test]
fn the_removal_order_lets_every_part_out() {
    let items = items();
    let space = space_of(&items, [26.0, 24.0, 60.0], Rounding::Conservative);
    let mut random = Random::new(3);
    let mut build = BuildState::new(&space, 12, true);
    for copy in (0..12).rev() {
        let rule = random_rule(&mut random, space.height());
        assert!(build.insert(copy, copy / 4, &rule));
    }
    let order = build.removal_order();
    assert_eq!(order.len(), 12);
    for (n, copy) in order.iter().enumerate() {
        let part = build.placements.iter().find(|p| p.copy_index == *copy).unwrap();
        let remaining: Vec<_> =
            build.placements.iter().filter(|p| order[n + 1..].contains(&p.copy_index)).collect();
        let gets_out = |axis: usize, step: i32| {
            (1..80).all(|steps| {
                let mut at = part.at;
                at[axis] += step * steps;
                let moved = (space.shape(part), at);
                !remaining.iter().any(|p| meets(moved, (space.shape(p), p.at)))
            })
        };
        assert!((0..3).any(|axis| gets_out(axis, 1) || gets_out(axis, -1)), "{copy}");
    }
}

/// Two parts that exact distances put nearer than voxels would have it may each go back there.
#[test]
fn a_part_may_return_to_where_exact_distances_put_it() {
    let cube = item(samples::cuboid([0.0; 3], [5.0; 3]), 2, Orientations::Fixed);
    let space = space_of(&[cube], [30.0; 3], Rounding::Nearest);
    let mut build = BuildState::new(&space, 2, true);
    let wide = i32::try_from(space.shapes[0][0].mask.dims[0]).unwrap();
    let placement = |copy_index, x, offset_mm| VoxelPlacement {
        copy_index,
        item: 0,
        shape: 0,
        at: [x, 0, 0],
        offset_mm,
    };
    build.put(placement(0, 0, Some([0.0; 3])));
    let near = placement(1, wide - 1, Some([0.4, 0.0, 0.0]));
    build.put(near);
    let rule = PlacementRule::lowest_top(wide);
    build.remove(1);
    assert!(build.is_allowed_by(&rule, &near));
    // Not beside a part that voxels have moved.
    build.remove(0);
    build.put(placement(0, 0, None));
    assert!(!build.is_allowed_by(&rule, &near));
}
