//! The sums of the layer shown: small layers at once, large ones on a thread of their own.

use super::columns::Sums;
use crate::state::results::ShownLayer;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};

/// A layer of up to so many moves is summed within a frame.
const AT_ONCE: usize = 400_000;

/// How far the sums of a layer are.
pub(super) enum Summed {
    /// They are there.
    Done(Arc<Sums>),
    /// They are being made.
    Running,
    /// Making them failed: a bug, or no thread was to be had.
    Failed,
}

/// See the module.
#[derive(Default)]
pub(super) struct Summing {
    done: Option<(Arc<ShownLayer>, Arc<Sums>)>,
    running: Option<(Arc<ShownLayer>, Receiver<Sums>)>,
    failed: Option<Arc<ShownLayer>>,
}

impl Summing {
    /// The number of the layer that was last summed.
    pub(super) fn layer(&self) -> Option<u32> {
        self.done.as_ref().map(|(of, _)| of.index)
    }

    /// The sums of a layer; starts making them where that takes long.
    pub(super) fn get(&mut self, shown: &Arc<ShownLayer>, ctx: &egui::Context) -> Summed {
        self.collect();
        if let Some((of, sums)) = &self.done
            && Arc::ptr_eq(of, shown)
        {
            return Summed::Done(Arc::clone(sums));
        }
        if shown.timeline.moves().len() <= AT_ONCE {
            let sums = Arc::new(Sums::new(&shown.timeline));
            self.done = Some((Arc::clone(shown), Arc::clone(&sums)));
            return Summed::Done(sums);
        }
        if self.failed.as_ref().is_some_and(|of| Arc::ptr_eq(of, shown)) {
            return Summed::Failed;
        }
        if self.running.as_ref().is_none_or(|(of, _)| !Arc::ptr_eq(of, shown)) {
            self.start(shown, ctx.clone());
        }
        Summed::Running
    }

    fn collect(&mut self) {
        let Some((of, receiver)) = &self.running else { return };
        match receiver.try_recv() {
            Ok(sums) => self.done = Some((Arc::clone(of), Arc::new(sums))),
            Err(TryRecvError::Empty) => return,
            Err(TryRecvError::Disconnected) => self.failed = Some(Arc::clone(of)),
        }
        self.running = None;
    }

    fn start(&mut self, shown: &Arc<ShownLayer>, ctx: egui::Context) {
        let (sender, receiver) = sync_channel(1);
        let layer = Arc::clone(shown);
        let work = move || {
            // Woken also where summing panics, so that the view says so.
            let _wake = Wake(ctx);
            let _ = sender.send(Sums::new(&layer.timeline)); // or nobody waits any more
        };
        match std::thread::Builder::new().name("trace".to_owned()).spawn(work) {
            Ok(_) => self.running = Some((Arc::clone(shown), receiver)),
            Err(_) => self.failed = Some(Arc::clone(shown)),
        }
    }
}

/// Asks for a frame when it is dropped.
struct Wake(egui::Context);

impl Drop for Wake {
    fn drop(&mut self) {
        self.0.request_repaint();
    }
}
