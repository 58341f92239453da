//! Every third part of the labelled set; `examples/planted.rs` judges all.

mod faults;

use faults::{cases, judge};

#[test]
fn planted_faults_are_found_and_sound_parts_are_left_alone() {
    let (mut faulty, mut sound, mut wrong) = (0, 0, Vec::new());
    for case in cases().iter().step_by(3) {
        let judged = judge(case);
        faulty += usize::from(case.planted.is_some());
        sound += usize::from(case.planted.is_none());
        if judged.is_missed || judged.is_false_alarm {
            let findings: Vec<String> = judged.findings.iter().map(ToString::to_string).collect();
            wrong.push(format!("{}: {findings:?}", case.name));
        }
    }
    assert!(faulty >= 12 && sound >= 12, "{faulty} {sound}");
    assert!(20 * wrong.len() <= faulty.min(sound), "{}", wrong.join("\n"));
}
