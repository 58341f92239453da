//! Placements from the side: what each covers in every layer, brought to where it stands by now.

use super::scale::Scale;
use super::state::ViewSide;
use crate::state::arrangement::PosedPlacement;
use crate::state::model::Model;
use crate::state::results::Outlines;
use crate::state::rotation::rotation;
use base::PlacementId;
use egui::{Color32, Mesh, Painter, Pos2, Rect, Shape, Stroke, pos2};
use glam::DVec3;
use pipeline::Extent;
use std::sync::Arc;

/// Points across and above the platform, mm.
type Flat = [f64; 2];

/// One placement from the side.
pub(super) struct Silhouette {
    pub(super) at: PlacementId,
    /// Four corners each.
    bands: Vec<[Flat; 4]>,
    loops: Vec<Vec<Flat>>,
    /// Nearer to the eye is greater, mm.
    depth: f64,
    /// Whether it stands where it stood when its layers were looked at.
    is_exact: bool,
}

/// All placements, the farthest first. Layers that fall on one row of the screen count once.
pub(super) fn of(side: ViewSide, scale: &Scale, model: &Model) -> Vec<Silhouette> {
    let least_mm = 0.75 / f64::from(scale.mm.max(1e-6));
    let outlines = model.results.outlines.as_ref();
    let mut all: Vec<Silhouette> = model
        .arrangement
        .placed
        .iter()
        .map(|placed| {
            let known = outlines.and_then(|outlines| known(outlines, placed, model));
            let moved = known.and_then(|(placement, extents)| {
                let mut shape = profile_of(side, extents, least_mm, model.layer_thickness_mm());
                let is_exact = *placement == placed.placement;
                (is_exact || shape.follow(side, placement, placed)).then_some((shape, is_exact))
            });
            let (shape, is_exact) = moved.unwrap_or_else(|| (boxed(side, placed), false));
            let depth = match side {
                ViewSide::Front => -placed.low[1],
                ViewSide::Right => placed.high[0],
            };
            Silhouette { at: placed.at, bands: shape.bands, loops: shape.loops, depth, is_exact }
        })
        .collect();
    all.sort_by(|a, b| a.depth.total_cmp(&b.depth));
    all
}

/// What was looked at of a placement, or of another copy in the same orientation.
fn known<'a>(
    outlines: &'a Outlines,
    placed: &PosedPlacement,
    model: &Model,
) -> Option<(&'a job::Placement, &'a [Extent])> {
    let loaded = &outlines.build.loaded;
    let name = &model.content()?.job.parts.get(placed.at.part)?.name;
    let rows = outlines.build.placements().zip(&outlines.extents);
    let alike = rows.filter_map(|(PlacementId { part, copy }, extents)| {
        let entry = loaded.job.parts.get(part)?;
        let mesh = loaded.meshes.get(loaded.parts.get(part)?.0)?;
        let fits = entry.name == *name && Arc::ptr_eq(mesh, &placed.loaded) && !extents.is_empty();
        let placement = entry.placements.get(copy)?;
        fits.then_some((copy, placement, extents.as_slice()))
    });
    let angles = |p: &job::Placement| p.rotation_deg.map(f64::to_bits);
    let rank = |(copy, p, _): &(usize, &job::Placement, &[Extent])| {
        (angles(p) != angles(&placed.placement), *copy != placed.at.copy)
    };
    alike.min_by_key(rank).map(|(_, placement, extents)| (placement, extents))
}

/// Bands and the lines around them.
struct Profile {
    bands: Vec<[Flat; 4]>,
    loops: Vec<Vec<Flat>>,
}

/// The box of a placement, while no layer of it is known.
fn boxed(side: ViewSide, placed: &PosedPlacement) -> Profile {
    let [across, _] = side.axes();
    let [(x0, z0), (x1, z1)] = [placed.low, placed.high].map(|corner| (corner[across], corner[2]));
    let corners = [[x0, z0], [x1, z0], [x1, z1], [x0, z1]];
    Profile { bands: vec![corners], loops: vec![corners.to_vec()] }
}

/// A shape given by its extent in every layer.
fn profile_of(side: ViewSide, extents: &[Extent], least_mm: f64, thickness: f64) -> Profile {
    let mut profile = Profile { bands: Vec::new(), loops: Vec::new() };
    let (mut left, mut right): (Vec<Flat>, Vec<Flat>) = (Vec::new(), Vec::new());
    let mut last: Option<(u32, f64)> = None;
    for extent in extents {
        let [low, high] = match side {
            ViewSide::Front => extent.x_mm,
            ViewSide::Right => extent.y_mm,
        };
        let [below, above] = [0.0, 1.0].map(|up| (f64::from(extent.layer) + up) * thickness);
        let gap = last.is_some_and(|(layer, _)| layer + 1 != extent.layer);
        if gap {
            profile.close(&mut left, &mut right);
        }
        if !gap && last.is_some_and(|(_, z)| above - z < least_mm) {
            last = last.map(|(_, z)| (extent.layer, z));
            continue;
        }
        let bottom = last.filter(|_| !gap).map_or(below, |(_, z)| z);
        profile.bands.push([[low, bottom], [high, bottom], [high, above], [low, above]]);
        left.extend([[low, bottom], [low, above]]);
        right.extend([[high, bottom], [high, above]]);
        last = Some((extent.layer, above));
    }
    profile.close(&mut left, &mut right);
    profile
}

