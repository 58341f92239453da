//! Judges all parts of the labelled set, with one planted fault each or with none, and counts what is missed
//! and what is a false alarm: `cargo run -p pipeline --example planted`. Exit code 1 if either is above 5 %.
//! With a job's file as argument, it looks at the shapes of that job and says how long that took.

#![expect(clippy::print_stdout, reason = "this is what it is for")]

#[path = "../tests/faults/mod.rs"]
mod faults;

use base::Progress;
use faults::{cases, judge};
use pipeline::{load, shape_findings};
use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    match std::env::args().nth(1) {
        Some(job) => look_at(Path::new(&job)),
        None => judge_all(),
    }
}

fn look_at(job: &Path) -> ExitCode {
    let progress = Progress::default();
    let Ok(loaded) = load(job, &progress) else { return ExitCode::FAILURE };
    let started = Instant::now();
    let findings = shape_findings(&loaded, &progress).unwrap_or_default();
    let seconds = started.elapsed().as_secs_f64();
    for finding in &findings {
        println!("{finding}");
    }
    println!("meshes: {}, {seconds:.2} s", loaded.meshes.len());
    ExitCode::SUCCESS
}

fn judge_all() -> ExitCode {
    let (mut faulty, mut missed, mut sound, mut false_alarms) = (0_u32, 0_u32, 0_u32, 0_u32);
    for case in cases() {
        let judged = judge(&case);
        faulty += u32::from(case.planted.is_some());
        sound += u32::from(case.planted.is_none());
        missed += u32::from(judged.is_missed);
        false_alarms += u32::from(judged.is_false_alarm);
        if judged.is_missed || judged.is_false_alarm {
            let what = if judged.is_missed { "missed" } else { "false alarm" };
            let planted = case.planted.map_or("nothing", |kind| kind.as_str());
            println!("{what}: {}, {planted}", case.name);
            for finding in &judged.findings {
                println!("    {finding}");
            }
        }
    }
    println!("parts with a fault: {faulty}, missed: {missed}");
    println!("parts without: {sound}, parts with a false alarm: {false_alarms}");
    let is_good = 20 * missed <= faulty && 20 * false_alarms <= sound;
    if is_good { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
