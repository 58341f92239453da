//! What the spot does when the mirrors follow what they are told with a lag.
//!
//! A servo of first order moves towards the command at a speed that is what is missing over a time τ. One of second
//! order is a mass on a spring with a damper, x″ + 2ζω·x′ + ω²·x = ω²·c. Behind a command that moves at a steady speed
//! v both are v times the lag: τ, and 2ζ/ω, which therefore is what a machine states as its lag. Linear differential
//! equations with constant coefficients, any textbook of control.

use crate::timeline::{Piece, Timeline};

/// How the spot follows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Servo {
    /// What is missing shrinks by the same share in every moment.
    FirstOrder {
        /// Lag, s.
        lag_s: f64,
    },
    /// It swings in.
    SecondOrder {
        /// Lag, s.
        lag_s: f64,
        /// Share of the damping with which it just does not run over, above 0.
        damping: f64,
    },
}

/// The spot along one axis: place, mm, and speed, mm/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Where it is, mm.
    pub place_mm: f64,
    /// How fast it is, mm/s.
    pub speed_mm_s: f64,
}

/// A command along one axis with an even acceleration: place, speed and acceleration at its start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Command {
    /// mm.
    pub place_mm: f64,
    /// mm/s.
    pub speed_mm_s: f64,
    /// mm/s².
    pub acceleration_mm_s2: f64,
}

/// Shares of what was missing that count as nothing: e⁻²⁰ of a metre is 2 µm.
const FORGOTTEN: f64 = 20.0;

impl Servo {
    /// Where the spot is after following a command for a time, s: exact. Without a lag it is where the command is.
    pub fn follow(self, spot: Spot, command: Command, time_s: f64) -> Spot {
        match self {
            Self::FirstOrder { lag_s } | Self::SecondOrder { lag_s, .. } if lag_s <= 0.0 => {
                Spot { place_mm: command.place(time_s), speed_mm_s: command.speed(time_s) }
            }
            Self::FirstOrder { lag_s } => first_order(lag_s, spot, command, time_s),
            Self::SecondOrder { lag_s, damping } => {
                second_order(2.0 * damping / lag_s, damping, spot, command, time_s)
            }
        }
    }

    /// How long ago a command must be to count for nothing any more, s.
    fn memory_s(self) -> f64 {
        match self {
            Self::FirstOrder { lag_s } => FORGOTTEN * lag_s,
            Self::SecondOrder { lag_s, damping } => {
                let frequency = 2.0 * damping / lag_s;
                let slowest = if damping < 1.0 {
                    damping * frequency
                } else {
                    frequency * (damping - (damping * damping - 1.0).sqrt())
                };
                if lag_s > 0.0 { FORGOTTEN / slowest } else { 0.0 }
            }
        }
    }
}

impl Command {
    fn place(&self, t: f64) -> f64 {
        self.place_mm + (self.speed_mm_s + self.acceleration_mm_s2 * t / 2.0) * t
    }

    fn speed(&self, t: f64) -> f64 {
        self.speed_mm_s + self.acceleration_mm_s2 * t
    }

    fn of(piece: &Piece, axis: usize) -> Self {
        Self {
            place_mm: piece.position_mm[axis],
            speed_mm_s: piece.velocity_mm_s[axis],
            acceleration_mm_s2: piece.acceleration_mm_s2[axis],
        }
    }
}

/// The command from a lag ago, as it were, c − τ·c′ + τ²·c″, and what is left of the difference at the start.
fn first_order(lag: f64, spot: Spot, command: Command, t: f64) -> Spot {
    let a = command.acceleration_mm_s2;
    let behind = |t: f64| command.place(t) - lag * command.speed(t) + lag * lag * a;
    let left = (spot.place_mm - behind(0.0)) * (-t / lag).exp();
    let speed_mm_s = command.speed(t) - lag * a - left / lag;
    Spot { place_mm: behind(t) + left, speed_mm_s }
}

