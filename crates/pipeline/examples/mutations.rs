//! Plants more than a thousand faults in vector files and counts which of them the proof finds:
//! `cargo run --example mutations [FAULTS OF A KIND [FIRST SEED [WORDS]]]`, of all kinds or those that are said with
//! these words. Prints the table of DEVELOPERS.md;
//! exit code 1 if a harmful fault was missed, or a file without a fault was refused.

#![expect(clippy::unwrap_used, reason = "an example ends where it unwraps nothing")]
#![expect(clippy::print_stdout, reason = "this is what it is for")]

#[path = "../tests/campaign/mod.rs"]
mod campaign;

use campaign::{Kind, Trial, cases, table, trial, untouched};
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let mut number = |usual: u64| arguments.next().map_or(usual, |text| text.parse().unwrap());
    let (of_a_kind, first) = (number(22), number(1000));
    let words = arguments.next().unwrap_or_default();
    let cases = cases();
    let mut is_good = true;
    for case in &cases {
        for finding in untouched(case).findings {
            println!("without a fault, {}: {finding}", case.name);
            is_good = false;
        }
    }
    let mut trials: Vec<Trial> = Vec::new();
    for &kind in Kind::ALL.iter().filter(|kind| kind.words().contains(&words)) {
        let tries = (first..first + 20 * of_a_kind).filter_map(|seed| trial(&cases, kind, seed));
        let wanted = usize::try_from(of_a_kind).unwrap();
        trials.extend(tries.take(wanted));
    }
    for missed in trials.iter().filter(|trial| trial.is_missed()) {
        println!("missed: {}", missed.describe());
        is_good = false;
    }
    println!("{}", table(&trials));
    if is_good { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
