//! How long the beam takes from the end of one path to the start of another, without walking along either.

use crate::head::Head;
use crate::turn::Turn;
use base::Point;
use scan_path::Header;

/// Where a jump begins or ends, and how fast the beam is there.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PathEnd {
    /// The place, steady run-in or run-out included, mm.
    pub at_mm: [f64; 2],
    /// Velocity, mm/s; nothing where there is no head.
    pub velocity_mm_s: [f64; 2],
}

impl PathEnd {
    /// The same at another place.
    #[must_use]
    pub fn shifted(self, by_mm: [f64; 2]) -> Self {
        Self { at_mm: [0, 1].map(|i| self.at_mm[i] + by_mm[i]), ..self }
    }
}

/// Times of jumps between paths: those of [`walk`](crate::walk()), but for ends whose run-in or run-out is too
/// different for the beam to get from the one speed to the other within the path.
#[derive(Clone, Debug)]
pub struct Jumps {
    head: Option<Head>,
    jump_mm_s: f64,
    /// Of each exposure: speed, run-in, run-out; mm/s and mm.
    exposures: Vec<[f64; 3]>,
}

impl Jumps {
    /// For the exposures and the jump speed of a file, on a head; at jump speed throughout without one.
    pub fn new(header: &Header, head: Option<&Head>) -> Self {
        let rows = header.exposures.iter();
        let exposures = rows.map(|r| [r.speed_mm_s, r.path_run_in_mm, r.path_run_out_mm]).collect();
        Self { head: head.copied(), jump_mm_s: header.jump_speed_mm_s, exposures }
    }

    /// Where a jump begins after a path that ends at a point, in a direction of length 1.
    pub fn leaving(&self, exposure: u16, at: Point, direction: [f64; 2]) -> PathEnd {
        let [speed, _, run_out] = self.exposure(exposure);
        self.end(at, direction, speed, run_out, 1.0)
    }

    /// Where a jump ends before a path that starts at a point, in a direction of length 1.
    pub fn entering(&self, exposure: u16, at: Point, direction: [f64; 2]) -> PathEnd {
        let [speed, run_in, _] = self.exposure(exposure);
        self.end(at, direction, speed, run_in, -1.0)
    }

    /// How long a jump takes, s.
    pub fn time_s(&self, from: &PathEnd, to: &PathEnd) -> f64 {
        let way = way(from, to);
        match &self.head {
            None => way[0].hypot(way[1]) / self.jump_mm_s,
            Some(head) => {
                let ends = [from.velocity_mm_s, to.velocity_mm_s];
                Turn::fastest(head, way, ends[0], ends[1], self.jump_mm_s, head.jerk_s()).duration_s
            }
        }
    }

    /// A time that no such jump stays below, s: each axis has its way to go, no faster than the fastest speed in
    /// play, and its change of speed to make. Cheap.
    pub fn at_least_s(&self, from: &PathEnd, to: &PathEnd) -> f64 {
        let way = way(from, to);
        let Some(head) = &self.head else { return way[0].hypot(way[1]) / self.jump_mm_s };
        let of_axis = |axis: usize| {
            let (a, b) = (from.velocity_mm_s[axis], to.velocity_mm_s[axis]);
            let most = self.jump_mm_s.max(a.abs()).max(b.abs());
            ((b - a).abs() / head.acceleration_mm_s2[axis]).max(way[axis].abs() / most)
        };
        of_axis(0).max(of_axis(1))
    }

    /// The fastest that an axis gets in a jump between ends of this speed, mm/s.
    pub(crate) fn fastest_mm_s(&self, speed_mm_s: f64) -> f64 {
        self.jump_mm_s.max(speed_mm_s)
    }

    fn exposure(&self, row: u16) -> [f64; 3] {
        self.exposures.get(usize::from(row)).copied().unwrap_or_default()
    }

    fn end(&self, at: Point, direction: [f64; 2], speed: f64, run_mm: f64, sign: f64) -> PathEnd {
        let (steady_mm, reached) = match &self.head {
            None => (run_mm, 0.0),
            Some(head) => {
                let rate = head.acceleration_along(direction);
                let reached = (2.0 * rate * run_mm).sqrt().min(speed);
                let is_full = reached >= speed;
                (if is_full { run_mm - speed * speed / (2.0 * rate) } else { 0.0 }, reached)
            }
        };
        let at_mm = at.to_mm();
        PathEnd {
            at_mm: [0, 1].map(|i| at_mm[i] + sign * steady_mm * direction[i]),
            velocity_mm_s: direction.map(|x| x * reached),
        }
    }
}

fn way(from: &PathEnd, to: &PathEnd) -> [f64; 2] {
    [0, 1].map(|i| to.at_mm[i] - from.at_mm[i])
}
