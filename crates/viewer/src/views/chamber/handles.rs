//! Handles to move along X, Y, Z and to rotate about Z: where they are, which is under the pointer,
//! and what a drag of one means.

use crate::state::moves::DragRequest;
use crate::state::rotation::tidy;
use crate::widgets::scene_colours::rgba;
use crate::widgets::theme::Ink;
use glam::{Vec2, Vec3};
use render::chamber::Line3;
use render::{Camera, Ray};

/// What can be taken hold of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Grip {
    /// The arrow along X, Y or Z.
    Axis(usize),
    /// The ring about Z.
    Ring,
    /// The part itself: moves in a plane parallel to the platform.
    Body,
}

/// Handles around a point, of constant size on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Handles {
    /// Middle of what is selected, mm.
    pub(super) centre: Vec3,
    /// Length of an arrow, mm.
    pub(super) reach: f32,
    /// What is under the pointer, or held.
    pub(super) lit: Option<Grip>,
}

/// Length of an arrow, pixels at scale 1.
const ARROW_PIXELS: f32 = 76.0;
/// Radius of the ring against the arrows' length.
const RING: f32 = 0.72;
/// How near the pointer must come, pixels at scale 1.
const CATCH_PIXELS: f32 = 7.0;
const RING_SIDES: usize = 48;

impl Handles {
    /// Nearby a point, as large as the camera makes them.
    pub(super) fn at(centre: Vec3, camera: &Camera, pixels_per_point: f32) -> Self {
        let reach = camera.mm_per_pixel(centre) * ARROW_PIXELS * pixels_per_point;
        Self { centre, reach, lit: None }
    }

    /// The tip of an arrow.
    pub(super) fn tip(&self, axis: usize) -> Vec3 {
        self.centre + Vec3::AXES[axis] * self.reach
    }

    fn ring_point(&self, part: f32) -> Vec3 {
        let (sin, cos) = (part * std::f32::consts::TAU).sin_cos();
        self.centre + Vec3::new(cos, sin, 0.0) * self.reach * RING
    }

    /// What is at a pixel.
    pub(super) fn grip_at(
        &self,
        pixel: Vec2,
        camera: &Camera,
        pixels_per_point: f32,
    ) -> Option<Grip> {
        let within = CATCH_PIXELS * pixels_per_point;
        let away =
            |a: Vec3, b: Vec3| Some(distance_to_segment(pixel, camera.pixel(a)?, camera.pixel(b)?));
        let axes = (0..3).filter_map(|axis| {
            // The first stretch is common to all: it belongs to the part.
            let from = self.centre.lerp(self.tip(axis), 0.25);
            Some((Grip::Axis(axis), away(from, self.tip(axis))?))
        });
        let ring = (0..RING_SIDES).filter_map(|k| {
            let [a, b] = [k, k + 1].map(|k| self.ring_point(k as f32 / RING_SIDES as f32));
            Some((Grip::Ring, away(a, b)? + 1.0)) // arrows win where they cross the ring
        });
        let nearest = axes.chain(ring).min_by(|a, b| a.1.total_cmp(&b.1));
        nearest.filter(|(_, away)| *away <= within).map(|(grip, _)| grip)
    }

    /// Their lines.
    pub(super) fn lines(&self, camera: &Camera, ink: &Ink) -> Vec<Line3> {
        let colour = |grip: Grip| {
            let lit = self.lit == Some(grip);
            (rgba(if lit { ink.accent } else { ink.ink }, 1.0), if lit { 3.0 } else { 1.8 })
        };
        let line = |a: Vec3, b: Vec3, (colour, width)| Line3 {
            a: a.into(),
            b: b.into(),
            colour,
            width,
            on_top: true,
        };
        let mut lines = Vec::new();
        let to_eye = camera.basis().z_axis;
        for axis in 0..3 {
            let style = colour(Grip::Axis(axis));
            let along = Vec3::AXES[axis];
            let tip = self.tip(axis);
            lines.push(line(self.centre, tip, style));
            // A head across the line of sight; seen along the arrow it would be a dot anyway.
            let side = along.cross(to_eye).normalize_or_zero();
            for way in [-0.045, 0.045] {
                let back = tip - along * self.reach * 0.14 + side * self.reach * way;
                lines.push(line(tip, back, style));
            }
        }
        let style = colour(Grip::Ring);
        for k in 0..RING_SIDES {
            let [a, b] = [k, k + 1].map(|k| self.ring_point(k as f32 / RING_SIDES as f32));
            lines.push(line(a, b, style));
        }
        lines
    }
}

/// How a drag of a handle or of a part began.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct HandleDrag {
    pub(super) grip: Grip,
    /// Middle of what is moved when the drag began, mm.
    pub(super) centre: Vec3,
    /// Where the part or handle was touched, mm.
    pub(super) touched: Vec3,
    /// From the eye through the pointer.
    pub(super) ray: Ray,
}

/// Farthest that one drag moves, mm: near the horizon a pixel would mean metres.
const FARTHEST_MM: f64 = 2000.0;

