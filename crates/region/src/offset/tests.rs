//! The direct offset against the raw curve, resolved by a second engine.

use base::Point;
use clipper2::{FillRule, One, Paths};
use proptest::prelude::*;

use super::corner::Rounding;
use super::{Join, by_engine, direct, inset, is_like, outset, raw};
use crate::boolean::{self, FillRule as Rule};
use crate::properness::{is_clear, is_proper};
use crate::region::Region;

fn to_clipper(region: &Region) -> Paths<One> {
    let rings: Vec<Vec<(f64, f64)>> = region
        .rings()
        .map(|r| r.iter().map(|p| (f64::from(p.x), f64::from(p.y))).collect())
        .collect();
    rings.into()
}

/// The offset by its definition: the raw curve, resolved by Clipper2.
fn by_clipper(region: &Region, shift: f64, join: Join) -> Paths<One> {
    let curve =
        region.rings().map(|r| raw::ring_curve(r, &Rounding::new(shift, join))).collect::<Vec<_>>();
    let rings: Vec<Vec<(f64, f64)>> =
        curve.iter().map(|r| r.iter().map(|p| (p[0].round(), p[1].round())).collect()).collect();
    let none: Vec<Vec<(f64, f64)>> = Vec::new();
    clipper2::union::<One>(rings, none, FillRule::Positive).unwrap()
}

fn perimeter_nm(region: &Region) -> f64 {
    region.perimeter_mm() * 1e6
}

/// A ring about `centre` given by radii at equal angles plus jitter.
#[expect(clippy::cast_possible_truncation, reason = "within the grid")]
fn ring(centre: [f64; 2], radii: &[f64], jitter: &[f64]) -> Vec<Point> {
    let n = radii.len() as f64;
    let at = |(i, (r, j)): (usize, (&f64, &f64))| {
        let (sin, cos) = ((i as f64 + 0.499 * j) / n * std::f64::consts::TAU).sin_cos();
        Point::new((centre[0] + r * cos) as i32, (centre[1] + r * sin) as i32)
    };
    radii.iter().zip(jitter).enumerate().map(at).collect()
}

/// Star-shaped about the origin: waves, noise, and angles that leave some edges tiny.
fn star() -> impl Strategy<Value = Vec<Point>> {
    (8..90_usize, 0.0..0.6_f64, 1..9_i32, 0.0..0.3_f64).prop_flat_map(|(n, wave, waves, noise)| {
        let one = (0.0..1.0_f64, -1.0..1.0_f64);
        prop::collection::vec(one, n).prop_map(move |random| {
            let radius = |(i, r): (usize, &(f64, f64))| {
                let t = i as f64 / n as f64 * std::f64::consts::TAU;
                1e6 * (1.0 + wave * (f64::from(waves) * t).cos() + noise * r.0)
            };
            let radii: Vec<f64> = random.iter().enumerate().map(radius).collect();
            let jitter: Vec<f64> = random.iter().map(|r| r.1).collect();
            ring([0.0, 0.0], &radii, &jitter)
        })
    })
}

/// A star with a hole in the shape of another star, where that leaves a proper region.
fn region() -> impl Strategy<Value = Region> {
    (star(), prop::option::of(star())).prop_map(|(outer, hole)| {
        let rings = hole.into_iter().map(|ring| {
            ring.into_iter().rev().map(|p| Point::new(p.x * 2 / 5, p.y * 2 / 5)).collect()
        });
        let all = Region::from_proper_rings(std::iter::once(outer).chain(rings));
        boolean::resolve(&all, Rule::Positive)
    })
}

/// Anything: crossing rings resolved.
fn tangle() -> impl Strategy<Value = Region> {
    let point = (-1_000_000..1_000_000, -1_000_000..1_000_000);
    prop::collection::vec(point, 3..14).prop_map(|points| {
        let ring: Vec<Point> = points.into_iter().map(|(x, y)| Point::new(x, y)).collect();
        boolean::resolve(&Region::from_proper_rings([ring]), Rule::EvenOdd)
    })
}

fn join() -> impl Strategy<Value = Join> {
    prop_oneof![
        Just(Join::Mitre { limit: 2.0 }),
        (1.0..4.0).prop_map(|limit| Join::Mitre { limit }),
        (100..20_000_u32).prop_map(|chord_tolerance_nm| Join::Round { chord_tolerance_nm }),
    ]
}

