//! What was seen of the shapes of the job's meshes: each mesh once for the limits that it is looked at for,
//! however often the job changes.

use base::Finding;
use job::recipe::Limits;
use pipeline::{Build, Loaded, LoadedMesh, ShapeLook, known_shape_findings, shapes_to_look_at};
use std::sync::Arc;

/// A mesh, and the limits that it is looked at for.
pub(crate) type ShapeQuestion = (Arc<LoadedMesh>, Limits);

/// What was seen of one mesh.
pub(crate) struct SeenShape {
    /// Which one, and for which limits.
    pub(crate) question: ShapeQuestion,
    /// What was seen.
    pub(crate) look: ShapeLook,
}

/// See the module.
#[derive(Default)]
pub(crate) struct Shapes {
    seen: Vec<SeenShape>,
    missing: Vec<ShapeQuestion>,
    findings: Vec<Finding>,
    /// Rises whenever there may be other findings.
    changes: u64,
}

/// So many looks are kept: those of earlier limits and meshes serve an undo.
const KEPT: usize = 500;

fn is_same((mesh, limits): &ShapeQuestion, (other, of): &ShapeQuestion) -> bool {
    Arc::ptr_eq(mesh, other) && limits == of
}

impl Shapes {
    /// What of the newest build has not been seen yet.
    pub(crate) fn missing(&self) -> &[ShapeQuestion] {
        &self.missing
    }

    fn not_seen(&self, loaded: &Loaded) -> Vec<ShapeQuestion> {
        let wanted = shapes_to_look_at(loaded).into_iter();
        let wanted = wanted.map(|(mesh, limits)| (Arc::clone(&loaded.meshes[mesh]), limits));
        wanted.filter(|question| self.look(question).is_none()).collect()
    }

    fn look(&self, question: &ShapeQuestion) -> Option<&ShapeLook> {
        let seen = self.seen.iter().find(|seen| is_same(&seen.question, question));
        seen.map(|seen| &seen.look)
    }

    /// Takes what was seen of a mesh.
    pub(crate) fn take(&mut self, seen: SeenShape) {
        self.seen.retain(|known| !is_same(&known.question, &seen.question));
        self.seen.push(seen);
        if self.seen.len() > KEPT {
            self.seen.remove(0);
        }
    }

    /// Says anew what is known of the shapes of a build.
    pub(crate) fn tell(&mut self, build: &Build) {
        let loaded = &build.loaded;
        self.missing = self.not_seen(loaded);
        let look_of = |mesh: usize, limits: &Limits| {
            let mesh = loaded.meshes.get(mesh)?;
            self.look(&(Arc::clone(mesh), *limits))
        };
        let findings = known_shape_findings(loaded, look_of);
        self.changes += u64::from(findings != self.findings);
        self.findings = findings;
    }

    /// What is known of the shapes of the newest build.
    pub(crate) fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// See the field.
    pub(crate) fn changes(&self) -> u64 {
        self.changes
    }
}

/// Whether everything that is to be looked at is being looked at already.
pub(crate) fn are_among(questions: &[ShapeQuestion], looking: &[ShapeQuestion]) -> bool {
    questions.iter().all(|question| looking.iter().any(|known| is_same(known, question)))
}
