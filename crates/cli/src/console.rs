//! Printing: text for people, JSON for machines, progress bars for terminals.

use crate::outcome::{Failure, Outcome};
use base::{Finding, Progress};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use pipeline::grouped;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::time::Duration;

/// Prints one line to standard output. A reader that has gone away (`| head`) is no failure.
pub(crate) fn line(text: &str) {
    writeln!(std::io::stdout(), "{text}").ok();
}

/// Prints one sentence to standard error.
pub(crate) fn error(sentence: &str) {
    writeln!(std::io::stderr(), "error: {sentence}").ok();
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

/// `out/<stem of input><suffix>`, for outputs that the person gave no name.
pub(crate) fn default_out(input: &Path, suffix: &str) -> PathBuf {
    let stem = input.file_stem().map_or_else(|| "job".into(), |s| s.to_string_lossy().into_owned());
    Path::new("out").join(format!("{stem}{suffix}"))
}

/// Runs `work` with a progress bar when standard error is a terminal.
pub(crate) fn with_progress<T: Send>(label: &str, work: impl FnOnce(&Progress) -> T + Send) -> T {
    let progress = Progress::default();
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
