//! The sums of the layer shown: small layers at once, large ones in the background.

use super::columns::Sums;
use crate::state::results::ShownLayer;
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use std::sync::Arc;

/// A layer of up to so many moves is summed within a frame.
const AT_ONCE: usize = 40_000;

/// How far the sums of a layer are.
pub(super) enum Summed {
    /// They are there.
    Done(Arc<Sums>),
    /// They are being made.
    Running,
    /// Making them failed; the window has said why.
    Failed,
}

/// See the module.
pub(super) struct Summing {
    done: Option<(Arc<ShownLayer>, Arc<Sums>)>,
    latest: Latest<(Arc<ShownLayer>, Sums)>,
    /// The layer whose sums were last asked for.
    asked: Option<Arc<ShownLayer>>,
}

impl Summing {
    pub(super) fn new(threads: &Threads) -> Self {
        let latest = Latest::new(threads, "Summing up the layer", Priority::Normal);
        Self { done: None, latest, asked: None }
    }

    /// Whether nothing is being summed up.
    pub(super) fn is_idle(&self) -> bool {
        !self.latest.is_busy()
    }

    /// The number of the layer that was last summed.
    pub(super) fn layer(&self) -> Option<u32> {
        self.done.as_ref().map(|(of, _)| of.index)
    }

    /// The sums of a layer; starts making them where that takes long.
    pub(super) fn get(&mut self, shown: &Arc<ShownLayer>) -> Summed {
        let is_idle = self.is_idle(); // then all answers are there
        while let Some(answer) = self.latest.take() {
            if let Ok((of, sums)) = answer {
                self.done = Some((of, Arc::new(sums)));
            }
        }
        let is_it = |of: &Arc<ShownLayer>| Arc::ptr_eq(of, shown);
        if let Some((_, sums)) = self.done.as_ref().filter(|(of, _)| is_it(of)) {
            return Summed::Done(Arc::clone(sums));
        }
        if shown.timeline.moves().len() <= AT_ONCE {
            let sums = Arc::new(Sums::new(&shown.timeline));
            self.done = Some((Arc::clone(shown), Arc::clone(&sums)));
            return Summed::Done(sums);
        }
        if self.asked.as_ref().is_some_and(is_it) {
            return if is_idle { Summed::Failed } else { Summed::Running };
        }
        self.asked = Some(Arc::clone(shown));
        let layer = Arc::clone(shown);
        self.latest.ask(move |_| {
            let sums = Sums::new(&layer.timeline);
            Some((layer, sums))
        });
        Summed::Running
    }
}
