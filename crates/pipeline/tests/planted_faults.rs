//! Every second part of the labelled set; `examples/planted.rs` judges all.

mod faults;

use faults::{cases, judge};

#[test]
fn planted_faults_are_found_and_sound_parts_are_left_alone() {
    let (mut faulty, mut sound, mut missed, mut false_alarms) = (0, 0, 0, 0);
    let mut wrong = Vec::new();
    for case in cases().iter().step_by(2) {
        let judged = judge(case);
        faulty += usize::from(case.planted.is_some());
        sound += usize::from(case.planted.is_none());
        missed += usize::from(judged.is_missed);
        false_alarms += usize::from(judged.is_false_alarm);
        if judged.is_missed || judged.is_false_alarm {
            let findings: Vec<String> = judged.findings.iter().map(ToString::to_string).collect();
            wrong.push(format!("{}: {findings:?}", case.name));
        }
    }
    assert!(faulty >= 20 && sound >= 20, "{faulty} {sound}");
    assert!(20 * missed <= faulty && 20 * false_alarms <= sound, "{}", wrong.join("\n"));
}
