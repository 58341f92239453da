//! Parts made ready for exact distances: surfaces, and points that certainly lie in their material.

use crate::model::{Item, Placed};
use base::vec3::{Vec3, add, cross, length, sub};
use base::{Affine, Cancelled, Progress};
use mesh::Mesh;
use mesh::distance::{Posed, Surface};
use rayon::prelude::*;
use std::sync::{Arc, OnceLock};

/// A part as exact distances see it; one serves any number of placements, and everyone who asks.
#[derive(Clone, Debug)]
pub struct Solid {
    mesh: Arc<Mesh>,
    /// Made when first asked for: a part whose distances nobody asks for needs none.
    index: OnceLock<Index>,
}

/// What is made of a mesh for exact distances.
#[derive(Clone, Debug)]
struct Index {
    surface: Surface,
    /// Some middles of triangles of each connected piece of surface.
    samples: Vec<Vec<Sample>>,
}

/// A point of the surface and the direction into the material there.
type Sample = (Vec3, Vec3);

/// Middles of triangles kept per connected piece of surface. One is enough where surfaces do not touch;
/// more are tried where they do, since a point on the common face decides nothing. By taste.
const SAMPLES: usize = 8;

impl Solid {
    /// A part with this mesh, mm, part frame. The mesh is indexed later, when distances are asked for.
    pub fn new(mesh: Arc<Mesh>) -> Self {
        Self { mesh, index: OnceLock::new() }
    }

    /// Its mesh, mm, part frame.
    pub fn mesh(&self) -> &Arc<Mesh> {
        &self.mesh
    }

    /// Its surface. The first time, the mesh is indexed: O(n log n), for 100,000 triangles some 0.1 s.
    pub fn surface(&self) -> &Surface {
        &self.index().surface
    }

    fn index(&self) -> &Index {
        self.index.get_or_init(|| Index {
            surface: Surface::new(Arc::clone(&self.mesh)),
            samples: samples(&self.mesh),
        })
    }

    /// Per connected piece of surface, points `depth_mm` within the material, build space.
    pub(crate) fn points_within(
        &self,
        pose: &Affine,
        depth_mm: f64,
    ) -> impl Iterator<Item = impl Iterator<Item = Vec3>> {
        self.index().samples.iter().map(move |piece| {
            piece.iter().map(move |(p, inwards)| pose.apply(add(*p, inwards.map(|c| depth_mm * c))))
        })
    }
}

/// A placed part.
#[derive(Clone, Debug)]
pub struct Body {
    /// The part.
    pub solid: Arc<Solid>,
    /// Build space from part frame; it may scale, and must not flatten.
    pub pose: Affine,
}

impl Body {
    pub(crate) fn posed(&self) -> Posed<'_> {
        Posed { surface: self.solid.surface(), pose: self.pose }
    }

    /// Lowest and highest corner along each axis, build space; `None` without triangles.
    pub(crate) fn extremes(&self) -> Option<[[Vec3; 2]; 3]> {
        let mesh = self.solid.mesh();
        let mut found: Option<[[Vec3; 2]; 3]> = None;
        let mut used = vec![false; mesh.vertices.len()];
        for v in mesh.triangles.iter().flatten() {
            let Some(seen) = used.get_mut(*v as usize) else { continue };
            if std::mem::replace(seen, true) {
                continue;
            }
            let p = self.pose.apply(mesh.vertices[*v as usize]);
            let all = found.get_or_insert([[p; 2]; 3]);
            for (k, [lo, hi]) in all.iter_mut().enumerate() {
                if p[k] < lo[k] {
                    *lo = p;
                }
                if p[k] > hi[k] {
                    *hi = p;
                }
            }
        }
        found
    }
}

/// Gives placements the poses of their bodies, which are in the same order.
pub(crate) fn take_poses(build: &mut [Placed], bodies: &[Body]) {
    for (p, body) in build.iter_mut().zip(bodies) {
        p.pose = body.pose;
    }
}

/// The bodies of a build, their meshes indexed side by side. Placements that name no item have none.
///
/// # Errors
/// [`Cancelled`] on request; asked before each mesh.
pub(crate) fn bodies_of(
    items: &[Item],
    build: &[Placed],
    progress: &Progress,
) -> Result<Vec<Body>, Cancelled> {
    let mut used = vec![false; items.len()];
    for p in build {
        if let Some(used) = used.get_mut(p.item) {
            *used = true;
        }
    }
    items.par_iter().zip(used).filter(|(_, used)| *used).try_for_each(|(item, _)| {
        progress.check()?;
        item.solid.surface();
        Ok(())
    })?;
    let body =
        |p: &Placed| Some(Body { solid: Arc::clone(&items.get(p.item)?.solid), pose: p.pose });
    Ok(build.iter().filter_map(body).collect())
}

