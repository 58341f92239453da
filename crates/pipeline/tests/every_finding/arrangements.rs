//! Arrangements that must not be built.

use crate::jobs::{Part, loaded};
use crate::solids::{cube, cuboid, frame, joined, moved, reversed, ring};
use crate::{Provoked, found};
use base::Progress;
use pipeline::prove_clearance;

fn proven(parts: &[Part]) -> Provoked {
    found(prove_clearance(&loaded(parts, |_| {}), &Progress::default()).unwrap().findings)
}

/// Two cubes of 20 mm, the second so far to the right of the middle.
pub(crate) fn cubes(x: f64) -> Provoked {
    proven(&[(
        "cube",
        Some(cube(20.0)),
        &[([0.0, 0.0, 50.0], [0.0; 3]), ([x, 0.0, 50.0], [0.0; 3])],
    )])
}

/// A cube in a closed hollow.
pub(crate) fn enclosed() -> Provoked {
    let hollow = joined(&cube(60.0), &moved(&reversed(&cube(40.0)), [10.0; 3]));
    let middle = &[([0.0, 0.0, 60.0], [0.0; 3])];
    proven(&[("hollow", Some(hollow), middle), ("cube", Some(cube(10.0)), middle)])
}

/// Two links of a chain.
pub(crate) fn hooked() -> Provoked {
    let links = &[([0.0, 0.0, 60.0], [0.0; 3]), ([20.0, 0.0, 60.0], [90.0, 0.0, 0.0])];
    proven(&[("link", Some(ring(20.0, 5.0)), links)])
}

/// A rod through a ring.
pub(crate) fn threaded() -> Provoked {
    let rod = cuboid([0.0; 3], [8.0, 8.0, 80.0]);
    let middle = &[([0.0, 0.0, 60.0], [0.0; 3])];
    proven(&[("ring", Some(ring(20.0, 5.0)), middle), ("rod", Some(rod), middle)])
}

/// Borromean rings: no two are linked, and still the three do not come apart.
pub(crate) fn held() -> Provoked {
    let middle = &[([0.0, 0.0, 60.0], [0.0; 3])];
    let frame = |axes| Some(frame(axes, [24.0, 12.0], 6.0));
    proven(&[
        ("one", frame([0, 1, 2]), middle),
        ("two", frame([1, 2, 0]), middle),
        ("three", frame([2, 0, 1]), middle),
    ])
}
