//! What the person edits, with undo, and what of it is on disk.

pub(crate) use crate::state::content::{Content, Moved};
use crate::state::edit::Edit;
use std::path::{Path, PathBuf};
use std::sync::Arc;

struct Step {
    label: String,
    before: Arc<Content>,
    merge: Option<u64>,
}

/// A job being edited.
pub(crate) struct Document {
    content: Arc<Content>,
    /// What the files on disk hold; `None` for a job that was never saved.
    saved: Option<Arc<Content>>,
    /// The job's file, once it has one.
    pub(crate) path: Option<PathBuf>,
    /// The folder that relative paths start from.
    pub(crate) folder: PathBuf,
    /// Files that the last save wrote.
    pub(crate) written: Vec<PathBuf>,
    undo: Vec<Step>,
    redo: Vec<Step>,
    revision: u64,
    accepted_changes: u64,
}

/// Steps of undo that are kept.
const MAX_STEPS: usize = 500;

impl Document {
    /// A job as it was read from its files.
    pub(crate) fn opened(path: PathBuf, content: Content) -> Self {
        let folder = path.parent().map(Path::to_owned).unwrap_or_default();
        let content = Arc::new(content);
        Self { saved: Some(Arc::clone(&content)), path: Some(path), ..Self::new(folder, content) }
    }

    /// A job that has no file yet.
    pub(crate) fn unsaved(folder: PathBuf, content: Content) -> Self {
        Self::new(folder, Arc::new(content))
    }

    fn new(folder: PathBuf, content: Arc<Content>) -> Self {
        let (undo, redo) = (Vec::new(), Vec::new());
        let (saved, path, written) = (None, None, Vec::new());
        let (revision, accepted_changes) = (0, 0);
        Self { content, saved, path, folder, written, undo, redo, revision, accepted_changes }
    }

    /// The present content.
    pub(crate) fn content(&self) -> &Arc<Content> {
        &self.content
    }

    /// Rises with every change of what is built, undo and redo included. What is accepted changes nothing of it.
    pub(crate) fn revision(&self) -> u64 {
        self.revision
    }

    /// Rises with every change of what is accepted.
    pub(crate) fn accepted_changes(&self) -> u64 {
        self.accepted_changes
    }

    fn note_change(&mut self, before: &Content) {
        let (job, was) = (&self.content.job, &before.job);
        let is_built_like = job.is_built_like(was)
            && self.content.machine == before.machine
            && self.content.recipes == before.recipes;
        let is_accepted_like = job.acceptances().eq(was.acceptances());
        self.accepted_changes += u64::from(!is_accepted_like);
        self.revision += u64::from(!is_built_like);
    }

    /// Whether something would be lost by closing.
    pub(crate) fn is_dirty(&self) -> bool {
        self.saved.as_ref().is_none_or(|saved| *saved != self.content)
    }

    /// What the files on disk hold.
    pub(crate) fn saved(&self) -> Option<&Arc<Content>> {
        self.saved.as_ref()
    }

    /// The files that whatever is made of the job is made from.
    pub(crate) fn inputs(&self) -> pipeline::Inputs {
        pipeline::Inputs::of_job(self.path.as_deref(), &self.folder, &self.content.job)
    }

    /// Notes that this content is now what the files hold. What was written in the newest form has it
    /// in all that undo and redo can bring back, too, and files have their new names there: no step of theirs
    /// brings an old form or an old name back.
    pub(crate) fn mark_saved(&mut self, path: PathBuf, content: Content, moved: &Moved) {
        self.folder = path.parent().map(Path::to_owned).unwrap_or_default();
        self.path = Some(path);
        let before = Arc::clone(&self.content);
        let steps = self.undo.iter_mut().chain(&mut self.redo).map(|step| &mut step.before);
        let is_right = |known: &Content| moved.is_nothing() && known.has_versions_of(&content);
        for known in steps.chain([&mut self.content]).filter(|known| !is_right(known)) {
            let mut now = (**known).clone();
            moved.apply_to(&mut now);
            now.take_versions(&content);
            if now != **known {
                *known = Arc::new(now);
            }
        }
        self.revision += u64::from(before != self.content);
        self.saved = Some(Arc::new(content));
    }

