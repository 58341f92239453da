//! Moves along a line in closed form: speeding up, running, slowing down.

/// A move along a line: the speed goes evenly to a middle one, stays, and goes evenly to the last one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    /// Speeds at the start, in the middle, at the end, mm/s; below 0 backwards.
    pub speeds_mm_s: [f64; 3],
    /// How fast the speed changes before and after the middle, mm/s².
    pub rates_mm_s2: [f64; 2],
    /// How long it takes, s.
    pub duration_s: f64,
}

/// Where a move along a line is at some moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Along {
    /// Way from the start, mm.
    pub way_mm: f64,
    /// Speed, mm/s.
    pub speed_mm_s: f64,
    /// Acceleration, mm/s².
    pub acceleration_mm_s2: f64,
}

impl Ramp {
    /// The fastest move over `distance_mm` ≥ 0 from one speed to another, both from 0 to `most_mm_s`, at rates
    /// for speeding up and slowing down. Peak without a limit: v² = (2abD + b·v₀² + a·v₁²)/(a + b), from the
    /// ways (v² − v₀²)/2a and (v² − v₁²)/2b of the two ramps. The speeds must be within reach of each other.
    pub fn fastest(distance_mm: f64, ends_mm_s: [f64; 2], most_mm_s: f64, rates: [f64; 2]) -> Self {
        let ([from, to], [up, down]) = (ends_mm_s, rates);
        let squared =
            (2.0 * up * down * distance_mm + down * from * from + up * to * to) / (up + down);
        let peak = squared.max(0.0).sqrt().min(most_mm_s).max(from).max(to);
        let ramps_mm =
            (peak * peak - from * from) / (2.0 * up) + (peak * peak - to * to) / (2.0 * down);
        let steady_mm = (distance_mm - ramps_mm).max(0.0);
        let steady_s = if steady_mm > 0.0 { steady_mm / peak } else { 0.0 };
        let duration_s = (peak - from) / up + (peak - to) / down + steady_s;
        Self { speeds_mm_s: [from, peak, to], rates_mm_s2: rates, duration_s }
    }

    /// The move over `distance_mm`, of either sign, that takes just `duration_s`, with speeds of either sign at
    /// its ends, changing at one rate. Where no such move exists, the nearest.
    pub fn lasting(distance_mm: f64, duration_s: f64, ends_mm_s: [f64; 2], rate: f64) -> Self {
        let [from, to] = ends_mm_s;
        let (low, high) = (from.min(to), from.max(to));
        let steady_s = (duration_s - (high - low) / rate).max(0.0);
        // way of the ramps while the middle speed lies between the ends
        let ramps_mm = (high * high - low * low) / (2.0 * rate);
        let middle = if distance_mm > ramps_mm + high * steady_s {
            above(distance_mm, duration_s, ends_mm_s, rate).max(high)
        } else if distance_mm < ramps_mm + low * steady_s {
            -above(-distance_mm, duration_s, [-from, -to], rate).max(-low)
        } else if steady_s > 0.0 {
            ((distance_mm - ramps_mm) / steady_s).clamp(low, high)
        } else {
            high
        };
        Self { speeds_mm_s: [from, middle, to], rates_mm_s2: [rate; 2], duration_s }
    }

    /// When the speed is at its middle value, s: from, to.
    pub fn steady_s(&self) -> [f64; 2] {
        let [from, middle, to] = self.speeds_mm_s;
        let [up, down] = self.rates_mm_s2;
        let start = ((middle - from).abs() / up).min(self.duration_s);
        [start, (self.duration_s - (to - middle).abs() / down).max(start)]
    }

    /// Where it is after a time, s; before and after the move, at its ends.
    pub fn at(&self, time_s: f64) -> Along {
        let t = time_s.clamp(0.0, self.duration_s);
        let [from, middle, to] = self.speeds_mm_s;
        let [first, last] = self.steady_s();
        let rate = |from: f64, to: f64, rate: f64| rate * (to - from).signum();
        let first_mm = f64::midpoint(from, middle) * first;
        if t < first {
            let rate = rate(from, middle, self.rates_mm_s2[0]);
            return along(0.0, from, rate, t);
        }
        if t < last || middle.to_bits() == to.to_bits() {
            return along(first_mm, middle, 0.0, t - first);
        }
        let before_mm = first_mm + middle * (last - first);
        along(before_mm, middle, rate(middle, to, self.rates_mm_s2[1]), t - last)
    }
}

fn along(way_mm: f64, speed_mm_s: f64, acceleration_mm_s2: f64, t: f64) -> Along {
    Along {
        way_mm: way_mm + (speed_mm_s + 0.5 * acceleration_mm_s2 * t) * t,
        speed_mm_s: speed_mm_s + acceleration_mm_s2 * t,
        acceleration_mm_s2,
    }
}

/// The middle speed, above both ends, of a move that takes a given time: the smaller root of
/// v² − v·(a·T + v₀ + v₁) + (v₀² + v₁²)/2 + a·D = 0.
fn above(distance_mm: f64, duration_s: f64, [from, to]: [f64; 2], rate: f64) -> f64 {
    let half = f64::midpoint(rate * duration_s, from + to);
    let rest = f64::midpoint(from * from, to * to) + rate * distance_mm;
    half - (half * half - rest).max(0.0).sqrt()
}

/// Run-in or run-out in which the spot gets to a speed from a standstill, or back, mm: v²/2a, and what it
/// covers at that speed while the mirrors settle.
pub fn run_in_mm(speed_mm_s: f64, acceleration_mm_s2: f64, settle_s: f64) -> f64 {
    speed_mm_s * speed_mm_s / (2.0 * acceleration_mm_s2) + speed_mm_s * settle_s
}

/// Time of a move from standstill to standstill, s. Without jerk: D/v + v/a, or 2·√(D/a) where v is not reached.
///
/// With jerk j the acceleration rises and falls evenly. Each ramp to a peak speed p takes p/a + a/j, or
/// 2·√(p/j) where the acceleration does not get to a, and covers half of p times that; p is v, or less where
/// the move is too short. Exact; the model of layers is simpler, see the crate.
pub fn rest_to_rest_s(
    distance_mm: f64,
    speed_mm_s: f64,
    acceleration: f64,
    jerk: Option<f64>,
) -> f64 {
    let Some(jerk) = jerk else {
        return Ramp::fastest(distance_mm, [0.0; 2], speed_mm_s, [acceleration; 2]).duration_s;
    };
    let (a, j) = (acceleration, jerk);
    let ramp_s =
        |peak: f64| if peak >= a * a / j { peak / a + a / j } else { 2.0 * (peak / j).sqrt() };
    // distance of two ramps: peak · ramp_s(peak)
    let long = a * a / j;
    let reached = if distance_mm >= long * ramp_s(long) {
        // p²/a + p·a/j = D
        a * (((a / j) * (a / j) + 4.0 * distance_mm / a).sqrt() - a / j) / 2.0
    } else {
        // 2·p^(3/2)/√j = D
        (distance_mm * distance_mm * j / 4.0).cbrt()
    };
    let peak = reached.min(speed_mm_s);
    let steady_mm = (distance_mm - peak * ramp_s(peak)).max(0.0);
    2.0 * ramp_s(peak) + if steady_mm > 0.0 { steady_mm / peak } else { 0.0 }
}
