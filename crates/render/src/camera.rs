//! Where the build is seen from: orbit, pan, zoom, fit, standard directions, and rays through pixels.
//!
//! Build-space millimetres, Z up, `f32`: a build is below 2 m, so a step is below a micrometre, far
//! finer than a pixel. Pixels are counted from the top left of the viewport, Y down.

use glam::{Mat3, Mat4, Vec2, Vec3, Vec4};

/// How depth is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Projection {
    /// Far things are smaller.
    Perspective,
    /// Equal lengths stay equal; drawings measure true.
    Parallel,
}

/// Directions with a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// From −Y.
    Front,
    /// From +Y.
    Back,
    /// From −X.
    Left,
    /// From +X.
    Right,
    /// From above, Y up in the picture as in the plan.
    Top,
    /// From below.
    Bottom,
    /// From the front right corner, above.
    Corner,
}

impl Direction {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 7] =
        [Self::Corner, Self::Front, Self::Back, Self::Left, Self::Right, Self::Top, Self::Bottom];

    /// Yaw and pitch, radians.
    fn angles(self) -> [f32; 2] {
        use std::f32::consts::{FRAC_PI_2, PI};
        match self {
            Self::Front => [0.0, 0.0],
            Self::Back => [PI, 0.0],
            Self::Left => [-FRAC_PI_2, 0.0],
            Self::Right => [FRAC_PI_2, 0.0],
            Self::Top => [0.0, FRAC_PI_2],
            Self::Bottom => [0.0, -FRAC_PI_2],
            // Not 45°: the near and the far upright edge of a square box would coincide.
            Self::Corner => [0.60, 0.50],
        }
    }
}

/// A half line: points `origin + t · direction`, `t ≥ 0`, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ray {
    /// Where it starts, mm.
    pub origin: Vec3,
    /// Unit length.
    pub direction: Vec3,
}

impl Ray {
    /// Where the ray meets the horizontal plane at height `z`; `None` if never.
    pub fn at_height(&self, z: f32) -> Option<Vec3> {
        let along = (z - self.origin.z) / self.direction.z;
        (along.is_finite() && along >= 0.0).then(|| self.origin + self.direction * along)
    }

    /// Distances along the ray at which it enters and leaves a box; `None` if it misses it.
    /// The entry is 0 if the ray starts inside.
    pub fn through_box(&self, low: Vec3, high: Vec3) -> Option<[f32; 2]> {
        let mut span = [0.0_f32, f32::INFINITY];
        for axis in 0..3 {
            let (o, d) = (self.origin[axis], self.direction[axis]);
            if d.abs() < f32::EPSILON {
                if o < low[axis] || o > high[axis] {
                    return None;
                }
                continue;
            }
            let (a, b) = ((low[axis] - o) / d, (high[axis] - o) / d);
            span = [span[0].max(a.min(b)), span[1].min(a.max(b))];
        }
        (span[0] <= span[1]).then_some(span)
    }
}

/// A camera that looks at a point, never tilted sideways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// What is looked at, mm; the middle of the viewport.
    pub target: Vec3,
    /// Turn of the eye about Z, radians; 0 is the front, growing towards +X.
    pub yaw: f32,
    /// Height of the eye above the horizon, radians, `±π/2`.
    pub pitch: f32,
    /// From the eye to the target, mm; in a parallel projection it sets the scale alone.
    pub distance: f32,
    /// How depth is shown.
    pub projection: Projection,
    /// Width and height of the viewport, pixels.
    pub viewport: Vec2,
}

impl Default for Camera {
    fn default() -> Self {
        let [yaw, pitch] = Direction::Corner.angles();
        Self {
            target: Vec3::ZERO,
            yaw,
            pitch,
            distance: 800.0,
            projection: Projection::Perspective,
            viewport: Vec2::new(800.0, 600.0),
        }
    }
}

impl Camera {
    /// Tangent of half the upright angle of view; 32° in all, a long lens that bends little.
    const TAN_HALF: f32 = 0.287;
    /// Closest and farthest, mm.
    const DISTANCES: [f32; 2] = [0.5, 50_000.0];

