//! Smallest distance between two posed triangle meshes.
//!
//! Branch and bound over two hierarchies (Larsen, Gottschalk, Lin & Manocha 2000, IEEE Conf. on
//! Robotics and Automation, 3719–3726): of two boxes the larger is divided, the nearer half is
//! looked at first, and what cannot be nearer than the best pair so far is left out. Boxes are
//! never refitted: those of one mesh are turned into the frame of the other, and where that does not
//! settle it, boxes along the surface are asked.
//!
//! Boxes give bounds from below, to within rounding; pairs of triangles are measured in double
//! precision in the build space; whether they meet is decided exactly.

mod frame;
mod patch;
mod sweep;
mod triangles;

use crate::measures::usable_corners;
use crate::{Hierarchy, Hit, Mesh};
use base::vec3::Vec3;
use base::{Affine, Cancelled, Progress};
use frame::{Cuboid, Frame};
use patch::{Patch, View, are_farther, patches};
use std::sync::Arc;
use triangles::{Pair, certain_gap, measure, meet_deep};

pub use sweep::is_in_the_way;
pub(crate) use triangles::nearest_on;

/// A mesh made ready for distance queries; one serves any number of placements.
#[derive(Clone, Debug)]
pub struct Surface {
    mesh: Arc<Mesh>,
    tree: Hierarchy,
    patches: Vec<Patch>,
}

impl Surface {
    /// Indexes a mesh, mm, part frame. O(n log n); 100,000 triangles take some 0.1 s.
    pub fn new(mesh: Arc<Mesh>) -> Self {
        let tree = Hierarchy::build(&mesh);
        let patches = patches(&mesh, &tree);
        Self { mesh, tree, patches }
    }

    /// The mesh.
    pub fn mesh(&self) -> &Arc<Mesh> {
        &self.mesh
    }

    /// Its hierarchy, for other queries.
    pub fn tree(&self) -> &Hierarchy {
        &self.tree
    }
}

/// A surface at its place.
#[derive(Clone, Copy, Debug)]
pub struct Posed<'a> {
    /// The surface.
    pub surface: &'a Surface,
    /// Build space from part frame; it may scale, and must not flatten.
    pub pose: Affine,
}

impl Posed<'_> {
    /// The nearest triangle along a ray from `origin`, mm, build space; see
    /// [`Hierarchy::first_hit`]. `None` also if the pose flattens.
    pub fn first_hit(&self, origin: [f64; 3], direction: [f64; 3]) -> Option<Hit> {
        let inverse = frame::inverse(&self.pose)?;
        let turned = inverse.rows.map(|r| (0..3).map(|k| r[k] * direction[k]).sum());
        self.tree().first_hit(&self.surface.mesh, inverse.apply(origin), turned)
    }

    fn tree(&self) -> &Hierarchy {
        &self.surface.tree
    }

    fn corners(&self, triangle: u32) -> Option<[Vec3; 3]> {
        let mesh = &self.surface.mesh;
        let corners = usable_corners(mesh, *mesh.triangles.get(triangle as usize)?)?;
        Some(corners.map(|p| self.pose.apply(p)))
    }

    /// Replaces `into` by the posed triangles of a leaf.
    fn leaf(&self, node: u32, into: &mut Vec<(u32, [Vec3; 3])>) {
        into.clear();
        let all = self.tree().triangles_of(node);
        into.extend(all.filter_map(|t| Some((t, self.corners(t)?))));
    }
}

/// The nearest points of two surfaces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Their distance, mm; 0 where surfaces touch or cross.
    pub distance_mm: f64,
    /// A nearest point of the first and of the second surface, mm, build space.
    pub points_mm: [[f64; 3]; 2],
    /// The triangles on which they lie.
    pub triangles: [u32; 2],
    /// Whether the surfaces cross more deeply than asked for.
    pub crosses: bool,
}