/// Area of `a` without `b`.
fn beyond(a: &Paths<One>, b: &Paths<One>) -> f64 {
    if !a.contains_points() || !b.contains_points() {
        return a.signed_area();
    }
    clipper2::difference::<One>(a.clone(), b.clone(), FillRule::Positive).unwrap().signed_area()
}

/// The boundary must lie between that of the offset by discs and that of the raw mitred curve. In
/// between a tip of the raw curve between edges that vanish may or may not count.
///
/// Each vertex of either polygon is off by less than 1 nm, and where edges cross at a flat angle
/// the engines may disagree by a few more; by far less than an edge that was forgotten.
fn check(region: &Region, shift: i32, join: Join) -> Result<(), TestCaseError> {
    const ARC_NM: u32 = 50;
    let ours = if shift > 0 { inset(region, shift, join) } else { outset(region, -shift, join) };
    prop_assert!(is_proper(&ours));
    let (raw, discs) = (
        by_clipper(region, f64::from(shift), join),
        by_clipper(region, f64::from(shift), Join::Round { chord_tolerance_nm: ARC_NM }),
    );
    let chord = match join {
        Join::Round { chord_tolerance_nm } => chord_tolerance_nm,
        Join::Mitre { .. } => 0,
    };
    let length = perimeter_nm(region) + perimeter_nm(&ours);
    let allowed = length * (4.0 + f64::from(ARC_NM + chord)) + 1e3;
    let drawn = to_clipper(&ours);
    let (over, under) = if shift > 0 {
        (beyond(&drawn, &discs), beyond(&raw, &drawn))
    } else {
        (beyond(&drawn, &raw), beyond(&discs, &drawn))
    };
    prop_assert!(over <= allowed, "{over:.0} nm² too much, allowed {allowed:.0}");
    prop_assert!(under <= allowed, "{under:.0} nm² missing, allowed {allowed:.0}");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn offsets_of_stars_agree_with_the_second_engine(
        region in region(), d in 1_000..400_000_i32, outwards: bool, join in join(),
    ) {
        check(&region, if outwards { -d } else { d }, join)?;
    }

    #[test]
    fn offsets_of_tangles_agree_with_the_second_engine(
        region in tangle(), d in 1_000..200_000_i32, outwards: bool, join in join(),
    ) {
        check(&region, if outwards { -d } else { d }, join)?;
    }

    #[test]
    fn what_is_proved_clear_is_what_the_engine_gives(
        region in region(), d in 1_000..400_000_i32, chord_tolerance_nm in 50..1_000_u32,
    ) {
        let rounding = Rounding::new(f64::from(d), Join::Round { chord_tolerance_nm });
        let Some(direct) = direct::offset(&region, &rounding) else { return Ok(()) };
        if is_like(&region, &direct.region) && is_clear(&direct.region) {
            let apart = boolean::xor(&direct.region, &by_engine(&region, &rounding));
            let allowed = (4.0 + f64::from(chord_tolerance_nm)) * perimeter_nm(&region) + 1e3;
            prop_assert!(apart.area_mm2() * 1e12 <= allowed);
        }
    }
}

/// The speed of everything rests on this: a smooth outline of tiny and uneven edges must not need
/// the engine.
#[test]
fn smooth_outlines_with_tiny_edges_go_direct() {
    for n in [50_u32, 500, 5_000] {
        let wave = |i: u32| 5e6 + 0.5e6 * (f64::from(i) / f64::from(n) * 37.0).cos();
        let radii: Vec<f64> = (0..n).map(|i| wave(i) + f64::from(i * 7919 % 13) * 20.0).collect();
        let jitter: Vec<f64> = (0..n).map(|i| f64::from(i * 104_729 % 199) / 99.5 - 1.0).collect();
        let region = Region::from_proper_rings([ring([1e7, -2e7], &radii, &jitter)]);
        let rounding = Rounding::new(200_000.0, Join::Mitre { limit: 2.0 });
        let direct = direct::offset(&region, &rounding).expect("no engine needed");
        assert!(is_like(&region, &direct.region) && is_clear(&direct.region), "{n}");
    }
}
