//! What the chamber shows in one frame, as plain data: what is equal to the last one is not drawn again.

use crate::Camera;
use glam::Vec3;

/// Names an uploaded mesh; chosen by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct MeshId(pub u64);

/// Red, green, blue and opacity, each 0 to 255, sRGB, opacity not multiplied in.
pub type Colour = [u8; 4];

/// How an instance is set off from the others; the outline says it, the tone supports it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "any of the sixteen can be")]
pub struct State {
    /// Part of the selection.
    pub selected: bool,
    /// Under the pointer.
    pub hovered: bool,
    /// Has faults.
    pub faulty: bool,
    /// Out of date, or not meant: drawn close to the ground.
    pub faint: bool,
}

/// One copy of a mesh in the build space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instance {
    /// Which mesh; one that is not uploaded is not drawn.
    pub mesh: MeshId,
    /// Rows of `[M | t]`: part frame to build space, mm.
    pub pose: [[f64; 4]; 3],
    /// Tone of its faces in full light.
    pub colour: Colour,
    /// How it is set off.
    pub state: State,
}

/// A straight line of constant width on the screen; a dot where both ends are one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line3 {
    /// One end, mm.
    pub a: [f32; 3],
    /// The other, mm.
    pub b: [f32; 3],
    /// Ink; opacity is honoured.
    pub colour: Colour,
    /// Pixels.
    pub width: f32,
    /// Shown through what is in front of it.
    pub on_top: bool,
}

/// The inks and grounds of a theme.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Palette {
    /// The sheet.
    pub ground: Colour,
    /// Creases: the fine ink.
    pub crease: Colour,
    /// Outlines: the heavy ink.
    pub outline: Colour,
    /// What faces turn to in full shade.
    pub shade: Colour,
    /// Ground of a section.
    pub section: Colour,
    /// Hatching of a section.
    pub section_hatch: Colour,
    /// Faces seen from inside, where nothing closes them.
    pub inside: Colour,
    /// Outline and tint of the selection.
    pub selected: Colour,
    /// Outline and tint of what is under the pointer.
    pub hovered: Colour,
    /// Outline and tint of what has faults.
    pub faulty: Colour,
}

/// Everything one frame shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// From where, and how large.
    pub camera: Camera,
    /// Placements.
    pub instances: Vec<Instance>,
    /// Build space, handles, dimensions, faults.
    pub lines: Vec<Line3>,
    /// Height of the section cut, mm: what lies above is not shown.
    pub section_mm: Option<f32>,
    /// Theme.
    pub palette: Palette,
    /// Pixels to one unit of design: scales outlines and hatching, not lines.
    pub pixels_per_point: f32,
    /// How far a simplified part may be from the true one on the screen, pixels; 0 draws all in full.
    pub detail_pixels: f32,
}

/// The build space as lines: floor with a grid and ticks, a box of fine lines, and the three axes
/// from the platform's centre.
///
/// `size_mm` is along X, Y and Z; the origin is the middle of the floor. Ticks stand 10 mm apart on
/// the front and left edges of the floor, longer ones 50 mm apart, counted from the origin.
pub fn build_space(size_mm: [f32; 3], fine: Colour, axes: [Colour; 3]) -> Vec<Line3> {
    let high = Vec3::new(size_mm[0] * 0.5, size_mm[1] * 0.5, size_mm[2]);
    let low = Vec3::new(-high.x, -high.y, 0.0);
    let mut lines = Vec::new();
    let mut line = |a: Vec3, b: Vec3, colour: Colour, width: f32| {
        lines.push(Line3 { a: a.into(), b: b.into(), colour, width, on_top: false });
    };
    let corners = crate::camera::corners(low, high);
    for (i, &a) in corners.iter().enumerate() {
        for axis in 0..3 {
            if i & (1 << axis) == 0 {
                let floor = axis != 2 && i & 4 == 0;
                line(a, corners[i | (1 << axis)], fine, if floor { 1.6 } else { 1.0 });
            }
        }
    }
    let faint = [fine[0], fine[1], fine[2], fine[3] / 3];
    for axis in 0..2 {
        let other = 1 - axis;
        for (at, long) in ticks(high[axis]) {
            let place = |across: f32| {
                let mut p = Vec3::ZERO;
                p[axis] = at;
                p[other] = across;
                p
            };
            let length = if long { 8.0 } else { 3.0 };
            line(place(low[other] - length), place(low[other]), fine, 1.0);
            if long && at.abs() < high[axis] {
                line(place(low[other]), place(high[other]), faint, 1.0);
            }
        }
    }
    let reach = (high.x.min(high.y) * 0.25).min(25.0);
    for (axis, colour) in axes.into_iter().enumerate() {
        let mut end = Vec3::ZERO;
        end[axis] = reach;
        line(Vec3::ZERO, end, colour, 2.0);
    }
    lines
}

/// Multiples of 10 mm within `±reach`, and whether each is one of 50 mm.
fn ticks(reach: f32) -> impl Iterator<Item = (f32, bool)> {
    #[expect(clippy::cast_possible_truncation, reason = "a build space is below 2 m")]
    let count = (reach.clamp(0.0, 5_000.0) / 10.0).floor() as i16;
    (-count..=count).map(|k| (f32::from(k) * 10.0, k % 5 == 0))
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "whole numbers of mm are exact")]
mod tests {
    use super::*;

    #[test]
    fn the_build_space_has_its_box_and_ticks_from_the_origin() {
        let ink = [0, 0, 0, 90];
        let lines = build_space([200.0, 100.0, 300.0], ink, [ink; 3]);
        let upright = lines.iter().filter(|l| l.a[2] == 0.0 && l.b[2] == 300.0).count();
        assert_eq!(upright, 4);
        let ticks = lines.iter().filter(|l| l.a[1] < -50.0 && l.b[1] == -50.0).count();
        assert_eq!(ticks, 21); // −100, −90, … 100
        assert!(lines.iter().any(|l| l.a[1] < -50.0 && l.a[0] == 0.0), "one stands at the origin");
    }
}
