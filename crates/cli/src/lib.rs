//! The headless verbs. Parses the command line, runs the pipeline, prints text or JSON.
//!
//! Exit codes: 0 done, 1 the job has a stop finding (or a file is not verified), 2 wrong use or
//! unreadable input.

mod args;
mod console;
mod outcome;
mod verbs;

use args::{Args, OpenArgs, Verb};
use clap::Parser;
use mesh::import::Format;
use outcome::{Failure, Outcome};
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Runs the program with the process's arguments. `window` opens the window on a job, or on the
/// demo job without one, and returns when it is closed.
pub fn run<E: std::error::Error>(
    window: impl FnOnce(Option<PathBuf>) -> Result<(), E>,
) -> ExitCode {
    let args = match Args::try_parse_from(with_verb(std::env::args_os())) {
        Ok(args) => args,
        Err(error) => {
            // clap knows whether this is help (exit 0, standard output) or wrong use (exit 2).
            error.print().ok();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    let verb = args.verb.unwrap_or(Verb::Open(OpenArgs { job: None }));
    let outcome = match verb {
        Verb::Open(args) => window(args.job).map(|()| Outcome::Done).map_err(Failure::from),
        Verb::Write(args) => verbs::write::run(&args),
        Verb::Nest(args) => verbs::nest::run(&args),
        Verb::Prove(args) => verbs::prove::run(&args),
        Verb::Gather(args) => verbs::gather::run(&args),
        Verb::Inspect(args) => verbs::inspect::run(&args),
        Verb::Verify(args) => verbs::verify::run(&args),
        Verb::Check(args) => verbs::check::run(&args),
        Verb::Draw(args) => verbs::draw::run(&args),
        Verb::Dose(args) => verbs::dose::run(&args),
        Verb::Slice(args) => verbs::slice::run(&args),
    };
    match outcome {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::Stopped) => ExitCode::from(1),
        Err(Failure(sentence)) => {
            console::error(&sentence);
            ExitCode::from(2)
        }
    }
}

/// A file alone is opened, so that a desktop can start the program with it.
fn with_verb(args: impl Iterator<Item = OsString>) -> Vec<OsString> {
    let mut args: Vec<OsString> = args.collect();
    let extension = args.get(1).and_then(|arg| Path::new(arg).extension()?.to_str());
    let is_file = |e: &str| e.eq_ignore_ascii_case("ron") || Format::from_extension(e).is_some();
    if args.len() == 2 && extension.is_some_and(is_file) {
        args.insert(1, "open".into());
    }
    args
}
