//! The headless verbs. Parses the command line, runs the pipeline, prints text or JSON.
//!
//! Exit codes: 0 done, 1 the job has a stop finding (or a file is not verified, or two differ), 2 wrong use or
//! unreadable input, 130 ended by a signal.

mod args;
mod console;
mod interrupt;
mod outcome;
mod verbs;

use args::{Args, OpenArgs, Verb};
use clap::{CommandFactory, Parser};
use mesh::import::Format;
use outcome::{Failure, Outcome};
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Runs the program with the process's arguments. `window` opens the window on a job and adds meshes to it, or
/// to a new one; without either, on the demo job. It returns when it is closed. The person's own machines and recipes
/// lie in `library`.
pub fn run<E: std::error::Error>(
    window: impl FnOnce(Option<PathBuf>, Vec<PathBuf>) -> Result<(), E>,
    library: Option<PathBuf>,
) -> ExitCode {
    let args = match Args::try_parse_from(with_verb(std::env::args_os())) {
        Ok(args) => args,
        Err(error) => {
            // clap knows whether this is help (exit 0, standard output) or wrong use (exit 2).
            error.print().ok();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    let verb = args.verb.unwrap_or(Verb::Open(OpenArgs { files: Vec::new() }));
    if !matches!(verb, Verb::Open(_)) {
        interrupt::listen();
    }
    let outcome = match verb {
        Verb::Open(args) => sorted_out(args.files).and_then(|(job, meshes)| {
            window(job, meshes).map(|()| Outcome::Done).map_err(Failure::from)
        }),
        Verb::Write(args) => verbs::write::run(&args),
        Verb::Nest(args) => verbs::nest::run(&args),
        Verb::Prove(args) => verbs::prove::run(&args),
        Verb::Gather(args) => verbs::gather::run(&args),
        Verb::Inspect(args) => verbs::inspect::run(&args),
        Verb::Verify(args) => verbs::verify::run(&args),
        Verb::Check(args) => verbs::check::run(&args),
        Verb::Draw(args) => verbs::draw::run(&args),
        Verb::Diff(args) => verbs::diff::run(&args),
        Verb::Dose(args) => verbs::dose::run(&args),
        Verb::Slice(args) => verbs::slice::run(&args),
        Verb::Time(args) => verbs::time::run(&args),
        Verb::Field(args) => verbs::field::run(&args),
        Verb::Library(args) => verbs::library::run(args, library),
    };
    match outcome {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::Stopped) => ExitCode::from(1),
        Err(_) if interrupt::was_asked() => ExitCode::from(interrupt::EXIT_CODE),
        Err(Failure(sentence)) => {
            console::error(&sentence);
            ExitCode::from(2)
        }
    }
}

/// Files alone are opened, so that a desktop can start the program with them.
fn with_verb(args: impl Iterator<Item = OsString>) -> Vec<OsString> {
    let mut args: Vec<OsString> = args.collect();
    let verbs = Args::command();
    let is_file = args.get(1).and_then(|arg| arg.to_str()).is_some_and(|arg| {
        let is_path =
            Path::new(arg).extension().is_some() || Path::new(arg).components().count() > 1;
        is_path && !arg.starts_with('-') && verbs.find_subcommand(arg).is_none()
    });
    if is_file {
        args.insert(1, "open".into());
    }
    args
}

/// The job among files to open, and the meshes.
fn sorted_out(files: Vec<PathBuf>) -> Result<(Option<PathBuf>, Vec<PathBuf>), Failure> {
    let (mut job, mut meshes) = (None, Vec::new());
    for file in files {
        let extension = file.extension().and_then(|e| e.to_str()).unwrap_or_default();
        if Format::from_extension(extension).is_some() {
            meshes.push(file);
        } else if !extension.eq_ignore_ascii_case("ron") {
            return Err(Failure(format!(
                "{} is neither a job (.ron) nor a mesh (.stl, .3mf, .obj)",
                file.display()
            )));
        } else if let Some(first) = job.replace(file) {
            return Err(Failure(format!(
                "the window holds one job, and {} is a second one; start it once for each",
                first.display()
            )));
        }
    }
    Ok((job, meshes))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn verb(args: &[&str]) -> Vec<OsString> {
        with_verb(std::iter::once("hatchwright").chain(args.iter().copied()).map(OsString::from))
    }

    #[test]
    fn files_alone_are_opened_and_verbs_are_left() {
        assert_eq!(verb(&["a.stl", "b.OBJ", "c.ron"])[1], "open");
        assert_eq!(verb(&["photo.png"])[1], "open", "which says what is wrong with it");
        assert_eq!(verb(&["parts/lid"])[1], "open");
        assert_eq!(verb(&["check", "a.stl"])[1], "check");
        assert_eq!(verb(&["chekc"])[1], "chekc", "a verb mistyped");
        assert_eq!(verb(&["--help"])[1], "--help");
    }

    #[test]
    fn one_job_and_any_number_of_meshes_are_opened() {
        let files = |names: &[&str]| sorted_out(names.iter().map(PathBuf::from).collect());
        let (job, meshes) = files(&["a.stl", "j.ron", "b.3mf"]).ok().unwrap();
        assert_eq!(job, Some(PathBuf::from("j.ron")));
        assert_eq!(meshes, [PathBuf::from("a.stl"), PathBuf::from("b.3mf")]);
        let Err(Failure(why)) = files(&["a.stl", "photo.png"]) else { panic!("a photo") };
        assert!(why.starts_with("photo.png is neither a job"));
        assert!(files(&["a.ron", "b.ron"]).is_err());
    }
}
