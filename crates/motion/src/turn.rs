//! From the end of one path to the start of the next, dark: each axis as fast as it can.
//!
//! In a time T an axis gets from speed v₀ to v₁ over any distance between that of *first as fast as possible
//! forth, then back* and its mirror image, and over no other. With the speed at the change of direction
//! h = (v₀ + v₁ + a·T)/2 the farthest is (2h² − v₀² − v₁²)/2a; where h would be above the limit V it is
//! V·T − ((V − v₀)² + (V − v₁)²)/2a. So an axis has a shortest time, and there may be a gap in what it can
//! take: an axis that is fast at both ends and has a short way either just runs through, or turns twice. The
//! turn takes the shortest time that both axes can take.

use crate::head::Head;
use crate::ramp::Ramp;

/// A dark move from one velocity to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// Along X and Y.
    pub axes: [Ramp; 2],
    /// How long it takes, s.
    pub duration_s: f64,
}

/// One axis: what it has to do, and what it can.
#[derive(Clone, Copy)]
struct Axis {
    distance: f64,
    from: f64,
    to: f64,
    most: f64,
    rate: f64,
}

impl Turn {
    /// The fastest turn over `way_mm` between two velocities, mm/s, with jumps of at most `jump_mm_s`. Takes
    /// `longer_s` more than the fastest where it can, and else the next time that it can take.
    pub fn fastest(
        head: &Head,
        way_mm: [f64; 2],
        from_mm_s: [f64; 2],
        to_mm_s: [f64; 2],
        jump_mm_s: f64,
        longer_s: f64,
    ) -> Self {
        let length = way_mm[0].hypot(way_mm[1]);
        let axes = [0, 1].map(|axis| {
            let (from, to) = (from_mm_s[axis], to_mm_s[axis]);
            // both axes of a slanting jump together make its speed
            let jump =
                if length > 0.0 { jump_mm_s * (way_mm[axis] / length).abs() } else { jump_mm_s };
            let most = jump.max(from.abs()).max(to.abs());
            Axis { distance: way_mm[axis], from, to, most, rate: head.acceleration_mm_s2[axis] }
        });
        let shortest = shortest(&axes, 0.0);
        let duration_s =
            if longer_s > 0.0 { self::shortest(&axes, shortest + longer_s) } else { shortest };
        Self::lasting(head, way_mm, from_mm_s, to_mm_s, duration_s)
    }

    /// The turn that takes a time that [`Self::fastest`] told.
    pub fn lasting(
        head: &Head,
        way_mm: [f64; 2],
        from_mm_s: [f64; 2],
        to_mm_s: [f64; 2],
        duration_s: f64,
    ) -> Self {
        let axes = [0, 1].map(|i| {
            let ends = [from_mm_s[i], to_mm_s[i]];
            Ramp::lasting(way_mm[i], duration_s, ends, head.acceleration_mm_s2[i])
        });
        Self { axes, duration_s }
    }
}

/// The shortest time that both axes can take, at least so many seconds.
fn shortest(axes: &[Axis; 2], least_s: f64) -> f64 {
    let fits = |t: f64| t >= least_s && axes.iter().all(|axis| axis.can_take(t));
    if fits(least_s) {
        return least_s;
    }
    let times = axes.iter().flat_map(Axis::turning_points);
    times.filter(|t| fits(*t)).fold(f64::INFINITY, f64::min)
}

/// Share of a distance or time by which rounding may miss it.
const ROUNDING: f64 = 1e-9;

impl Axis {
    fn mirrored(self) -> Self {
        Self { distance: -self.distance, from: -self.from, to: -self.to, ..self }
    }

    /// Time in which the speed gets from the one to the other.
    fn least_s(&self) -> f64 {
        (self.to - self.from).abs() / self.rate
    }

    /// Farthest forth in a time of at least [`Self::least_s`].
    fn farthest(&self, t: f64) -> f64 {
        let (a, most) = (self.rate, self.most);
        let highest = f64::midpoint(self.from + self.to, a * t);
        if highest <= most {
            return (2.0 * highest * highest - self.from * self.from - self.to * self.to)
                / (2.0 * a);
        }
        most * t - self.below_most() / (2.0 * a)
    }

    fn below_most(&self) -> f64 {
        (self.most - self.from).powi(2) + (self.most - self.to).powi(2)
    }

    fn can_take(&self, t: f64) -> bool {
        let least = self.least_s();
        if t < least * (1.0 - ROUNDING) {
            return false;
        }
        let t = t.max(least);
        let spare = ROUNDING * (self.distance.abs() + self.most * self.most / self.rate);
        self.distance <= self.farthest(t) + spare
            && -self.distance <= self.mirrored().farthest(t) + spare
    }

    /// Times, s, at which what the axis can take may begin or end.
    fn turning_points(&self) -> [f64; 7] {
        let [a, b, c] = self.just_reaching();
        let [d, e, f] = self.mirrored().just_reaching();
        [self.least_s(), a, b, c, d, e, f]
    }

    /// Times at which the farthest forth is just the distance; not a number, or below 0, where there are fewer.
    fn just_reaching(&self) -> [f64; 3] {
        let (a, sum) = (self.rate, self.from + self.to);
        let squares = self.from * self.from + self.to * self.to;
        let highest = f64::midpoint(2.0 * a * self.distance, squares).sqrt();
        let limited = (self.distance + self.below_most() / (2.0 * a)) / self.most;
        [(2.0 * highest - sum) / a, (-2.0 * highest - sum) / a, limited]
    }
}
