//! How mirrors move, and what else takes time.

use crate::check_machine;
use job::Machine;
use job::machine::{Corners, Head, Servo};

type OfHead = fn(&mut Head) -> &mut f64;
type OfMachine = fn(&mut Machine) -> &mut f64;

/// Breaks one value of a valid head.
#[track_caller]
fn check(spoil: impl FnOnce(&mut Head), sentence: &str) {
    check_machine(|machine| spoil(machine.head.as_mut().unwrap()), sentence);
}

#[test]
fn delays() {
    let delays: [(&str, OfHead); 5] = [
        ("settle_us", |h| &mut h.settle_us),
        ("lag_us", |h| &mut h.lag_us),
        ("laser_on_delay_us", |h| &mut h.laser_on_delay_us),
        ("laser_off_delay_us", |h| &mut h.laser_off_delay_us),
        ("shortest_mark_us", |h| &mut h.shortest_mark_us),
    ];
    for (name, of) in delays {
        let says = format!("head.{name} is -1; it must be at least 0 and at most 100000");
        check(|head| *of(head) = -1.0, &says);
    }
    let says = "head.corners.wait_us is -1; it must be at least 0 and at most 100000";
    check(|head| head.corners = Corners::Dwell { wait_us: -1.0 }, says);
    let says = "head.longest_mark_us is 20; it must be above 20 and at most 1e9";
    check(|head| head.longest_mark_us = Some(20.0), says);
}

#[test]
fn what_moves() {
    let says = "head.acceleration_mm_s2[1] is 0; it must be at least 1000 and at most 1e10";
    check(|head| head.acceleration_mm_s2[1] = 0.0, says);
    let says = "head.jerk_mm_s3 is inf; it must be at least 1000000 and at most 1e15";
    check(|head| head.jerk_mm_s3 = Some(f64::INFINITY), says);
    let says = "head.servo.damping is 0; it must be at least 0.05 and at most 5";
    check(|head| head.servo = Servo::SecondOrder { damping: 0.0 }, says);
    let says = "head.corner_tolerance_um is 0; it must be at least 0.1 and at most 1000";
    check(|head| head.corner_tolerance_um = 0.0, says);
    let says = "head.command_rate_hz is 1; it must be at least 100 and at most 10000000";
    check(|head| head.command_rate_hz = 1.0, says);
    let says = "head.command_bits is 40; it must be at least 8 and at most 32";
    check(|head| head.command_bits = 40, says);
}

#[test]
fn where_it_hangs() {
    let says = "head.distance_mm is 1; it must be at least 10 and at most 5000";
    check(|head| head.distance_mm = 1.0, says);
    let says = "head.mirror_separation_mm is -1; it must be at least 0 and at most 500";
    check(|head| head.mirror_separation_mm = -1.0, says);
    let says = "head.field_size_mm[0] is 0; it must be at least 10 and at most 2000";
    check(|head| head.field_size_mm[0] = 0.0, says);
}

#[test]
fn what_else_takes_time() {
    let times: [(&str, OfMachine, u32); 3] = [
        ("warm_up_s", |m| &mut m.times.warm_up_s, 86_400),
        ("min_layer_s", |m| &mut m.times.min_layer_s, 3600),
        ("cooling_s", |m| &mut m.times.cooling_s, 604_800),
    ];
    for (name, of, most) in times {
        let says = format!("times.{name} is -1; it must be at least 0 and at most {most}");
        check_machine(|machine| *of(machine) = -1.0, &says);
    }
}
