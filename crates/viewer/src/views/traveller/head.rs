//! How the mirrors move, and what else takes time: fields of the machine.

use super::machine_edit::edit;
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::field::{Number, choice, heading};
use egui::Ui;
use job::Machine;
use job::machine::{Corners, Head, Lens, Servo, ranges};
use std::ops::RangeInclusive;

/// Shows the fields; what is not stated can be stated, and left out again.
pub(super) fn show(ui: &mut Ui, model: &Model, machine: &Machine, actions: &mut Vec<Action>) {
    heading(ui, "Scan head in motion", &model.ink);
    let words = [(false, "ideal, at once at speed"), (true, "with mass")];
    let hint = "Ideal: all times are at commanded speeds, and real ones are longer. With mass: times follow \
                from the numbers below; motion/HEAD.md says how to measure them.";
    if let Some(has) = choice(ui, "Mirrors", &machine.head.is_some(), &words, hint) {
        actions.push(edit("mirrors", None, move |m| m.head = has.then_some(Head::TO_BEGIN_WITH)));
    }
    if let Some(head) = &machine.head {
        numbers(ui, model, head, actions);
        choices(ui, head, actions);
        optional(ui, model, head, actions);
        ui.weak(in_words(head));
    }
    heading(ui, "What else takes time", &model.ink);
    for field in &TIMES {
        let of = field.of;
        let value = *of(&mut machine.clone());
        if let Some(changed) = field.number().show(ui, value, &model.ink) {
            let set = move |m: &mut Machine| *of(m) = changed.value;
            actions.push(edit(field.name, changed.merge, set));
        }
    }
}

fn numbers(ui: &mut Ui, model: &Model, head: &Head, actions: &mut Vec<Action>) {
    for field in &HEAD {
        let of = field.of;
        let value = *of(&mut head.clone());
        if let Some(changed) = field.number().show(ui, value, &model.ink) {
            push(actions, field.name, changed.merge, move |head| *of(head) = changed.value);
        }
    }
    let number = Number {
        name: "Bits of a position",
        unit: "",
        range: f64::from(*ranges::COMMAND_BITS.start())..=f64::from(*ranges::COMMAND_BITS.end()),
        step: 1.0,
        default: None,
        hint: "Bits of a commanded position, over the whole field.",
    };
    if let Some(changed) = number.show(ui, f64::from(head.command_bits), &model.ink) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in its range")]
        let bits = changed.value.round() as u32;
        push(actions, "bits of a position", changed.merge, move |head| head.command_bits = bits);
    }
}

fn choices(ui: &mut Ui, head: &Head, actions: &mut Vec<Action>) {
    let second = matches!(head.servo, Servo::SecondOrder { .. });
    let words = [(false, "creeps up"), (true, "swings in")];
    let hint = "First order: what is missing shrinks by the same share in every moment. Second order: like a \
                mass on a spring with a damper.";
    if let Some(second) = choice(ui, "The spot", &second, &words, hint) {
        let servo = if second { Servo::SecondOrder { damping: 0.7 } } else { Servo::FirstOrder };
        push(actions, "servo", None, move |head| head.servo = servo);
    }
    let words = [(0, "slow down"), (1, "stop and wait"), (2, "run past, dark")];
    let now = match head.corners {
        Corners::SlowDown => 0,
        Corners::Dwell { .. } => 1,
        Corners::RunPast => 2,
    };
    let hint = "What becomes of corners that cannot be run at full speed.";
    if let Some(which) = choice(ui, "Corners", &now, &words, hint) {
        let corners = match which {
            0 => Corners::SlowDown,
            1 => Corners::Dwell { wait_us: 200.0 },
            _ => Corners::RunPast,
        };
        push(actions, "corners", None, move |head| head.corners = corners);
    }
    let words = [(Lens::None, "none"), (Lens::FlatField, "makes the field flat")];
    let hint = "What lies between the mirrors and the bed.";
    if let Some(lens) = choice(ui, "Lens", &head.lens, &words, hint) {
        push(actions, "lens", None, move |head| head.lens = lens);
    }
}

