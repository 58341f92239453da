//! Servos against figures of textbooks, and against themselves in small steps.

use base::Point;
use motion::servo::{Command, Sampling, Servo, Spot};
use motion::{Corners, Head, Timeline};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

const REST: Spot = Spot { place_mm: 0.0, speed_mm_s: 0.0 };
const LAG_S: f64 = 2e-4;

#[track_caller]
fn near(found: f64, wanted: f64, off: f64) {
    assert!((found - wanted).abs() <= off, "{found} is not {wanted}");
}

fn to(place_mm: f64) -> Command {
    Command { place_mm, speed_mm_s: 0.0, acceleration_mm_s2: 0.0 }
}

#[test]
fn behind_a_steady_command_any_servo_is_its_lag() {
    // v·τ: 1 mm at 5 m/s and 0.2 ms
    let command = Command { place_mm: 0.0, speed_mm_s: 5000.0, acceleration_mm_s2: 0.0 };
    let second = |damping| Servo::SecondOrder { lag_s: LAG_S, damping };
    for servo in [Servo::FirstOrder { lag_s: LAG_S }, second(0.3), second(1.0), second(2.0)] {
        let spot = servo.follow(REST, command, 0.02);
        near(100.0 - spot.place_mm, 1.0, 1e-6);
        near(spot.speed_mm_s, 5000.0, 1e-2);
    }
}

#[test]
fn a_step_is_settled_after_the_time_of_a_follower_of_first_order() {
    // τ·ln(s/ε) for ε of 0.01 mm
    let servo = Servo::FirstOrder { lag_s: LAG_S };
    for (step_mm, ms) in [(10.0, 1.381_551), (100.0, 1.842_068)] {
        let left = step_mm - servo.follow(REST, to(step_mm), ms * 1e-3).place_mm;
        near(left, 0.01, 1e-7);
    }
}

#[test]
fn a_step_of_second_order_runs_over_as_textbooks_say() {
    // Peak of the step response: at π/(ω·√(1 − ζ²)), over by e^(−πζ/√(1 − ζ²)); with ζ = 1: 1 − (1 + ωt)·e^(−ωt)
    for damping in [0.2, 0.5, 0.7, 0.9] {
        let frequency = 2.0 * damping / LAG_S;
        let root = f64::sqrt(1.0 - damping * damping);
        let peak_s = std::f64::consts::PI / (frequency * root);
        let servo = Servo::SecondOrder { lag_s: LAG_S, damping };
        let peak = servo.follow(REST, to(1.0), peak_s);
        near(peak.place_mm, 1.0 + (-std::f64::consts::PI * damping / root).exp(), 1e-12);
        near(peak.speed_mm_s, 0.0, 1e-8);
    }
    let servo = Servo::SecondOrder { lag_s: LAG_S, damping: 1.0 };
    let (t, frequency) = (3e-4, 2.0 / LAG_S);
    let wanted = 1.0 - (1.0 + frequency * t) * (-frequency * t).exp();
    near(servo.follow(REST, to(1.0), t).place_mm, wanted, 1e-12);
    // just beside, either way, it is nearly the same
    for damping in [1.0 - 1e-6, 1.0 + 1e-6] {
        let servo = Servo::SecondOrder { lag_s: LAG_S, damping };
        near(servo.follow(REST, to(1.0), t).place_mm, wanted, 1e-5);
    }
}