/// c − 2ζ/ω·c′ + (4ζ² − 1)/ω²·c″, and what is left of the swing at the start.
fn second_order(frequency: f64, damping: f64, spot: Spot, command: Command, t: f64) -> Spot {
    let lag = 2.0 * damping / frequency;
    let a = command.acceleration_mm_s2;
    let bend = (4.0 * damping * damping - 1.0) / (frequency * frequency) * a;
    let behind = |t: f64| command.place(t) - lag * command.speed(t) + bend;
    let steady = |t: f64| command.speed(t) - lag * a;
    let (off, moving) = (spot.place_mm - behind(0.0), spot.speed_mm_s - steady(0.0));
    let decay = damping * frequency;
    // even and odd solutions: e^(−ζωt) times cos and sin/ω′, or what they become with more damping
    let beyond = damping * damping - 1.0;
    let (even, odd) = if beyond.abs() < 1e-9 {
        ((-decay * t).exp(), t * (-decay * t).exp())
    } else if beyond < 0.0 {
        let swing = frequency * (-beyond).sqrt();
        let (sin, cos) = (swing * t).sin_cos();
        ((-decay * t).exp() * cos, (-decay * t).exp() * sin / swing)
    } else {
        let apart = frequency * beyond.sqrt();
        let (slow, fast) = ((-(decay - apart) * t).exp(), (-(decay + apart) * t).exp());
        (f64::midpoint(slow, fast), (slow - fast) / (2.0 * apart))
    };
    Spot {
        place_mm: behind(t) + off * even + (moving + decay * off) * odd,
        speed_mm_s: steady(t) + moving * even
            - (frequency * frequency * off + decay * moving) * odd,
    }
}

/// What a head gets of a command: places at even times, each kept until the next, in whole steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sampling {
    /// Time between two places, s, above 0.
    pub every_s: f64,
    /// Smallest step of a place, mm; 0 if there is none.
    pub step_mm: f64,
}

impl Timeline {
    /// Where the spot really is at a time, mm, if it follows what is commanded like this. `None` if there is no move.
    /// It stood still where the layer begins. Follows the command for as long before as counts.
    pub fn spot_at(&self, servo: Servo, time_s: f64) -> Option<[f64; 2]> {
        let (mut spots, mut at_s) = self.spots_before(servo, time_s)?;
        let mut index = self.index_at(at_s)?;
        while index < self.moves().len() && self.moves()[index].start_s < time_s {
            for piece in self.pieces(index) {
                let from = (at_s - piece.start_s).clamp(0.0, piece.duration_s);
                let to = (time_s - piece.start_s).clamp(from, piece.duration_s);
                if to <= from {
                    continue; // before what counts, or still to come
                }
                for (axis, spot) in spots.iter_mut().enumerate() {
                    let whole = Command::of(&piece, axis);
                    let rest = Command {
                        place_mm: whole.place(from),
                        speed_mm_s: whole.speed(from),
                        ..whole
                    };
                    *spot = servo.follow(*spot, rest, to - from);
                }
                at_s = at_s.max(piece.start_s + to);
            }
            index += 1;
        }
        Some(spots.map(|spot| spot.place_mm))
    }

    /// The same with a command that comes in samples: step by step.
    pub fn spot_in_steps(&self, servo: Servo, sampling: Sampling, time_s: f64) -> Option<[f64; 2]> {
        let (mut spots, start_s) = self.spots_before(servo, time_s)?;
        let mut sample = (start_s / sampling.every_s).floor();
        let mut at_s = start_s;
        while at_s < time_s {
            let told = self.at(sample * sampling.every_s)?.position_mm;
            sample += 1.0;
            let until_s = (sample * sampling.every_s).min(time_s);
            for (axis, spot) in spots.iter_mut().enumerate() {
                let place_mm = if sampling.step_mm > 0.0 {
                    (told[axis] / sampling.step_mm).round() * sampling.step_mm
                } else {
                    told[axis]
                };
                let command = Command { place_mm, speed_mm_s: 0.0, acceleration_mm_s2: 0.0 };
                *spot = servo.follow(*spot, command, until_s - at_s);
            }
            at_s = until_s.max(at_s);
        }
        Some(spots.map(|spot| spot.place_mm))
    }

    /// The spot as if it had no lag, so long before a time that this no longer counts, and when that is.
    fn spots_before(&self, servo: Servo, time_s: f64) -> Option<([Spot; 2], f64)> {
        let start_s = (time_s - servo.memory_s()).max(0.0);
        let beam = self.at(start_s)?;
        let moving = start_s > 0.0;
        let spots = [0, 1].map(|axis| Spot {
            place_mm: beam.position_mm[axis],
            speed_mm_s: if moving { beam.velocity_mm_s[axis] } else { 0.0 },
        });
        Some((spots, start_s))
    }
}
