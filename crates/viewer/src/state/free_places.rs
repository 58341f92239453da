//! Free places for further copies and for new parts, so that they do not start inside others.

use crate::state::model::Model;
use crate::state::moves;
use base::PlacementId;
use job::Placement;

type Box3 = [[f64; 3]; 2];

/// Where there is no free place, how far from what it was made of a copy stands, mm: far enough to be
/// seen.
const BESIDE_MM: f64 = 5.0;

/// The boxes of all placements, and the room for them.
pub(crate) struct FreePlaces<'a> {
    model: &'a Model,
    taken: Vec<Box3>,
    room: Box3,
    gap_mm: f64,
    /// The level above everything that new parts have come to, where the platform is full.
    shelf_mm: Option<f64>,
    /// Sizes for which a level was found to be full.
    full: Vec<(f64, [f64; 3])>,
}

impl<'a> FreePlaces<'a> {
    pub(crate) fn new(model: &'a Model) -> Self {
        let taken =
            model.arrangement.placed.iter().map(|placed| [placed.low, placed.high]).collect();
        let clearances = model.content().map(|c| c.job.clearances).unwrap_or_default();
        let [w, d, h] = model.content().map_or([0.0; 3], |c| c.machine.build_space_mm);
        let wall = clearances.walls_mm;
        let room =
            [[wall - w / 2.0, wall - d / 2.0, wall], [w / 2.0 - wall, d / 2.0 - wall, h - wall]];
        let (shelf_mm, full) = (None, Vec::new());
        Self { model, taken, room, gap_mm: clearances.parts_mm, shelf_mm, full }
    }

    /// A place for one more copy, rotated alike: the free one nearest to it by whole boxes, on its own
    /// height if there is one, or else above.
    pub(crate) fn place(&mut self, of: PlacementId, placement: Placement) -> Placement {
        let own = self.model.arrangement.placement(of).map(|placed| [placed.low, placed.high]);
        let free = own.and_then(|own| self.free_move(own));
        let by = free.unwrap_or([BESIDE_MM, BESIDE_MM, 0.0]);
        self.taken.extend(own.map(|own| moved(own, by)));
        moves::moved(placement, by)
    }

    /// A place for something new of this size, mm: where its middle is to be. On the level of the platform, as
    /// near to the middle as there is room; above everything where there is none.
    pub(crate) fn on_platform(&mut self, size: [f64; 3]) -> [f64; 3] {
        let floor = self.room[0][2];
        let found = self.on_level(size, floor);
        let shelf = self.shelf_mm.filter(|_| found.is_none());
        let found = found.or_else(|| self.on_level(size, shelf?));
        let found = found.unwrap_or_else(|| {
            let above = self.taken.iter().map(|other| other[1][2] + self.gap_mm);
            let above = above.fold(floor, f64::max);
            self.shelf_mm = Some(above);
            let middle = box_at([-size[0] / 2.0, -size[1] / 2.0, above], size);
            self.on_level(size, above).unwrap_or(middle)
        });
        self.taken.push(found);
        [0, 1, 2].map(|k| found[0][k].midpoint(found[1][k]))
    }

    /// The free box of a size nearest to the middle whose bottom is on this level: in the middle, or beside
    /// what stands there.
    fn on_level(&mut self, size: [f64; 3], level: f64) -> Option<Box3> {
        let is_smaller = |full: &[f64; 3]| (0..3).all(|k| full[k] <= size[k]);
        if self.full.iter().any(|(of, full)| (level - of).abs() < 1e-9 && is_smaller(full)) {
            return None;
        }
        let is_beside = |other: &&Box3| {
            other[0][2] < level + size[2] + self.gap_mm && level < other[1][2] + self.gap_mm
        };
        let beside: Vec<&Box3> = self.taken.iter().filter(is_beside).collect();
        let lows = |k: usize| {
            let by =
                |other: &&Box3| [other[1][k] + self.gap_mm, other[0][k] - self.gap_mm - size[k]];
            let mut lows: Vec<f64> = beside.iter().flat_map(by).chain([-size[k] / 2.0]).collect();
            lows.sort_by(|a, b| (a + size[k] / 2.0).abs().total_cmp(&(b + size[k] / 2.0).abs()));
            lows.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
            lows
        };
        let (x, y) = (lows(0), lows(1));
        let boxes = y.iter().flat_map(|y| x.iter().map(move |x| box_at([*x, *y, level], size)));
        let found = boxes.into_iter().find(|it| self.is_free(*it));
        if found.is_none() {
            self.full.push((level, size));
        }
        found
    }

    fn free_move(&self, own: Box3) -> Option<[f64; 3]> {
        let step = [0, 1, 2].map(|k| own[1][k] - own[0][k] + self.gap_mm);
        let whole = |mm: f64, k: usize| {
            #[expect(clippy::cast_possible_truncation, reason = "`as` saturates")]
            let steps = (mm / step[k].max(1e-3) + 1e-9).floor().clamp(0.0, 500.0) as i32;
            steps
        };
        let reach = |k: usize| {
            (-whole(own[0][k] - self.room[0][k], k), whole(self.room[1][k] - own[1][k], k))
        };
        let [(x0, x1), (y0, y1), (_, z1)] = [reach(0), reach(1), reach(2)];
        for z in 0..=z1 {
            let level = (y0..=y1).flat_map(|y| (x0..=x1).map(move |x| [x, y, z]));
            let mut moves: Vec<[f64; 3]> =
                level.map(|n| [0, 1, 2].map(|k| f64::from(n[k]) * step[k])).collect();
            moves.sort_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])));
            if let Some(by) = moves.into_iter().find(|by| self.is_free(moved(own, *by))) {
                return Some(by);
            }
        }
        None
    }

    fn is_free(&self, it: Box3) -> bool {
        const NOISE: f64 = 1e-9;
        let inside = (0..3)
            .all(|k| it[0][k] > self.room[0][k] - NOISE && it[1][k] < self.room[1][k] + NOISE);
        let apart = |other: &Box3| {
            (0..3).any(|k| {
                it[0][k] > other[1][k] + self.gap_mm - NOISE
                    || other[0][k] > it[1][k] + self.gap_mm - NOISE
            })
        };
        inside && self.taken.iter().all(apart)
    }
}

fn box_at(low: [f64; 3], size: [f64; 3]) -> Box3 {
    [low, [0, 1, 2].map(|k| low[k] + size[k])]
}

fn moved(it: Box3, by: [f64; 3]) -> Box3 {
    it.map(|corner| [0, 1, 2].map(|k| corner[k] + by[k]))
}