/// Numbers that are there only with some choice.
fn optional(ui: &mut Ui, model: &Model, head: &Head, actions: &mut Vec<Action>) {
    for (name, off, on, value, of) in [
        (
            "Jerk",
            "not limited",
            "limited",
            1e11,
            (|h| &mut h.jerk_mm_s3) as fn(&mut Head) -> &mut Option<f64>,
        ),
        ("Light at a stretch", "any time", "limited", 1e6, |h| &mut h.longest_mark_us),
    ] {
        let words = [(false, off), (true, on)];
        let is_on = of(&mut head.clone()).is_some();
        if let Some(on) = choice(ui, name, &is_on, &words, "Whether the machine states it.") {
            push(actions, name, None, move |head| *of(head) = on.then_some(value));
        }
    }
    for field in &OPTIONAL {
        let of = field.of;
        let Some(value) = of(&mut head.clone()).copied() else { continue };
        if let Some(changed) = field.number().show(ui, value, &model.ink) {
            push(actions, field.name, changed.merge, move |head| {
                if let Some(value) = of(head) {
                    *value = changed.value;
                }
            });
        }
    }
}

/// What follows from the numbers.
fn in_words(head: &Head) -> String {
    let [x, y] = head.field_size_mm;
    let step_um = 1000.0 * motion::geometry::step_mm(x.max(y), head.command_bits);
    let corner = [x / 2.0, y / 2.0];
    let angles = motion::geometry::angles_rad(corner, head.distance_mm, head.mirror_separation_mm);
    let [x_deg, y_deg] = angles.map(f64::to_degrees);
    let angles = match head.lens {
        Lens::None => format!("; in its corner the beam is {x_deg:.1}° and {y_deg:.1}° off"),
        Lens::FlatField => String::new(),
    };
    // at 1 m/s, in µm: a µs is a µm
    let (begins, ends) =
        (head.laser_on_delay_us - head.lag_us, head.laser_off_delay_us - head.lag_us);
    let between_um = 1e6 / head.command_rate_hz;
    format!(
        "The smallest step in the middle of the field is {step_um:.2} µm{angles}. At 1 m/s places are {between_um:.1} \
         µm apart; marks begin {begins:+.0} µm and end {ends:+.0} µm along their way from where they should."
    )
}

fn push(
    actions: &mut Vec<Action>,
    name: &str,
    merge: Option<u64>,
    set: impl FnOnce(&mut Head) + Send + 'static,
) {
    actions.push(edit(name, merge, move |machine| {
        if let Some(head) = &mut machine.head {
            set(head);
        }
    }));
}

/// A number, and where it stands in what it belongs to.
struct Field<F> {
    name: &'static str,
    unit: &'static str,
    range: RangeInclusive<f64>,
    step: f64,
    hint: &'static str,
    of: F,
}

impl<F> Field<F> {
    fn number(&self) -> Number<'_> {
        let Self { name, unit, step, hint, .. } = *self;
        Number { name, unit, range: self.range.clone(), step, default: None, hint }
    }
}

const fn field<F: Copy>(
    name: &'static str,
    unit: &'static str,
    range: RangeInclusive<f64>,
    step: f64,
    hint: &'static str,
    of: F,
) -> Field<F> {
    Field { name, unit, range, step, hint, of }
}

type OfHead = fn(&mut Head) -> &mut f64;
type OfOptional = fn(&mut Head) -> Option<&mut f64>;
type OfMachine = fn(&mut Machine) -> &mut f64;

const ACCELERATION_HINT: &str = "Greatest acceleration of the spot along this axis, at the bed. From memory: 10⁶ \
                                 to 10⁸ mm/s²; a coupon of run-ins shows it.";