    /// Carries out an edit as a step of undo, or as part of the step that it belongs to. What changes nothing in
    /// the end is no step.
    pub(crate) fn edit(&mut self, edit: Edit) {
        let before = Arc::clone(&self.content);
        (edit.apply)(Arc::make_mut(&mut self.content));
        let continues =
            edit.merge.is_some() && self.undo.last().map(|s| s.merge) == Some(edit.merge);
        if before != self.content {
            self.note_change(&before);
            self.redo.clear();
            if !continues {
                self.undo.push(Step { label: edit.label, before, merge: edit.merge });
                if self.undo.len() > MAX_STEPS {
                    self.undo.remove(0);
                }
            } else if let Some(step) = self.undo.pop_if(|step| step.before == self.content) {
                self.content = step.before; // as when Esc puts a number back
            }
        }
        if edit.ends {
            self.end_gesture();
        }
    }

    /// The next edit starts a step of its own, whatever its merge key.
    pub(crate) fn end_gesture(&mut self) {
        if let Some(step) = self.undo.last_mut() {
            step.merge = None;
        }
    }

    /// Takes back the step that edits with this merge key have made, for good: it never was.
    pub(crate) fn abandon(&mut self, merge: u64) {
        if self.undo.last().is_some_and(|step| step.merge == Some(merge))
            && let Some(step) = self.undo.pop()
        {
            self.exchange(step);
        }
    }

    /// What undo would take back.
    pub(crate) fn undo_label(&self) -> Option<&str> {
        self.undo.last().map(|step| step.label.as_str())
    }

    /// What redo would do again.
    pub(crate) fn redo_label(&self) -> Option<&str> {
        self.redo.last().map(|step| step.label.as_str())
    }

    /// Takes the last step back; says what it was.
    pub(crate) fn undo(&mut self) -> Option<String> {
        let step = self.undo.pop()?;
        let label = step.label.clone();
        let forth = self.exchange(step);
        self.redo.push(forth);
        Some(label)
    }

    /// Does the step again that was taken back last; says what it was.
    pub(crate) fn redo(&mut self) -> Option<String> {
        let step = self.redo.pop()?;
        let label = step.label.clone();
        let back = self.exchange(step);
        self.undo.push(back);
        Some(label)
    }