/// How to look.
#[derive(Clone, Copy, Debug)]
pub struct Query {
    /// Surfaces farther apart than this are of no interest, mm; may be infinite.
    pub limit_mm: f64,
    /// Surfaces that cross less deeply than this touch, mm.
    pub touch_mm: f64,
    /// A pair of triangles that is likely near: the last answer while a part is moved.
    pub hint: Option<[u32; 2]>,
}

impl Default for Query {
    fn default() -> Self {
        Self { limit_mm: f64::INFINITY, touch_mm: 0.0, hint: None }
    }
}

/// The smallest distance of two surfaces, if it is at most `query.limit_mm`. Solids are not looked
/// into: of a part within the material of another the distance of their surfaces is told; ask
/// [`is_inside`]. `None` also if a surface is empty or a pose flattens or is not finite.
///
/// The answer is right to some 1e-13 of the parts' size, and surfaces that touch or cross are told
/// exactly, given the posed corners. The search ends early when surfaces cross more deeply than
/// `query.touch_mm`. Of several nearest places one is named, always the same one.
///
/// O(log n) for surfaces that are near each other in one place, O(n) where they run side by side.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn distance(
    a: &Posed,
    b: &Posed,
    query: &Query,
    progress: &Progress,
) -> Result<Option<Nearest>, Cancelled> {
    let (Some(root_a), Some(root_b)) = (a.tree().root(), b.tree().root()) else { return Ok(None) };
    let (Some(into_a), Some(view_a), Some(view_b)) =
        (Frame::new(&a.pose, &b.pose), View::new(&a.pose), View::new(&b.pose))
    else {
        return Ok(None);
    };
    let (box_a, box_b) = (Cuboid::of(root_a), into_a.turned(&Cuboid::of(root_b)));
    let reach = |c: &Cuboid| (0..3).map(|k| c.centre[k].abs() + c.half[k]).sum::<f64>();
    let noise = 1e-13 * into_a.largest * (reach(&box_a) + reach(&box_b));
    let mut search = Search {
        a,
        b,
        into_a,
        views: [view_a, view_b],
        best: None,
        most: query.limit_mm,
        noise,
        touch: query.touch_mm,
        steps: 0,
        progress,
        corners: [Vec::with_capacity(8), Vec::with_capacity(8)],
    };
    if let Some([s, t]) = query.hint {
        search.look_at(s, t);
    }
    let gap = search.into_a.gap(&box_a, &box_b);
    if search.may_be_nearer(gap) {
        search.descend((0, &box_a), (0, &box_b))?;
    }
    Ok(search.best)
}

/// Whether a point, mm, build space, lies in the material of a mesh: where its surface winds around
/// the point. On the surface, no.
pub fn is_inside(solid: &Posed, point_mm: [f64; 3]) -> bool {
    let Some(inverse) = frame::inverse(&solid.pose) else { return false };
    solid.tree().winding(&solid.surface.mesh, inverse.apply(point_mm)).is_some_and(|w| w != 0)
}

struct Search<'a> {
    a: &'a Posed<'a>,
    b: &'a Posed<'a>,
    into_a: Frame,
    views: [View; 2],
    best: Option<Nearest>,
    /// What is farther than this is of no interest.
    most: f64,
    /// What rounding may add to a bound.
    noise: f64,
    touch: f64,
    steps: u32,
    progress: &'a Progress,
    /// Posed triangles of two leaves.
    corners: [Vec<(u32, [Vec3; 3])>; 2],
}