    /// Right, up and towards the eye: an orthonormal, right-handed basis in build space.
    pub fn basis(&self) -> Mat3 {
        let (sin_yaw, cos_yaw) = self.yaw.sin_cos();
        let (sin_pitch, cos_pitch) = self.pitch.sin_cos();
        let right = Vec3::new(cos_yaw, sin_yaw, 0.0);
        let to_eye = Vec3::new(cos_pitch * sin_yaw, -cos_pitch * cos_yaw, sin_pitch);
        Mat3::from_cols(right, to_eye.cross(right), to_eye)
    }

    /// Where the eye is, mm.
    pub fn eye(&self) -> Vec3 {
        self.target + self.basis().z_axis * self.distance
    }

    /// Millimetres that one pixel spans at a point, across the line of sight.
    pub fn mm_per_pixel(&self, at: Vec3) -> f32 {
        let depth = match self.projection {
            Projection::Perspective => self.depth(at).max(Self::DISTANCES[0] * 0.1),
            Projection::Parallel => self.distance,
        };
        2.0 * Self::TAN_HALF * depth / self.viewport.y.max(1.0)
    }

    /// Distance of a point from the eye along the line of sight, mm; negative behind the eye.
    pub fn depth(&self, at: Vec3) -> f32 {
        (self.eye() - at).dot(self.basis().z_axis)
    }

    /// From build space to clip space (depth 0 at the near plane, 1 at the far one).
    ///
    /// Near and far planes are drawn tightly about the box `[low, high]`, which should hold all that
    /// is drawn: that keeps the depth buffer exact.
    pub fn view_projection(&self, low: Vec3, high: Vec3) -> Mat4 {
        let [near, far] = self.depths(low, high);
        let half = Self::TAN_HALF;
        let aspect = self.viewport.x.max(1.0) / self.viewport.y.max(1.0);
        let (w, h) = (half * aspect, half);
        let (z, depth) = (far / (far - near), far - near);
        let projection = match self.projection {
            Projection::Perspective => Mat4::from_cols(
                Vec4::new(1.0 / w, 0.0, 0.0, 0.0),
                Vec4::new(0.0, 1.0 / h, 0.0, 0.0),
                Vec4::new(0.0, 0.0, -z, -1.0),
                Vec4::new(0.0, 0.0, -z * near, 0.0),
            ),
            Projection::Parallel => Mat4::from_cols(
                Vec4::new(1.0 / (w * self.distance), 0.0, 0.0, 0.0),
                Vec4::new(0.0, 1.0 / (h * self.distance), 0.0, 0.0),
                Vec4::new(0.0, 0.0, -1.0 / depth, 0.0),
                Vec4::new(0.0, 0.0, -near / depth, 1.0),
            ),
        };
        let turn = self.basis().transpose();
        projection * Mat4::from_mat3_translation(turn, -(turn * self.eye()))
    }

    /// Distances of the near and far planes from the eye, mm. In a parallel projection the near one
    /// may lie behind the eye.
    pub fn depths(&self, low: Vec3, high: Vec3) -> [f32; 2] {
        let centre = self.depth(low.midpoint(high));
        let radius = (high - low).length() * 0.5 + 1.0;
        let far = (centre + radius).max(1.0);
        match self.projection {
            Projection::Perspective => [(centre - radius).max(far * 5e-4), far],
            Projection::Parallel => [centre - radius, centre + radius],
        }
    }

    /// The pixel at which a point is seen; `None` behind the eye.
    pub fn pixel(&self, at: Vec3) -> Option<Vec2> {
        let seen = self.basis().transpose() * (at - self.target);
        let depth = match self.projection {
            Projection::Perspective => self.distance - seen.z,
            Projection::Parallel => self.distance,
        };
        let scale = self.viewport.y.max(1.0) / (2.0 * Self::TAN_HALF * depth);
        (depth > 0.0)
            .then(|| self.viewport * 0.5 + Vec2::new(seen.x, -seen.y) * scale)
            .filter(|pixel| pixel.is_finite())
    }

