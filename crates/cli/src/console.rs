//! Printing: text for people, JSON for machines, progress bars for terminals.

use crate::interrupt;
use crate::outcome::{Failure, Outcome};
use base::{Finding, Progress};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use pipeline::{Accepted, AcceptedGroup, Sorted, grouped, grouped_accepted};
use serde_json::{Value, json};
use std::borrow::Cow;
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::time::Duration;

/// Prints one line to standard output. A reader that has gone away (`| head`) is no failure.
pub(crate) fn line(text: &str) {
    writeln!(std::io::stdout(), "{}", plain(text)).ok();
}

/// Text without what would steer a terminal: names come from files that anybody may have written.
fn plain(text: &str) -> Cow<'_, str> {
    let steers = |c: char| c.is_control() && c != '\n' && c != '\t';
    if text.contains(steers) { text.replace(steers, "\u{fffd}").into() } else { text.into() }
}

/// Prints one sentence to standard error.
pub(crate) fn error(sentence: &str) {
    writeln!(std::io::stderr(), "error: {}", plain(sentence)).ok();
}

/// Prints a value as JSON.
pub(crate) fn json(value: &impl serde::Serialize) -> Result<(), Failure> {
    line(&serde_json::to_string_pretty(value)?);
    Ok(())
}

/// Prints findings, the worst first and what is said of many copies once, and says how the verb
/// ended.
pub(crate) fn findings(findings: &[Finding]) -> Outcome {
    for group in grouped(findings) {
        line(&group.to_string());
    }
    Outcome::of(findings)
}

/// Prints what counts as [`findings`] does, then what a person takes as it is, with the reasons; says how the
/// verb ended.
pub(crate) fn sorted(sorted: &Sorted) -> Outcome {
    let outcome = findings(&sorted.open);
    for AcceptedGroup { group, reason, .. } in grouped_accepted(&sorted.accepted) {
        line(&format!("accepted: {group} Reason: {reason}"));
    }
    outcome
}

/// What a person takes as it is: findings, each with the reason.
pub(crate) fn accepted_as_json(sorted: &Sorted) -> Vec<Value> {
    let all = sorted.accepted.iter();
    all.map(|Accepted { finding, reason, .. }| json!({ "finding": finding, "reason": reason }))
        .collect()
}

/// What holds whenever a file may go to a machine.
pub(crate) const SAFETY: &str = "Before it is built: class 4 laser, a part cake that stays hot for hours, fine \
                                 dust. Local rules hold, and a trained person runs the machine.";

/// A path from the root, so that the file is found from wherever one looks.
pub(crate) fn whole(path: &Path) -> String {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned()).display().to_string()
}

/// Runs `work` with a progress bar when standard error is a terminal.
pub(crate) fn with_progress<T: Send>(label: &str, work: impl FnOnce(&Progress) -> T + Send) -> T {
    let progress = Progress::default();
    interrupt::watch(&progress);
    if !std::io::stderr().is_terminal() {
        return work(&progress);
    }
    let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len} {eta}") {
        bar.set_style(style);
    }
    bar.set_message(label.to_owned());
    let (done, finished) = sync_channel::<()>(1);
    std::thread::scope(|scope| {
        let (bar, progress) = (&bar, &progress);
        scope.spawn(move || {
            while finished.recv_timeout(Duration::from_millis(100))
                == Err(RecvTimeoutError::Timeout)
            {
                let (steps, total) = progress.steps();
                bar.set_length(total);
                bar.set_position(steps);
            }
            bar.finish_and_clear();
        });
        let result = work(progress);
        drop(done);
        result
    })
}