#[test]
fn one_long_step_is_many_short_ones() {
    let command = Command { place_mm: 1.0, speed_mm_s: -300.0, acceleration_mm_s2: 2e6 };
    let start = Spot { place_mm: 0.3, speed_mm_s: 900.0 };
    let second = |damping| Servo::SecondOrder { lag_s: LAG_S, damping };
    for servo in [Servo::FirstOrder { lag_s: LAG_S }, second(0.4), second(1.0), second(3.0)] {
        let whole = servo.follow(start, command, 1e-3);
        // x″ = ω²·(c − x) − 2ζω·x′, or x′ = (c − x)/τ, by the midpoint rule
        let mut spot = start;
        let steps = 100_000;
        let dt = 1e-3 / f64::from(steps);
        for step in 0..steps {
            let t = f64::from(step) * dt;
            let told = |t: f64| 1.0 - 300.0 * t + 1e6 * t * t;
            let rates = |spot: Spot, t: f64| match servo {
                Servo::FirstOrder { lag_s } => ((told(t) - spot.place_mm) / lag_s, 0.0),
                Servo::SecondOrder { lag_s, damping } => {
                    let w = 2.0 * damping / lag_s;
                    let pull = w * w * (told(t) - spot.place_mm);
                    (spot.speed_mm_s, pull - 2.0 * damping * w * spot.speed_mm_s)
                }
            };
            let (v, a) = rates(spot, t);
            let half = Spot {
                place_mm: spot.place_mm + v * dt / 2.0,
                speed_mm_s: spot.speed_mm_s + a * dt / 2.0,
            };
            let (v, a) = rates(half, t + dt / 2.0);
            spot.place_mm += v * dt;
            spot.speed_mm_s += a * dt;
        }
        near(whole.place_mm, spot.place_mm, 1e-6);
    }
}

/// Two lines there and back with turns.
fn timeline() -> Timeline {
    let p = |x: f64, y: f64| Point::from_mm(x, y).expect("on the grid");
    let lines = vec![[p(0.0, 0.0), p(8.0, 1.0)], [p(8.0, 1.2), p(0.0, 0.2)]];
    let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
    let block = Block { placement: 0, exposure: 0, kind, region, paths: Paths::Segments(lines) };
    let row = ExposureRow {
        power_w: 20.0,
        speed_mm_s: 4000.0,
        path_run_in_mm: 0.8,
        path_run_out_mm: 0.8,
        ..ExposureRow::default()
    };
    let header = Header { jump_speed_mm_s: 8000.0, exposures: vec![row], ..Header::default() };
    let head = Head {
        acceleration_mm_s2: [1e7, 1e7],
        jerk_mm_s3: None,
        settle_s: 0.0,
        corners: Corners::SlowDown,
        corner_tolerance_mm: 0.01,
    };
    Timeline::new(&Layer { index: 0, blocks: vec![block] }, &header, Some(&head))
}

#[test]
fn the_spot_in_steps_is_near_the_spot_and_nearer_with_shorter_steps() {
    let timeline = timeline();
    let servos = [
        Servo::FirstOrder { lag_s: LAG_S },
        Servo::SecondOrder { lag_s: LAG_S, damping: 0.7 },
        Servo::FirstOrder { lag_s: 0.0 },
    ];
    for servo in servos {
        for share in [0.1, 0.35, 0.5, 0.55, 0.8, 1.0] {
            let time_s = share * timeline.total_s();
            let spot = timeline.spot_at(servo, time_s).expect("moves");
            for every_s in [1e-5, 1e-6] {
                let sampling = Sampling { every_s, step_mm: 0.001 };
                let found = timeline.spot_in_steps(servo, sampling, time_s).expect("moves");
                // a place is kept until the next one: at most a step of time and half of a step of place behind
                let off_mm = 4100.0 * every_s + 0.001;
                for axis in 0..2 {
                    near(found[axis], spot[axis], off_mm);
                }
            }
        }
    }
    assert_eq!(Timeline::default().spot_at(servos[0], 0.0), None);
}

#[test]
fn on_a_line_the_spot_is_a_lag_behind() {
    let timeline = timeline();
    let time = timeline.time_of(0, 0, 0).expect("the first line");
    let middle_s = f64::midpoint(time.start, time.end);
    let told = timeline.at(middle_s).expect("moves").position_mm;
    let spot = timeline.spot_at(Servo::FirstOrder { lag_s: LAG_S }, middle_s).expect("moves");
    // v·τ = 0.8 mm, but for what is left of speeding up: 0.4 mm·e^(−1 ms/τ) or so
    near((told[0] - spot[0]).hypot(told[1] - spot[1]), 0.8, 0.01);
}