impl HandleDrag {
    /// What the drag means now that the pointer is on this ray; `None` where it means nothing.
    pub(super) fn meant(&self, ray: &Ray) -> Option<DragRequest> {
        match self.grip {
            Grip::Axis(axis) => {
                let along = Vec3::AXES[axis];
                let moved = along_axis(self.centre, along, ray)?
                    - along_axis(self.centre, along, &self.ray)?;
                let mut by = [0.0; 3];
                by[axis] = f64::from(moved).clamp(-FARTHEST_MM, FARTHEST_MM);
                Some(DragRequest::Move(by))
            }
            Grip::Body => {
                let moved = on_plane(ray, self.touched.z)? - on_plane(&self.ray, self.touched.z)?;
                let by = [moved.x, moved.y, 0.0].map(f64::from);
                Some(DragRequest::Move(by.map(|c| c.clamp(-FARTHEST_MM, FARTHEST_MM))))
            }
            Grip::Ring => {
                let angle = |ray: &Ray| {
                    let at = on_plane(ray, self.centre.z)? - self.centre;
                    (at.truncate().length() > 1e-6)
                        .then(|| f64::from(at.y.atan2(at.x)).to_degrees())
                };
                Some(DragRequest::Rotate(2, tidy(angle(ray)? - angle(&self.ray)?)))
            }
        }
    }
}

/// Where a ray meets a level plane, unless it runs nearly along it.
fn on_plane(ray: &Ray, z: f32) -> Option<Vec3> {
    (ray.direction.z.abs() > 0.02).then(|| ray.at_height(z)).flatten()
}

/// How far along an axis the ray comes nearest to it, mm; `None` if they run alike.
fn along_axis(from: Vec3, axis: Vec3, ray: &Ray) -> Option<f32> {
    let between = ray.origin - from;
    let cos = axis.dot(ray.direction);
    let across = 1.0 - cos * cos;
    (across > 1e-3).then(|| (axis.dot(between) - cos * ray.direction.dot(between)) / across)
}

fn distance_to_segment(p: Vec2, a: Vec2, b: Vec2) -> f32 {
    let ab = b - a;
    let t = ((p - a).dot(ab) / ab.length_squared().max(1e-6)).clamp(0.0, 1.0);
    p.distance(a + ab * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Camera {
        let mut camera = Camera::default();
        camera.fit(Vec3::splat(-100.0), Vec3::splat(100.0));
        camera
    }

    fn start(grip: Grip, touched: Vec3, camera: &Camera) -> HandleDrag {
        let ray = camera.ray(camera.pixel(touched).unwrap());
        HandleDrag { grip, centre: Vec3::ZERO, touched, ray }
    }

    #[track_caller]
    fn check_move(grip: Grip, from: Vec3, to: Vec3, expected: [f64; 3]) {
        let camera = camera();
        let ray = camera.ray(camera.pixel(to).unwrap());
        let Some(DragRequest::Move(by)) = start(grip, from, &camera).meant(&ray) else {
            panic!("a drag of {grip:?} moves")
        };
        for k in 0..3 {
            assert!((by[k] - expected[k]).abs() < 0.02, "{by:?} is not {expected:?}");
        }
    }

    #[test]
    fn an_arrow_moves_along_its_axis_alone() {
        check_move(Grip::Axis(0), Vec3::X * 30.0, Vec3::X * 42.0, [12., 0., 0.]);
        check_move(Grip::Axis(2), Vec3::Z * 30.0, Vec3::Z * 5.0, [0., 0., -25.]);
    }

    #[test]
    fn the_part_follows_the_pointer_on_its_level() {
        let z = Vec3::Z * 20.0;
        check_move(Grip::Body, z, z + Vec3::new(14.0, -7.0, 0.0), [14., -7., 0.]);
    }

    #[test]
    fn the_ring_rotates_by_the_angle_of_the_pointer() {
        let camera = camera();
        let ray = camera.ray(camera.pixel(Vec3::Y * 40.0).unwrap());
        let Some(DragRequest::Rotate(2, angle)) =
            start(Grip::Ring, Vec3::X * 50.0, &camera).meant(&ray)
        else {
            panic!("the ring rotates")
        };
        assert!((angle - 90.0).abs() < 0.01, "{angle}");
    }

    #[test]
    fn handles_are_caught_where_they_are_drawn() {
        let camera = camera();
        let handles = Handles::at(Vec3::new(10.0, 5.0, 0.0), &camera, 1.0);
        for axis in 0..3 {
            let pixel = camera.pixel(handles.centre.lerp(handles.tip(axis), 0.9)).unwrap();
            assert_eq!(handles.grip_at(pixel, &camera, 1.0), Some(Grip::Axis(axis)));
        }
        let on_ring = camera.pixel(handles.ring_point(0.13)).unwrap();
        assert_eq!(handles.grip_at(on_ring, &camera, 1.0), Some(Grip::Ring));
        let centre = camera.pixel(handles.centre).unwrap();
        assert_eq!(handles.grip_at(centre, &camera, 1.0), None);
    }
}
