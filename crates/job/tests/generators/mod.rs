//! Jobs of all kinds, for the properties of their text.

use crate::text;
use base::Kind;
use job::{
    Acceptance, AllowedOrientations, Clearances, ExposureChange, Job, NestRules, NextPart,
    PartEntry, PartOrder, Placement, Rounds,
};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn changes() -> impl Strategy<Value = BTreeMap<usize, Vec<ExposureChange>>> {
    let values = (1e-6..=1000.0, prop::option::of(1e-6..=100_000.0), any::<bool>());
    let change = (text(), values).prop_map(|(name, (power_w, speed_mm_s, has_power))| {
        let power_w = (has_power || speed_mm_s.is_none()).then_some(power_w);
        ExposureChange { name, power_w, speed_mm_s }
    });
    let changes = prop::collection::vec(change, 1..3).prop_map(|mut changes| {
        for (i, change) in changes.iter_mut().enumerate() {
            change.name.push_str(&i.to_string()); // each exposure is changed once
        }
        changes
    });
    prop::collection::btree_map(0..4_usize, changes, 0..3)
}

fn accepted(is_of_part: bool) -> impl Strategy<Value = Vec<Acceptance>> {
    let kind = prop::sample::select(Kind::ALL);
    let places = (prop::option::of(0..4_u32), prop::option::of((0..9_u32, 9..99_u32)));
    let one = (kind, places, prop::option::of(text()), text());
    let one = one.prop_map(move |(kind, (placement, layers), says, reason)| Acceptance {
        kind,
        placement: placement.filter(|_| is_of_part),
        layers,
        says,
        reason,
    });
    prop::collection::vec(one, 0..3)
}

pub(crate) fn job() -> impl Strategy<Value = Job> {
    let unit = prop::sample::select(&base::Unit::ALL[..]);
    let place = prop::array::uniform2(-1000.0..=1000.0);
    let placement = (place, 0.0..=2000.0, prop::array::uniform3(-360.0..=360.0))
        .prop_map(|([x, y], z, rotation_deg)| Placement { location_mm: [x, y, z], rotation_deg });
    let placements = prop::collection::vec(placement, 1..4);
    let options = (prop::option::of(text()), prop::option::of(unit), prop::option::of(text()));
    let orientations = prop::sample::select(&AllowedOrientations::ALL[..]);
    let nest =
        (prop::option::of(1..9_u32), orientations, prop::option::of(1..9_u32), any::<bool>())
            .prop_map(|(quantity, allowed_orientations, due, locked)| NestRules {
                quantity,
                allowed_orientations,
                locked: if locked { vec![0] } else { Vec::new() },
                due,
            });
    let nest = prop::option::of(nest);
    let part = ((text(), text()), options, nest, placements, changes(), accepted(true)).prop_map(
        |(
            (name, mesh),
            (object, unit, recipe),
            nest,
            placements,
            mut exposure_changes,
            accepted,
        )| {
            exposure_changes.retain(|copy, _| *copy < placements.len());
            PartEntry {
                name,
                mesh,
                object,
                unit,
                recipe,
                nest,
                placements,
                exposure_changes,
                accepted,
            }
        },
    );
    let clearances = prop_oneof![
        Just(Clearances::default()),
        (0.0..100.0, 0.0..100.0).prop_map(|(parts_mm, walls_mm)| Clearances { parts_mm, walls_mm })
    ];
    let rounds = prop_oneof![Just(Rounds::PartAfterPart), Just(Rounds::KindAfterKind)];
    let next =
        prop_oneof![Just(NextPart::Nearest), Just(NextPart::AsListed), Just(NextPart::Rotating)];
    let order = (rounds, next).prop_map(|(rounds, next)| PartOrder { rounds, next });
    let rest = (clearances, order, accepted(false));
    (text(), text(), text(), rest, prop::collection::vec(part, 1..4)).prop_map(
        |(name, machine, recipe, (clearances, part_order, accepted), mut parts)| {
            for (i, part) in parts.iter_mut().enumerate() {
                part.name.push_str(&i.to_string()); // names are unique
            }
            let version = Job::VERSION;
            Job { version, name, machine, recipe, clearances, part_order, accepted, parts }
        },
    )
}
