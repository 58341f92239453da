//! What was prepared in one place, in another.

use crate::distance::off_grid;
use crate::error::ExposeError;
use crate::polyline::{Group, Polyline};
use base::{GRID_LIMIT_NM, OffGrid, Point, mm_from_nm};
use region::Region;

/// A way in the plane, nm to the right and to the back.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Move(pub(crate) [i32; 2]);

impl Move {
    pub(crate) fn point(self, p: Point) -> Result<Point, ExposeError> {
        let Self([dx, dy]) = self;
        let moved = |c: i32, by: i32| {
            let sum = c.saturating_add(by);
            let mm = mm_from_nm(sum);
            let is_on_grid = sum.abs() < GRID_LIMIT_NM;
            is_on_grid.then_some(sum).ok_or(off_grid("a place of a mark", OffGrid { mm }))
        };
        Ok(Point::new(moved(p.x, dx)?, moved(p.y, dy)?))
    }

    pub(crate) fn region(self, region: &Region) -> Result<Region, ExposeError> {
        let Self([dx, dy]) = self;
        let mm = || region.bounds_mm().map_or(0.0, |[_, [x, _]]| x + mm_from_nm(dx));
        region.translated(dx, dy).ok_or_else(|| off_grid("a place of a mark", OffGrid { mm: mm() }))
    }

    pub(crate) fn lines<T: Copy>(
        self,
        lines: &[(T, Polyline)],
    ) -> Result<Vec<(T, Polyline)>, ExposeError> {
        lines.iter().map(|(tag, line)| Ok((*tag, self.line(line)?))).collect()
    }

    pub(crate) fn groups(self, groups: &[Group]) -> Result<Vec<Group>, ExposeError> {
        let level = |level: &Vec<Polyline>| level.iter().map(|line| self.line(line)).collect();
        groups.iter().map(|group| group.iter().map(level).collect()).collect()
    }

    fn line(self, line: &Polyline) -> Result<Polyline, ExposeError> {
        let points = line.points.iter().map(|p| self.point(*p)).collect::<Result<_, _>>()?;
        Ok(Polyline { points, is_closed: line.is_closed })
    }
}
