//! Free places for further copies, so that they do not start inside others.

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
        Self { model, taken, room, gap_mm: clearances.parts_mm }
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

fn moved(it: Box3, by: [f64; 3]) -> Box3 {
    it.map(|corner| [0, 1, 2].map(|k| corner[k] + by[k]))
}