impl Profile {
    fn close(&mut self, left: &mut Vec<Flat>, right: &mut Vec<Flat>) {
        right.reverse();
        left.append(right);
        if left.len() > 2 {
            self.loops.push(std::mem::take(left));
        }
        left.clear();
    }

    /// Moves and rotates it with its placement; false if that was rotated such that another side is
    /// seen.
    fn follow(&mut self, side: ViewSide, was: &job::Placement, placed: &PosedPlacement) -> bool {
        let [across, along] = side.axes();
        let now = &placed.placement;
        let since = rotation(now.rotation_deg) * rotation(was.rotation_deg).transpose();
        let axis = DVec3::AXES[along];
        if (since * axis).distance(axis) > 1e-6 {
            return false;
        }
        let cell = |row: usize, column: usize| since.col(column)[row];
        let rotated = |p: Flat| {
            [
                cell(across, across) * p[0] + cell(across, 2) * p[1],
                cell(2, across) * p[0] + cell(2, 2) * p[1],
            ]
        };
        for p in self.points() {
            *p = rotated(*p);
        }
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in self.points() {
            low = [0, 1].map(|k| low[k].min(p[k]));
            high = [0, 1].map(|k| high[k].max(p[k]));
        }
        // The middle of a placement is that of its box, whatever its orientation. Layers that were
        // left out as too thin for the screen make no difference that can be seen.
        let still = was.rotation_deg.map(f64::to_bits) == now.rotation_deg.map(f64::to_bits);
        let (from, to) = (was.location_mm, now.location_mm);
        let by = if still {
            [to[across] - from[across], to[2] - from[2]]
        } else {
            [to[across] - f64::midpoint(low[0], high[0]), to[2] - f64::midpoint(low[1], high[1])]
        };
        for p in self.points() {
            *p = [p[0] + by[0], p[1] + by[1]];
        }
        true
    }

    fn points(&mut self) -> impl Iterator<Item = &mut Flat> {
        self.bands.iter_mut().flatten().chain(self.loops.iter_mut().flatten())
    }
}

impl Silhouette {
    /// Whether a place, mm, is within it.
    fn holds(&self, p: Flat) -> bool {
        self.bands.iter().any(|corners| {
            let side = |k: usize| {
                let (a, b) = (corners[k], corners[(k + 1) % 4]);
                (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
            };
            let sides = [0, 1, 2, 3].map(side);
            sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0)
        })
    }
}

/// The placement at a place, mm: a selected one, else the one in front.
pub(super) fn hit(shapes: &[Silhouette], model: &Model, p: Flat) -> Option<PlacementId> {
    let held = || shapes.iter().rev().filter(|shape| shape.holds(p)).map(|shape| shape.at);
    held().find(|at| model.selection.contains(at)).or_else(|| held().next())
}

/// Draws them; more weakly where the layers that were looked at are out of date.
pub(super) fn draw(painter: &Painter, scale: &Scale, shapes: &[Silhouette], model: &Model) {
    let is_selected = |shape: &&Silhouette| model.selection.contains(&shape.at);
    let behind = shapes.iter().filter(|shape| !is_selected(shape));
    for shape in behind.chain(shapes.iter().filter(is_selected)) {
        let strength = if shape.is_exact { 1.0 } else { 0.45 };
        let selected = is_selected(&shape);
        let ink = if selected { model.ink.accent } else { model.ink.ink };
        let line = Stroke::new(if selected { 1.5 } else { 1.0 }, ink.gamma_multiply(strength));
        let fill = if selected { model.ink.accent_tint } else { model.ink.fused };
        fill_bands(painter, scale, &shape.bands, fill.gamma_multiply(0.75 * strength));
        for points in &shape.loops {
            let points: Vec<Pos2> = points.iter().map(|p| scale.at(*p)).collect();
            painter.add(Shape::closed_line(points, line));
        }
    }
}

fn fill_bands(painter: &Painter, scale: &Scale, bands: &[[Flat; 4]], fill: Color32) {
    let mut mesh = Mesh::default();
    for corners in bands {
        let first = u32::try_from(mesh.vertices.len()).unwrap_or(0);
        for corner in corners {
            mesh.colored_vertex(scale.at(*corner), fill);
        }
        mesh.add_triangle(first, first + 1, first + 2);
        mesh.add_triangle(first, first + 2, first + 3);
    }
    painter.add(Shape::mesh(mesh));
}

/// The box around what is selected, on the screen.
pub(super) fn frame_of_selected(side: ViewSide, scale: &Scale, model: &Model) -> Option<Rect> {
    let [across, _] = side.axes();
    let boxes = model.arrangement.selected(&model.selection).map(|placed| {
        let low = scale.at([placed.low[across], placed.low[2]]);
        let high = scale.at([placed.high[across], placed.high[2]]);
        Rect::from_min_max(pos2(low.x, high.y), pos2(high.x, low.y))
    });
    boxes.reduce(Rect::union)
}