impl Search<'_> {
    /// Whether boxes this far apart may hold a pair nearer than the best so far.
    #[inline]
    fn may_be_nearer(&self, gap: f64) -> bool {
        match &self.best {
            None => gap <= self.most + self.noise,
            // Of surfaces that touch, only those that cross are worth more.
            Some(best) if self.most <= 0.0 => !best.crosses && gap <= self.noise,
            Some(_) => gap < self.most - self.noise,
        }
    }

    fn crosses(&self) -> bool {
        self.best.is_some_and(|best| best.crosses)
    }

    /// Looks for nearer pairs below a pair of nodes, given with their boxes in the frame of `a`.
    fn descend(&mut self, (i, p): (u32, &Cuboid), (j, q): (u32, &Cuboid)) -> Result<(), Cancelled> {
        self.steps += 1;
        if self.steps.is_multiple_of(1024) {
            self.progress.check()?;
        }
        let (first_a, first_b) = (self.a.tree().children(i), self.b.tree().children(j));
        let divide_a = match (first_a, first_b) {
            (None, None) => {
                self.leaves(i, j);
                return Ok(());
            }
            (Some(_), None) => true,
            (None, Some(_)) => false,
            (Some(_), Some(_)) => p.size() >= q.size(),
        };
        // The halves in the frame of `a`, and how far each is from the other box.
        let first = if divide_a { first_a } else { first_b }.unwrap_or_default();
        let half = |child: u32| {
            let (c, gap, apart);
            if divide_a {
                c = Cuboid::of(self.a.tree().bounds_of(child));
                (gap, apart) = (self.into_a.gap(&c, q), c.centre_distance(q));
            } else {
                c = self.into_a.turned(&Cuboid::of(self.b.tree().bounds_of(child)));
                (gap, apart) = (self.into_a.gap(p, &c), c.centre_distance(p));
            }
            (gap, apart, child, c)
        };
        let mut halves = [half(first), half(first + 1)];
        if (halves[1].0, halves[1].1) < (halves[0].0, halves[0].1) {
            halves.swap(0, 1);
        }
        for (gap, _, child, c) in &halves {
            let pair = if divide_a { (*child, j) } else { (i, *child) };
            if self.crosses() || !self.may_be_nearer(*gap) || self.patches_are_farther(pair) {
                continue;
            }
            if divide_a {
                self.descend((*child, c), (j, q))?;
            } else {
                self.descend((i, p), (*child, c))?;
            }
        }
        Ok(())
    }

    /// Whether the surface below two nodes is proven to hold no nearer pair.
    fn patches_are_farther(&self, (i, j): (u32, u32)) -> bool {
        let (p, q) = (&self.a.surface.patches[i as usize], &self.b.surface.patches[j as usize]);
        let least =
            if self.best.is_some() { self.most - self.noise } else { self.most + self.noise };
        are_farther((&self.views[0], p), (&self.views[1], q), least.max(self.noise))
    }

    fn leaves(&mut self, i: u32, j: u32) {
        let [mut own, mut other] = std::mem::take(&mut self.corners);
        self.a.leaf(i, &mut own);
        self.b.leaf(j, &mut other);
        for (s, own) in &own {
            for (t, other) in &other {
                self.compare((*s, own), (*t, other));
            }
        }
        self.corners = [own, other];
    }

    fn look_at(&mut self, s: u32, t: u32) {
        if let (Some(own), Some(other)) = (self.a.corners(s), self.b.corners(t)) {
            self.compare((s, &own), (t, &other));
        }
    }

    fn compare(&mut self, (s, own): (u32, &[Vec3; 3]), (t, other): (u32, &[Vec3; 3])) {
        let gap = certain_gap(own, other, self.most);
        if gap > self.noise && gap >= self.most || self.crosses() {
            return;
        }
        let mut found = Nearest {
            distance_mm: 0.0,
            points_mm: [[0.0; 3]; 2],
            triangles: [s, t],
            crosses: false,
        };
        let met = if gap > self.noise { None } else { meet_deep(own, other) };
        if let Some((point, depth)) = met {
            found.points_mm = [point; 2];
            found.crosses = depth > self.touch;
        } else {
            let Pair { square, points } = measure(own, other);
            found.distance_mm = square.sqrt();
            found.points_mm = points;
        }
        let better = match &self.best {
            Some(best) => found.distance_mm < best.distance_mm || found.crosses,
            None => found.distance_mm <= self.most,
        };
        if better {
            self.most = found.distance_mm;
            self.best = Some(found);
        }
    }
}

#[cfg(test)]
pub(crate) mod tests;
