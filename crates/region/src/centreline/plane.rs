//! Vectors, and edges with the material on their left.

use base::Point;

/// In nm, or a direction.
pub(super) type Vector = [f64; 2];

pub(super) fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

pub(super) fn cross(a: Vector, b: Vector) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(super) fn float(p: Point) -> Vector {
    [f64::from(p.x), f64::from(p.y)]
}

pub(super) fn vector(from: Point, to: Point) -> Vector {
    let (a, b) = (float(from), float(to));
    [b[0] - a[0], b[1] - a[1]]
}

/// On the left of a direction.
pub(super) fn left(of: Vector) -> Vector {
    [-of[1], of[0]]
}

/// An edge of the boundary, the material on its left.
#[derive(Clone, Copy)]
pub(super) struct Straight {
    pub(super) start: Point,
    pub(super) end: Point,
    /// Direction, of length 1.
    pub(super) along: Vector,
    pub(super) length: f64,
}

impl Straight {
    pub(super) fn new([start, end]: [Point; 2]) -> Self {
        let [x, y] = vector(start, end);
        let length = x.hypot(y);
        Self { start, end, along: [x / length, y / length], length }
    }

    /// The place at a distance along the edge and another above it.
    pub(super) fn place(&self, t: f64, up: f64) -> Vector {
        let normal = left(self.along);
        let start = float(self.start);
        [0, 1].map(|k| start[k] + (t * self.along[k] + up * normal[k]))
    }

    /// How far along the edge and above it a point is.
    pub(super) fn local(&self, point: Point) -> Vector {
        let w = self.away(float(point));
        [dot(self.along, w), cross(self.along, w)]
    }

    fn away(&self, place: Vector) -> Vector {
        let start = float(self.start);
        [place[0] - start[0], place[1] - start[1]]
    }

    /// Distance of a place to the edge, nm.
    pub(super) fn distance(&self, place: Vector) -> f64 {
        let w = self.away(place);
        let t = dot(w, self.along).clamp(0.0, self.length);
        (w[0] - t * self.along[0]).hypot(w[1] - t * self.along[1])
    }
}