    fn exchange(&mut self, step: Step) -> Step {
        let before = std::mem::replace(&mut self.content, step.before);
        self.note_change(&before);
        Step { label: step.label, before, merge: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::{Job, Machine, Recipe};
    use std::collections::BTreeMap;

    fn document() -> Document {
        let read = |name: &str| {
            let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
            std::fs::read_to_string(root.join(name)).unwrap()
        };
        let job = Job {
            version: Job::VERSION,
            name: "a".to_owned(),
            machine: "m".to_owned(),
            recipe: "r".to_owned(),
            clearances: job::Clearances::default(),
            part_order: job::PartOrder::default(),
            accepted: Vec::new(),
            parts: Vec::new(),
        };
        let machine = Machine::from_ron(&read("machines/bench_co2_30w.ron")).unwrap();
        let recipe = Recipe::from_ron(&read("recipes/pa12.ron")).unwrap();
        let recipes = BTreeMap::from([("r".to_owned(), recipe)]);
        Document::opened("a.ron".into(), Content { job, machine, recipes })
    }

    fn rename(to: &'static str) -> Edit {
        Edit::new(format!("rename to {to}"), move |content| to.clone_into(&mut content.job.name))
    }

    fn name(document: &Document) -> &str {
        &document.content().job.name
    }

    #[test]
    fn a_gesture_is_one_step_and_a_second_gesture_another() {
        let mut document = document();
        for to in ["b", "c", "d"] {
            document.edit(rename(to).within(7));
        }
        document.end_gesture();
        document.edit(rename("e").within(7));
        assert_eq!(document.undo().as_deref(), Some("rename to e"));
        assert_eq!(name(&document), "d");
        document.undo();
        assert_eq!(name(&document), "a");
        assert_eq!(document.undo(), None);
        document.redo();
        document.redo();
        assert_eq!(name(&document), "e");
        assert_eq!(document.redo(), None);
    }

    #[test]
    fn a_gesture_that_ends_where_it_began_is_no_step() {
        let mut document = document();
        document.edit(rename("b"));
        document.edit(rename("c").within(7));
        document.edit(rename("b").within(7));
        assert_eq!(document.undo_label(), Some("rename to b"));
        document.edit(rename("d").within(7));
        document.undo();
        assert_eq!(name(&document), "b", "it went on");
        document.undo();
        assert_eq!((name(&document), document.undo_label()), ("a", None));
    }

    #[test]
    fn an_abandoned_gesture_never_was() {
        let mut document = document();
        document.edit(rename("b"));
        document.edit(rename("c").within(7));
        document.edit(rename("d").within(7));
        let revision = document.revision();
        document.abandon(8);
        assert_eq!(name(&document), "d");
        document.abandon(7);
        assert_eq!((name(&document), document.redo_label()), ("b", None));
        assert!(document.revision() > revision);
        assert_eq!(document.undo_label(), Some("rename to b"));
    }

    #[test]
    fn dirty_means_different_from_disk_and_nothing_else() {
        let mut document = document();
        assert!(!document.is_dirty());
        document.edit(rename("a"));
        assert_eq!((document.is_dirty(), document.undo_label()), (false, None));
        document.edit(rename("b"));
        assert!(document.is_dirty());
        document.undo();
        assert!(!document.is_dirty());
        document.redo();
        document.mark_saved("b.ron".into(), (**document.content()).clone(), &Moved::default());
        assert!(!document.is_dirty());
        document.undo();
        assert!(document.is_dirty());
    }

    #[test]
    fn what_was_saved_in_the_newest_form_stays_in_it_whatever_is_undone() {
        let mut document = document();
        Arc::make_mut(&mut document.content).job.version = 1; // as it was read
        document.edit(rename("b"));
        let mut written = (**document.content()).clone();
        written.job.version = Job::VERSION;
        let revision = document.revision();
        document.mark_saved("a.ron".into(), written, &Moved::default());
        assert_eq!((document.content().job.version, document.is_dirty()), (Job::VERSION, false));
        assert!(document.revision() > revision, "what was found of the old file is out of date");
        document.undo();
        assert_eq!((name(&document), document.content().job.version), ("a", Job::VERSION));
    }

    /// Undo takes back what the person did, not where a save put it.
    #[test]
    fn names_that_a_save_gave_hold_for_all_steps() {
        let mut document = document();
        let offset = |to: f64| {
            Edit::new("offset", move |content| {
                let recipe = content.recipes.values_mut().next().unwrap();
                recipe.beam_offset_mm = to;
            })
        };
        let before = document.content().recipes["r"].beam_offset_mm;
        document.edit(offset(0.25));
        let moved = Moved {
            folders: ["".into(), "sub".into()],
            machine: Some(["../m".to_owned(), "a.machine.ron".to_owned()]),
            recipes: vec![["../r".to_owned(), "a.recipe.ron".to_owned()]],
        };
        let mut written = (**document.content()).clone();
        moved.apply_to(&mut written);
        document.mark_saved("sub/a.ron".into(), written, &moved);
        assert!(!document.is_dirty());
        let is_named = |document: &Document| {
            let content = document.content();
            assert_eq!(content.job.machine, "a.machine.ron");
            assert_eq!(content.job.recipe, "a.recipe.ron");
            content.recipes["a.recipe.ron"].beam_offset_mm
        };
        assert_eq!(is_named(&document).to_bits(), 0.25_f64.to_bits());
        assert_eq!(document.undo().as_deref(), Some("offset"));
        assert_eq!(is_named(&document).to_bits(), before.to_bits());
        assert!(document.is_dirty());
    }

    #[test]
    fn every_change_has_a_revision_of_its_own() {
        let mut document = document();
        let mut seen = vec![document.revision()];
        document.edit(rename("b"));
        seen.push(document.revision());
        document.undo();
        seen.push(document.revision());
        document.redo();
        seen.push(document.revision());
        assert!(seen.windows(2).all(|pair| pair[0] < pair[1]), "{seen:?}");
    }
}
