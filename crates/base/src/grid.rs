//! The integer nanometre grid on which everything in the plane is decided.
//!
//! With |c| < 2³⁰ nm the difference of two coordinates fits 31 bits and sign, and a 2×2
//! determinant of differences fits `i64`, so orientation tests are exact.

use serde::{Deserialize, Serialize};

/// Nanometres in a millimetre.
pub const NM_PER_MM: f64 = 1e6;

/// Every grid coordinate is smaller than this in magnitude: 2³⁰ nm, 1.07 m.
pub const GRID_LIMIT_NM: i32 = 1 << 30;

/// A point of the plane, nm, build-space frame (X right, Y to the back).
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
pub struct Point {
    /// nm to the right.
    pub x: i32,
    /// nm to the back.
    pub y: i32,
}

/// A coordinate that is not finite or does not fit the grid.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("coordinate {mm} mm is outside the grid of ±1073 mm")]
pub struct OffGrid {
    /// The offending coordinate, mm.
    pub mm: f64,
}

impl Point {
    /// A point from nanometres.
    pub const fn new(x: i32, y: i32) -> Self {
        Self { x, y }
    }

    /// The nearest grid point to a position in mm.
    ///
    /// # Errors
    /// [`OffGrid`] if a coordinate is not finite or too large.
    pub fn from_mm(x_mm: f64, y_mm: f64) -> Result<Self, OffGrid> {
        Ok(Self { x: nm_from_mm(x_mm)?, y: nm_from_mm(y_mm)? })
    }

    /// Position in mm.
    pub fn to_mm(self) -> [f64; 2] {
        [mm_from_nm(self.x), mm_from_nm(self.y)]
    }

    /// Twice the signed area of the triangle `self`, `b`, `c`, nm²: positive when they turn left.
    /// Exact.
    pub fn cross(self, b: Self, c: Self) -> i64 {
        let (ux, uy) = (i64::from(b.x) - i64::from(self.x), i64::from(b.y) - i64::from(self.y));
        let (vx, vy) = (i64::from(c.x) - i64::from(self.x), i64::from(c.y) - i64::from(self.y));
        ux * vy - uy * vx
    }

    /// Distance to another point, nm.
    pub fn distance(self, other: Self) -> f64 {
        let dx = f64::from(self.x) - f64::from(other.x);
        let dy = f64::from(self.y) - f64::from(other.y);
        dx.hypot(dy)
    }
}

/// Rounds mm to the nearest nm.
///
/// # Errors
/// [`OffGrid`] if the value is not finite or its magnitude reaches [`GRID_LIMIT_NM`].
pub fn nm_from_mm(mm: f64) -> Result<i32, OffGrid> {
    let nm = (mm * NM_PER_MM).round();
    if nm.abs() < f64::from(GRID_LIMIT_NM) {
        #[expect(clippy::cast_possible_truncation, reason = "checked on the line above")]
        Ok(nm as i32)
    } else {
        Err(OffGrid { mm })
    }
}

/// nm to mm.
pub fn mm_from_nm(nm: i32) -> f64 {
    f64::from(nm) / NM_PER_MM
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conversion_rounds_to_nearest_and_refuses_what_does_not_fit() {
        assert_eq!(nm_from_mm(0.000_000_6), Ok(1));
        assert_eq!(nm_from_mm(-1.5), Ok(-1_500_000));
        for bad in [f64::NAN, f64::INFINITY, 1_073.741_824, -2000.0] {
            assert!(nm_from_mm(bad).is_err(), "{bad}");
        }
        assert!(nm_from_mm(1_073.741_823).is_ok());
    }

    #[test]
    fn orientation_is_exact_at_the_limits_of_the_grid() {
        let m = GRID_LIMIT_NM - 1;
        let (a, b) = (Point::new(-m, -m), Point::new(m, m));
        assert_eq!(a.cross(b, Point::new(0, 0)), 0);
        assert!(a.cross(b, Point::new(0, 1)) > 0);
        assert!(a.cross(b, Point::new(1, 0)) < 0);
        assert!(Point::new(-m, -m).cross(Point::new(m, -m), Point::new(-m, m)) > 0);
    }
}
