//! Nesting at the window: every better arrangement becomes the job at once, all of them in one
//! step of undo. Stopping the search keeps the best so far, because it is there already.

use super::App;
use crate::state::actions::Edit;
use crate::state::results::Nested;
use crate::views::View as _;
use crate::work::cage;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{self, Nesting, Outcome};
use job::Job;

/// Under which the edits of one search are one step of undo.
const MERGE: u64 = 0x6e65_7374;

impl App {
    /// Starts arranging.
    pub(super) fn nest(&mut self, what: Nesting) {
        let built = self.model.results.build.clone();
        let revision = self.model.revision();
        let Some(built) = built.filter(|built| built.revision == revision) else {
            let sentence = "The job is still being made ready; nest it in a moment.";
            return self.say(sentence);
        };
        if let Some(document) = &mut self.model.document {
            document.end_gesture();
        }
        self.nesting_from = Some(revision);
        self.moved_while_nesting.clear();
        self.model.results.nesting_steps.clear();
        self.model.results.nesting_since = Some(std::time::Instant::now());
        let label = what.label();
        let even_area = self.model.even_area;
        let nest = move |context: &_| tasks::nest(&built, &what, even_area, context);
        self.scheduler.start(TaskKind::Nest, label, Outcome::Failed, nest);
    }

    /// Puts what is selected into a cage, whose mesh is written beside the job.
    pub(super) fn cage(&mut self) {
        if self.model.document.as_ref().is_some_and(|document| document.path.is_none()) {
            let sentence = "Save the job first: the mesh of the cage is written beside it.";
            return self.say(sentence);
        }
        let built = self.model.results.build.clone();
        let revision = self.model.revision();
        let (Some(built), Some(document)) =
            (built.filter(|built| built.revision == revision), &self.model.document)
        else {
            let sentence = "The job is still being made ready; cage parts in a moment.";
            return self.say(sentence);
        };
        let (folder, selected, shape) =
            (document.folder.clone(), self.model.selection.clone(), self.model.cage);
        let inputs = document.inputs();
        let cage =
            move |context: &_| cage::cage(&built, (&folder, &inputs), &selected, shape, context);
        self.scheduler.start(TaskKind::Nest, "Making the cage", Outcome::Failed, cage);
    }

    /// Takes the job with the cage in it.
    pub(super) fn take_caged(&mut self, revision: u64, job: Job) {
        if revision == self.model.revision() {
            self.edit(Edit::new("cage the selected parts", move |content| content.job = job));
            let last = self.model.placements().last().map(|(at, _)| at);
            self.model.selection = last.into_iter().collect();
        }
    }

    /// Takes a better arrangement, or the last one.
    pub(super) fn take_nested(&mut self, mut nested: Nested) {
        for moved in &self.moved_while_nesting {
            nested.jobs.iter_mut().for_each(|job| moved.rename_in(job));
        }
        self.model.results.nesting_steps.extend(nested.step);
        let Some(job) = nested.jobs.first().cloned() else { return };
        if let Some(content) = self.model.content()
            && content.job == job
            && nested.ended.is_some()
        {
            // Nothing better, or shown already.
            self.end_nesting();
            self.model.results.nested = Some(nested);
            self.views.plan.fit();
            return;
        }
        let mut edit = Edit::new(nested.label, move |content| content.job = job).within(MERGE);
        edit.ends = nested.ended.is_some();
        self.edit(edit);
        self.nesting_from = (nested.ended.is_none()).then(|| self.model.revision());
        if nested.ended.is_some() {
            self.model.results.nesting_since = None;
        }
        self.model.results.nested = Some(nested);
    }

    fn end_nesting(&mut self) {
        if let Some(document) = &mut self.model.document {
            document.end_gesture();
        }
        self.nesting_from = None;
        self.model.results.nesting_since = None;
        self.model.results.nested.take_if(|nested| nested.ended.is_none());
    }

    /// Ends the search if the person has changed the job meanwhile: what it would bring is of a job
    /// that is no more.
    pub(super) fn watch_nesting(&mut self) {
        let running = self.scheduler.running_in(TaskKind::Nest).is_some();
        if running && self.nesting_from.is_some_and(|from| from != self.model.revision()) {
            self.scheduler.cancel(TaskKind::Nest);
            self.end_nesting();
            self.tell("Nesting has ended, because the job was changed.");
        } else if !running && self.nesting_from.is_some() {
            self.end_nesting(); // without an arrangement
        }
    }
}