const HEAD: [Field<OfHead>; 13] = [
    field("Acceleration X", " mm/s²", ranges::ACCELERATION_MM_S2, 1e5, ACCELERATION_HINT, |h| {
        &mut h.acceleration_mm_s2[0]
    }),
    field("Acceleration Y", " mm/s²", ranges::ACCELERATION_MM_S2, 1e5, ACCELERATION_HINT, |h| {
        &mut h.acceleration_mm_s2[1]
    }),
    field(
        "Settling",
        " µs",
        ranges::DELAY_US,
        1.0,
        "How long the spot trembles after a fast move, until a mark may begin.",
        |h| &mut h.settle_us,
    ),
    field(
        "Lag",
        " µs",
        ranges::DELAY_US,
        1.0,
        "At a steady speed: how far the spot is behind, over its speed.",
        |h| &mut h.lag_us,
    ),
    field(
        "Light on after",
        " µs",
        ranges::DELAY_US,
        1.0,
        "From the command until the light is on.",
        |h| &mut h.laser_on_delay_us,
    ),
    field(
        "Light off after",
        " µs",
        ranges::DELAY_US,
        1.0,
        "From the command until the light is off.",
        |h| &mut h.laser_off_delay_us,
    ),
    field(
        "Shortest light",
        " µs",
        ranges::DELAY_US,
        1.0,
        "Shortest time for which the light can be on.",
        |h| &mut h.shortest_mark_us,
    ),
    field(
        "Corner tolerance",
        " µm",
        ranges::CORNER_TOLERANCE_UM,
        0.5,
        "How far the spot may cut a corner; an arc within that decides how fast a corner can be run.",
        |h| &mut h.corner_tolerance_um,
    ),
    field(
        "Commands",
        " Hz",
        ranges::COMMAND_RATE_HZ,
        100.0,
        "How often the mirrors get a new position.",
        |h| &mut h.command_rate_hz,
    ),
    field(
        "Distance",
        " mm",
        ranges::DISTANCE_MM,
        1.0,
        "From the second mirror down to the bed.",
        |h| &mut h.distance_mm,
    ),
    field(
        "Mirror to mirror",
        " mm",
        ranges::MIRROR_SEPARATION_MM,
        0.5,
        "Between their axes.",
        |h| &mut h.mirror_separation_mm,
    ),
    field("Field X", " mm", ranges::BUILD_SPACE_MM, 1.0, "How wide the mirrors reach.", |h| {
        &mut h.field_size_mm[0]
    }),
    field("Field Y", " mm", ranges::BUILD_SPACE_MM, 1.0, "How deep the mirrors reach.", |h| {
        &mut h.field_size_mm[1]
    }),
];

const OPTIONAL: [Field<OfOptional>; 4] = [
    field(
        "Greatest jerk",
        " mm/s³",
        ranges::JERK_MM_S3,
        1e9,
        "Greatest change of acceleration.",
        |h| h.jerk_mm_s3.as_mut(),
    ),
    field(
        "Longest light",
        " µs",
        1.0..=1e9,
        1000.0,
        "Longest time for which the light can be on at a stretch.",
        |h| h.longest_mark_us.as_mut(),
    ),
    field(
        "Damping",
        "",
        ranges::DAMPING,
        0.01,
        "Share of the damping with which the spot would just not run over.",
        |h| match &mut h.servo {
            Servo::SecondOrder { damping } => Some(damping),
            Servo::FirstOrder => None,
        },
    ),
    field(
        "Wait in corners",
        " µs",
        ranges::DELAY_US,
        1.0,
        "How long the beam stands in a corner.",
        |h| match &mut h.corners {
            Corners::Dwell { wait_us } => Some(wait_us),
            Corners::SlowDown | Corners::RunPast => None,
        },
    ),
];

const TIMES: [Field<OfMachine>; 3] = [
    field("Warm-up", " s", ranges::WARM_UP_S, 60.0, "From the start to the first layer.", |m| {
        &mut m.times.warm_up_s
    }),
    field(
        "Shortest layer",
        " s",
        ranges::RECOAT_TIME_S,
        0.5,
        "Least time from layer to layer, spreading included: the machine waits where a layer is faster.",
        |m| &mut m.times.min_layer_s,
    ),
    field(
        "Cooling",
        " s",
        ranges::COOLING_S,
        600.0,
        "From the last layer until the part cake can be opened.",
        |m| &mut m.times.cooling_s,
    ),
];
