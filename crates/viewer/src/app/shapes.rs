//! Looking at shapes in the background, once all that is of the layers is known.

use super::App;
use crate::state::results::Failure;
use crate::state::shapes::{SeenShape, are_among};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{self, Outcome};

impl App {
    /// Whether every shape of the present build has been looked at.
    pub(super) fn shapes_are_current(&self) -> bool {
        self.model.results.shapes.missing().is_empty()
    }

    /// Takes what was seen of a mesh.
    pub(super) fn take_shape(&mut self, seen: SeenShape) {
        let results = &mut self.model.results;
        results.shape_failure = None;
        results.shapes.take(seen);
        if let Some(built) = &results.build {
            results.shapes.tell(&built.build);
        }
    }

    /// Starts to look at what has not been seen of the present build. A look that is under way goes on as long
    /// as what it looks at is wanted, whatever else is edited.
    pub(super) fn start_shapes(&mut self) {
        let Some(built) = &self.model.results.build else { return };
        if self.model.is_cancelled() || self.model.shape_failure().is_some() {
            return;
        }
        let missing = self.model.results.shapes.missing();
        let is_running = self.scheduler.running_in(TaskKind::Shapes).is_some();
        if missing.is_empty() || is_running && are_among(missing, &self.looking_at) {
            return;
        }
        let missing = missing.to_vec();
        self.looking_at.clone_from(&missing);
        let revision = built.revision;
        let failed = move |sentence| Outcome::NoShapes(Failure { revision, sentence });
        let look = move |context: &_| tasks::shapes(missing, context);
        self.scheduler.start(TaskKind::Shapes, "Looking at the shapes", failed, look);
    }
}
