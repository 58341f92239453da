//! Writing the vector file, and verifying it.

use super::App;
use super::prompt::Prompt;
use crate::state::document::Document;
use crate::state::paths::absolute;
use crate::state::results::{Built, Proven, Refused, Stage, Writing, WrittenFile};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{self, Outcome, Request};
use base::Finding;
use pipeline::{Stops, sorted_by_acceptance};
use std::path::{Path, PathBuf};
use std::sync::Arc;

impl App {
    /// Writes the vector file of the present build: to `path`, or to where the job's go. Asks first
    /// if the job has stop findings.
    pub(super) fn write_vectors(&mut self, path: Option<PathBuf>) {
        if self.build_to_write().is_none() {
            return;
        }
        let Some(path) = path.or_else(|| self.model.output_path()) else { return };
        if self.model.stops() > 0 {
            self.prompts.push(Prompt::Write(path));
        } else {
            self.start_writing(path, Stops::Refuse);
        }
    }

    /// The build of the job as it is; says so if there is none yet.
    fn build_to_write(&mut self) -> Option<Built> {
        let built = self.model.results.build.clone()?;
        if built.revision != self.model.revision() {
            self.say("The job is still being computed; write it in a moment.");
            return None;
        }
        Some(built)
    }

    /// `stops` says what becomes of a file that turns out to stop the job. Its clearances are proven first, unless
    /// they are already.
    pub(super) fn start_writing(&mut self, path: PathBuf, stops: Stops) {
        let Some(built) = self.build_to_write() else { return };
        let Some(inputs) = self.model.document.as_ref().map(Document::inputs) else { return };
        if let Some(file) = &self.model.results.written {
            let old = self.words_for(file);
            self.messages.retain(|message| message.sentence != old);
        }
        self.model.results.refused = None;
        let request = Request { path, inputs, stops };
        let proven = self.model.results.proven.as_ref();
        if let Some(proven) = proven.filter(|proven| proven.revision == built.revision) {
            let findings = proven.clearance.findings.clone();
            return self.write_proven(built, findings, request);
        }
        let (revision, path) = (built.revision, request.path.clone());
        let prove = move |context: &_| tasks::prove_to_write(&built, request, context);
        let label = "Proving clearances before writing";
        self.scheduler.start(TaskKind::Write, label, Outcome::Failed, prove);
        self.note_writing(revision, path, Stage::Proving);
    }

    /// Takes the proof that was made to write a file, and writes it.
    pub(super) fn take_proven_to_write(&mut self, proven: Proven, request: Request) {
        let built = Built { revision: proven.revision, build: Arc::clone(&proven.build) };
        let findings = proven.clearance.findings.clone();
        if proven.revision == self.model.revision() {
            self.model.results.proven = Some(proven);
        }
        self.write_proven(built, findings, request);
    }

    /// Writes the file of a build, where `proven` is what the proof of its clearances found.
    fn write_proven(&mut self, built: Built, proven: Vec<Finding>, request: Request) {
        let Some(content) = self.model.content() else { return };
        // What is accepted of the arrangement stops nothing.
        let proven = sorted_by_acceptance(&content.job, proven, false).open;
        let label = format!("Writing {}", name_in(&request.path));
        let (revision, path) = (built.revision, request.path.clone());
        let write = move |context: &_| tasks::write(&built, &proven, &request, context);
        self.scheduler.start(TaskKind::Write, label, Outcome::Failed, write);
        self.note_writing(revision, path, Stage::Writing);
    }

    fn note_writing(&mut self, revision: u64, path: PathBuf, stage: Stage) {
        let writing = Writing { revision, path, stage, fraction: 0.0 };
        self.model.results.writing = Some(writing);
    }

    /// A file was not written, since the job must stop.
    pub(super) fn take_refused(&mut self, refused: Refused) {
        let first = refused.stops.first().cloned().unwrap_or_default();
        self.model.results.writing = None;
        self.model.results.refused = Some(refused);
        self.say(format!("Nothing was written, since the job must stop: {first}"));
    }

    pub(super) fn start_verifying(&mut self, built: Built, path: PathBuf, bytes: u64) {
        let label = format!("Verifying {}", name_in(&path));
        let (revision, of) = (built.revision, path.clone());
        let verify = move |context: &_| tasks::verify(&built, path, bytes, context);
        self.scheduler.start(TaskKind::Write, label, Outcome::Failed, verify);
        self.note_writing(revision, of, Stage::Verifying(bytes));
    }

    /// Keeps what the sheet says of a file on its way in step with the task. A verification that was
    /// cancelled or failed leaves a file behind that is not verified.
    pub(super) fn follow_writing(&mut self) {
        let Some(writing) = &mut self.model.results.writing else { return };
        if let Some(task) = self.scheduler.running_in(TaskKind::Write) {
            writing.fraction = task.progress.fraction();
        } else if let Some(Writing { revision, path, stage: Stage::Verifying(bytes), .. }) =
            self.model.results.writing.take()
        {
            self.take_written(WrittenFile { revision, path, bytes, verdict: None });
        }
    }

    /// What is told of a file that is written.
    fn words_for(&self, file: &WrittenFile) -> String {
        let name = absolute(&file.path).display().to_string();
        let is_of_now = file.revision == self.model.revision();
        let has_stops = is_of_now && self.model.stops() > 0;
        let verified = file.verdict.as_ref().map(pipeline::Verdict::is_verified);
        match verified {
            None => format!("{name} is written, but not verified: verification did not end."),
            Some(false) => format!("{name} is written, but NOT verified: see the findings."),
            Some(true) if has_stops => format!(
                "{name} is written, and holds what the job says; but the job itself has stop \
                 findings: do not build it."
            ),
            Some(true) => format!("{name} is written and verified."),
        }
    }

    pub(super) fn take_written(&mut self, file: WrittenFile) {
        let sentence = self.words_for(&file);
        self.model.results.writing = None;
        self.model.results.written = Some(file);
        self.say(sentence);
    }
}

fn name_in(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