/// Smallest and largest coordinate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) lo: Vec3,
    pub(crate) hi: Vec3,
}

impl Bounds {
    /// Those of a body; `None` without triangles.
    pub(crate) fn of_body(body: &Body) -> Option<Self> {
        body.extremes().as_ref().map(Self::of)
    }

    pub(crate) fn of(extremes: &[[Vec3; 2]; 3]) -> Self {
        let pick = |end: usize| [0, 1, 2].map(|k| extremes[k][end][k]);
        Self { lo: pick(0), hi: pick(1) }
    }

    /// Distance of two boxes.
    pub(crate) fn distance(&self, other: &Self) -> f64 {
        let square =
            |k: usize| (self.lo[k] - other.hi[k]).max(other.lo[k] - self.hi[k]).max(0.0).powi(2);
        (square(0) + square(1) + square(2)).sqrt()
    }

    pub(crate) fn holds(&self, p: Vec3) -> bool {
        (0..3).all(|k| self.lo[k] <= p[k] && p[k] <= self.hi[k])
    }

    pub(crate) fn moved(&self, by: Vec3) -> Self {
        Self { lo: add(self.lo, by), hi: add(self.hi, by) }
    }
}

/// Pairs of bodies whose boxes are at most `limit` apart, in order.
pub(crate) fn near_pairs(bounds: &[Option<Bounds>], limit: f64) -> Vec<(usize, usize)> {
    let mut order: Vec<(usize, &Bounds)> =
        bounds.iter().enumerate().filter_map(|(i, b)| Some((i, b.as_ref()?))).collect();
    order.sort_by(|a, b| a.1.lo[0].total_cmp(&b.1.lo[0]).then(a.0.cmp(&b.0)));
    let mut pairs = Vec::new();
    for (n, (i, a)) in order.iter().enumerate() {
        let reach = order[n + 1..].iter().take_while(|(_, b)| b.lo[0] <= a.hi[0] + limit);
        let near = reach.filter(|(_, b)| a.distance(b) <= limit);
        pairs.extend(near.map(|(j, _)| (*i.min(j), *i.max(j))));
    }
    pairs.sort_unstable();
    pairs
}

/// Pieces of surface are connected by common vertices.
fn samples(mesh: &Mesh) -> Vec<Vec<Sample>> {
    let mut parent: Vec<usize> = (0..mesh.vertices.len()).collect();
    let root = |parent: &mut Vec<usize>, v: u32| {
        let mut v = v as usize;
        while parent[v] != v {
            parent[v] = parent[parent[v]];
            v = parent[v];
        }
        v
    };
    let usable: Vec<[u32; 3]> = mesh
        .triangles
        .iter()
        .copied()
        .filter(|t| {
            t.iter().all(|v| {
                mesh.vertices.get(*v as usize).is_some_and(|p| p.iter().all(|c| c.is_finite()))
            })
        })
        .collect();
    for [a, b, c] in &usable {
        let a = root(&mut parent, *a);
        for v in [*b, *c] {
            let v = root(&mut parent, v);
            // The lower number leads, so that the order of the pieces is always the same.
            let (low, high) = (a.min(v), a.max(v));
            let low = root(&mut parent, u32::try_from(low).unwrap_or(0));
            parent[high] = low;
        }
    }
    let mut piece_of = vec![usize::MAX; mesh.vertices.len()];
    let mut pieces: Vec<Vec<[u32; 3]>> = Vec::new();
    for t in usable {
        let r = root(&mut parent, t[0]);
        if piece_of[r] == usize::MAX {
            piece_of[r] = pieces.len();
            pieces.push(Vec::new());
        }
        pieces[piece_of[r]].push(t);
    }
    pieces.iter().map(|piece| middles(mesh, piece)).collect()
}

/// Middles of some triangles, the largest first, and the directions against their normals.
fn middles(mesh: &Mesh, piece: &[[u32; 3]]) -> Vec<Sample> {
    let mut all: Vec<(f64, Vec3, Vec3)> = piece
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| mesh.vertices[v as usize]);
            let n = cross(sub(b, a), sub(c, a));
            let twice_area = length(n);
            let inwards = n.map(|c| if twice_area > 0.0 { -c / twice_area } else { 0.0 });
            (twice_area, [0, 1, 2].map(|k| (a[k] + b[k] + c[k]) / 3.0), inwards)
        })
        .collect();
    if all.len() > SAMPLES {
        all.select_nth_unstable_by(SAMPLES - 1, |p, q| {
            q.0.total_cmp(&p.0)
                .then_with(|| p.1.partial_cmp(&q.1).unwrap_or(std::cmp::Ordering::Equal))
        });
        all.truncate(SAMPLES);
    }
    all.sort_by(|p, q| q.0.total_cmp(&p.0));
    all.into_iter().map(|(_, p, inwards)| (p, inwards)).collect()
}
