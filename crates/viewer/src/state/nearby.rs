//! How far what is held is from what is near it, as dimension lines.

use base::PlacementId;
use job::Placement;
use nesting::{Contact, Gap, Proof, Wall, WallGap};

/// What is near what is held, and where that was.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Nearby {
    /// What is held.
    pub(crate) of: Vec<(PlacementId, Placement)>,
    /// The distances worth showing.
    pub(crate) lines: Vec<Dimension>,
    /// How many more there would be.
    pub(crate) left_out: usize,
}

/// To what a distance is measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Target {
    Placement(PlacementId),
    Wall(Wall),
}

/// One distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Dimension {
    pub(crate) to: Target,
    /// Where it is measured, from what is held.
    pub(crate) ends_mm: [[f64; 3]; 2],
    /// Negative beyond a wall; 0 where parts touch or overlap.
    pub(crate) distance_mm: f64,
    pub(crate) contact: Contact,
    pub(crate) is_too_near: bool,
}

/// Most lines to other placements: more would hide what they measure.
const MOST: usize = 3;
/// Most of them when they are too near.
const MOST_TOO_NEAR: usize = 6;
/// Most lines of a whole arrangement.
const MOST_IN_ALL: usize = 24;

impl Nearby {
    /// Distances up to this are asked for, mm.
    pub(crate) fn reach_mm(clearance_mm: f64) -> f64 {
        (3.0 * clearance_mm).max(15.0)
    }

    /// The lines worth showing: to the nearest placements, to the nearest wall along each axis if it
    /// is within reach, and to all that is too near.
    pub(crate) fn new(
        of: Vec<(PlacementId, Placement)>,
        gaps: &[Gap],
        walls: &[WallGap],
        reach_mm: f64,
        at: impl Fn(usize) -> Option<PlacementId>,
    ) -> Self {
        let mut lines = Vec::new();
        for gap in gaps {
            let most = if gap.violates { MOST_TOO_NEAR } else { MOST };
            if lines.len() < most {
                lines.extend(Dimension::between(gap, &at));
            }
        }
        for pair in walls.chunks(2) {
            let nearest = pair.iter().min_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm));
            let shown = |wall: &&WallGap| wall.violates || wall.distance_mm <= reach_mm;
            lines.extend(nearest.filter(shown).map(Dimension::to_wall));
        }
        Self { of, lines, left_out: 0 }
    }

    /// All that is too near in an arrangement, the worst first, of nothing that is held.
    pub(crate) fn too_near(proof: &Proof, at: impl Fn(usize) -> Option<PlacementId>) -> Self {
        let pairs = proof.pairs.iter().filter(|gap| gap.violates);
        let walls = proof.walls.iter().filter(|wall| wall.violates);
        let pairs = pairs.filter_map(|gap| Dimension::between(gap, &at));
        let mut lines: Vec<Dimension> = walls.map(Dimension::to_wall).chain(pairs).collect();
        let left_out = lines.len().saturating_sub(MOST_IN_ALL);
        lines.truncate(MOST_IN_ALL);
        Self { of: Vec::new(), lines, left_out }
    }
}

impl Dimension {
    fn between(gap: &Gap, at: impl Fn(usize) -> Option<PlacementId>) -> Option<Self> {
        Some(Self {
            to: Target::Placement(at(gap.bodies[1])?),
            ends_mm: gap.points_mm,
            distance_mm: gap.distance_mm,
            contact: gap.contact,
            is_too_near: gap.violates,
        })
    }

    fn to_wall(wall: &WallGap) -> Self {
        Self {
            to: Target::Wall(wall.wall),
            ends_mm: wall.points_mm,
            distance_mm: wall.distance_mm,
            contact: Contact::Apart,
            is_too_near: wall.violates,
        }
    }

    /// The distance in words.
    pub(crate) fn words(&self) -> String {
        let distance = match self.contact {
            Contact::Overlap => return "overlaps".to_owned(),
            Contact::Touch => return "touches".to_owned(),
            Contact::Apart if self.distance_mm < 0.0 => {
                return format!("{:.2} mm beyond", -self.distance_mm);
            }
            Contact::Apart => format!("{:.2} mm", self.distance_mm),
        };
        if self.is_too_near { format!("{distance}, too near") } else { distance }
    }
}
