//! What a machine's head does over its field: angles, focus, spot and resolution, place by place.

use job::Machine;
use job::machine::{Head, Lens};
use motion::geometry::{angles_rad, focus_excess_mm, growth, slopes_mm, step_mm, stretch};
use serde::Serialize;

/// A place of the field, and what the beam is there.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FieldPoint {
    /// Distance from the middle of the field along X and Y, mm.
    pub at_mm: [f64; 2],
    /// Optical angles of the two mirrors, degrees; none with a lens, which has a rule of its own.
    pub angles_deg: Option<[f64; 2]>,
    /// How far the bed is beyond the focus, mm.
    pub focus_excess_mm: f64,
    /// Radius of the spot across the direction in which the beam comes in, mm.
    pub radius_mm: f64,
    /// How many times longer than wide the spot is.
    pub stretch: f64,
    /// Least step of the spot along X and Y, mm.
    pub step_mm: [f64; 2],
}

/// Places of a quarter of a machine's field, in rows of equal steps from the middle to the corner; the other
/// quarters mirror it. `None` where the machine does not say how its head is made.
///
/// In the middle the spot is taken to be in focus, and nothing refocuses elsewhere. With a flat-field lens the
/// spot is the same everywhere, as far as the machine tells.
pub fn field_map(machine: &Machine, steps: u32) -> Option<Vec<FieldPoint>> {
    let head = machine.head.as_ref()?;
    let steps = steps.max(1);
    let places = (0..=steps).flat_map(|row| (0..=steps).map(move |column| [column, row]));
    let by = |i: u32| f64::from(i) / f64::from(steps) / 2.0;
    let at = |[x, y]: [u32; 2]| [by(x) * head.field_size_mm[0], by(y) * head.field_size_mm[1]];
    Some(places.map(|place| point(machine, head, at(place))).collect())
}

fn point(machine: &Machine, head: &Head, at_mm: [f64; 2]) -> FieldPoint {
    let radius_mm = machine.laser.spot_radius_mm;
    let bits = head.command_bits;
    if head.lens == Lens::FlatField {
        return FieldPoint {
            at_mm,
            angles_deg: None,
            focus_excess_mm: 0.0,
            radius_mm,
            stretch: 1.0,
            step_mm: head.field_size_mm.map(|size| step_mm(size, bits)),
        };
    }
    let (d, e) = (head.distance_mm, head.mirror_separation_mm);
    let angles = angles_rad(at_mm, d, e);
    let excess = focus_excess_mm(at_mm, d, e);
    // positions are even steps of each angle, from edge to edge of the field on its axis
    let reach = [head.field_size_mm[0] / 2.0, head.field_size_mm[1] / 2.0];
    let most = [angles_rad([reach[0], 0.0], d, e)[0], angles_rad([0.0, reach[1]], d, e)[1]];
    let slopes = slopes_mm(angles, d, e);
    FieldPoint {
        at_mm,
        angles_deg: Some(angles.map(f64::to_degrees)),
        focus_excess_mm: excess,
        radius_mm: radius_mm
            * growth(excess, radius_mm, machine.laser.wavelength_nm / base::NM_PER_MM),
        stretch: stretch(angles),
        step_mm: [0, 1].map(|axis| slopes[axis] * step_mm(2.0 * most[axis], bits)),
    }
}
