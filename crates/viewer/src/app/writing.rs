//! Writing the vector file, and verifying it.

use super::App;
use super::prompt::Prompt;
use crate::state::document::Document;
use crate::state::paths::absolute;
use crate::state::results::{Built, Writing, WrittenFile};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{self, Outcome};
use pipeline::Stops;
use std::path::{Path, PathBuf};

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

    /// `stops` says what becomes of a file that turns out to stop the job.
    pub(super) fn start_writing(&mut self, path: PathBuf, stops: Stops) {
        let Some(built) = self.build_to_write() else { return };
        let Some(inputs) = self.model.document.as_ref().map(Document::inputs) else { return };
        if let Some(file) = &self.model.results.written {
            let old = self.words_for(file);
            self.messages.retain(|message| message.sentence != old);
        }
        let label = format!("Writing {}", name_in(&path));
        let (revision, to) = (built.revision, path.clone());
        let write = move |context: &_| tasks::write(&built, &path, &inputs, stops, context);
        self.scheduler.start(TaskKind::Write, label, Outcome::Failed, write);
        let writing = Writing { revision, path: to, verifying: None, fraction: 0.0 };
        self.model.results.writing = Some(writing);
    }

    pub(super) fn start_verifying(&mut self, built: Built, path: PathBuf, bytes: u64) {
        let label = format!("Verifying {}", name_in(&path));
        let (revision, of) = (built.revision, path.clone());
        let verify = move |context: &_| tasks::verify(&built, path, bytes, context);
        self.scheduler.start(TaskKind::Write, label, Outcome::Failed, verify);
        let verifying = Writing { revision, path: of, verifying: Some(bytes), fraction: 0.0 };
        self.model.results.writing = Some(verifying);
    }

    /// Keeps what the sheet says of a file on its way in step with the task. A verification that was
    /// cancelled or failed leaves a file behind that is not verified.
    pub(super) fn follow_writing(&mut self) {
        let Some(writing) = &mut self.model.results.writing else { return };
        if let Some(task) = self.scheduler.running_in(TaskKind::Write) {
            writing.fraction = task.progress.fraction();
        } else if let Some(Writing { revision, path, verifying: Some(bytes), .. }) =
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