    /// The half line seen at a pixel. In a parallel projection it starts far in front of everything.
    pub fn ray(&self, pixel: Vec2) -> Ray {
        let basis = self.basis();
        let scale = 2.0 * Self::TAN_HALF * self.distance / self.viewport.y.max(1.0);
        let offset = (pixel - self.viewport * 0.5) * scale;
        let on_target_plane = self.target + basis.x_axis * offset.x - basis.y_axis * offset.y;
        match self.projection {
            Projection::Perspective => {
                let eye = self.eye();
                Ray { origin: eye, direction: (on_target_plane - eye).normalize_or(-basis.z_axis) }
            }
            Projection::Parallel => Ray {
                origin: on_target_plane + basis.z_axis * (self.distance + 5_000.0),
                direction: -basis.z_axis,
            },
        }
    }

    /// Turns about a point, which stays at its pixel: by a drag of this many pixels.
    pub fn orbit(&mut self, drag: Vec2, about: Vec3) {
        const RADIANS_PER_PIXEL: f32 = 0.006;
        let before = self.basis();
        let limit = std::f32::consts::FRAC_PI_2;
        self.yaw = wrap(self.yaw - drag.x * RADIANS_PER_PIXEL);
        self.pitch = (self.pitch + drag.y * RADIANS_PER_PIXEL).clamp(-limit, limit);
        let turn = self.basis() * before.transpose();
        self.target = about + turn * (self.target - about);
    }

    /// Shifts by a drag of this many pixels, so that the point stays under the pointer.
    pub fn pan(&mut self, drag: Vec2, point: Vec3) {
        let basis = self.basis();
        let step = drag * self.mm_per_pixel(point);
        self.target += basis.y_axis * step.y - basis.x_axis * step.x;
    }

    /// Comes nearer (`factor < 1`) or goes away, so that the point stays at its pixel.
    pub fn zoom(&mut self, factor: f32, about: Vec3) {
        let distance = (self.distance * factor).clamp(Self::DISTANCES[0], Self::DISTANCES[1]);
        let factor = distance / self.distance;
        self.distance = distance;
        self.target = about + (self.target - about) * factor;
    }

    /// Keeps the direction and shows the whole box with a margin.
    pub fn fit(&mut self, low: Vec3, high: Vec3) {
        const MARGIN: f32 = 1.10;
        if !(low.is_finite() && high.is_finite() && low.cmple(high).all()) {
            return;
        }
        self.target = low.midpoint(high);
        let turn = self.basis().transpose();
        let aspect = self.viewport.x.max(1.0) / self.viewport.y.max(1.0);
        let tan = Vec2::new(Self::TAN_HALF * aspect, Self::TAN_HALF);
        let corners = corners(low, high).map(|corner| turn * (corner - self.target));
        let needed = corners.into_iter().map(|corner| {
            let across = (corner.truncate().abs() / tan).max_element() * MARGIN;
            match self.projection {
                Projection::Perspective => across + corner.z,
                Projection::Parallel => across,
            }
        });
        let distance = needed.fold(0.0, f32::max);
        self.distance = distance.clamp(Self::DISTANCES[0], Self::DISTANCES[1]);
    }

    /// Looks from a named direction, at the same target from the same distance.
    pub fn look_from(&mut self, direction: Direction) {
        [self.yaw, self.pitch] = direction.angles();
    }

    /// On the way from `self` to `to`: 0 here, 1 there; the shorter way round.
    #[must_use]
    pub fn towards(&self, to: &Self, part: f32) -> Self {
        if part >= 1.0 {
            return *to;
        }
        Self {
            target: self.target.lerp(to.target, part),
            yaw: wrap(self.yaw + wrap(to.yaw - self.yaw) * part),
            pitch: self.pitch + (to.pitch - self.pitch) * part,
            distance: self.distance * (to.distance / self.distance).powf(part),
            ..*to
        }
    }
}

/// The eight corners of a box.
pub fn corners(low: Vec3, high: Vec3) -> [Vec3; 8] {
    std::array::from_fn(|i| {
        Vec3::select(glam::BVec3::new(i & 1 != 0, i & 2 != 0, i & 4 != 0), high, low)
    })
}

/// An angle brought into `[−π, π)`.
fn wrap(angle: f32) -> f32 {
    use std::f32::consts::{PI, TAU};
    (angle + PI).rem_euclid(TAU) - PI
}

#[cfg(test)]
mod tests;
