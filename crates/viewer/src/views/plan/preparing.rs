//! Drawings and colours of layers: small ones at once, large ones on a thread of their own.

use super::drawing::{Drawing, boundary, section};
use super::quantity::{Quantity, Shades};
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use base::PlacementId;
use egui::Context;
use render::plan::{FillSet, LineSet};
use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};

/// A layer of up to so many moves is made ready within a frame: some 2 ms.
const AT_ONCE: usize = 40_000;
/// Layers that are kept ready: the shown one and what was seen just before, with so many moves
/// together; 30 bytes each.
const KEPT: usize = 3;
const KEPT_MOVES: usize = 4_000_000;

/// A layer ready to be drawn in the colours of a quantity.
#[derive(Clone)]
pub(super) struct Ready {
    pub(super) drawing: Arc<Drawing>,
    pub(super) shades: Arc<Shades>,
}

impl Ready {
    /// Whether it is what is wanted.
    pub(super) fn is_of(&self, shown: &Arc<ShownLayer>, quantity: Quantity, ways: bool) -> bool {
        Arc::ptr_eq(&self.drawing.shown, shown)
            && self.shades.quantity == quantity
            && (self.drawing.has_ways || !ways)
    }
}

/// The selected placements of a layer, as fill and boundary.
pub(super) struct Chosen {
    shown: Arc<ShownLayer>,
    selection: BTreeSet<PlacementId>,
    pub(super) section: Arc<FillSet>,
    pub(super) boundary: Arc<LineSet>,
}

/// See the module.
#[derive(Default)]
pub(super) struct Preparing {
    /// Most recent last.
    ready: Vec<Ready>,
    running: Option<Receiver<Ready>>,
    /// A layer that could not be made ready: its thread crashed.
    failed: Option<Arc<ShownLayer>>,
    ghosts: Vec<(Arc<ShownLayer>, Arc<LineSet>)>,
    chosen: Option<Chosen>,
}

impl Preparing {
    /// The layer in the colours of a quantity, with jumps and runs if they are wanted; while that
    /// is being made, what was shown last.
    pub(super) fn get(
        &mut self,
        shown: &Arc<ShownLayer>,
        quantity: Quantity,
        ways: bool,
        ctx: &Context,
    ) -> Option<Ready> {
        self.collect();
        let is_it = |ready: &Ready| ready.is_of(shown, quantity, ways);
        if let Some(index) = self.ready.iter().position(is_it) {
            let ready = self.ready.remove(index);
            self.ready.push(ready);
        } else if self.running.is_none() && !self.has_failed(shown) {
            let is_same = |ready: &&Ready| {
                Arc::ptr_eq(&ready.drawing.shown, shown) && (ready.drawing.has_ways || !ways)
            };
            let same = self.ready.iter().find(is_same);
            let known = same.map(|ready| Arc::clone(&ready.drawing));
            let (layer, ctx) = (Arc::clone(shown), ctx.clone());
            let make = move || {
                let drawing = known.unwrap_or_else(|| Arc::new(Drawing::new(layer, ways)));
                let shades = Arc::new(Shades::new(&drawing, quantity));
                Ready { drawing, shades }
            };
            if shown.timeline.moves().len() <= AT_ONCE {
                self.keep(make());
            } else {
                self.start(Arc::clone(shown), make, ctx);
            }
        }
        self.ready.last().cloned()
    }

    /// Whether making a layer ready crashed.
    pub(super) fn has_failed(&self, shown: &Arc<ShownLayer>) -> bool {
        let is_it = |failed: &Arc<ShownLayer>| Arc::ptr_eq(failed, shown);
        self.running.is_none() && self.failed.as_ref().is_some_and(is_it)
    }

    fn collect(&mut self) {
        let Some(running) = &self.running else { return };
        match running.try_recv() {
            Ok(ready) => {
                self.running = None;
                self.failed = None;
                self.keep(ready);
            }
            Err(TryRecvError::Empty) => {}
            Err(TryRecvError::Disconnected) => self.running = None, // `failed` says which
        }
    }

    fn keep(&mut self, ready: Ready) {
        self.ready.retain(|other| !Arc::ptr_eq(&other.drawing.shown, &ready.drawing.shown));
        self.ready.push(ready);
        let moves = |ready: &Ready| ready.drawing.shown.timeline.moves().len();
        while self.ready.len() > KEPT
            || self.ready.len() > 1 && self.ready.iter().map(moves).sum::<usize>() > KEPT_MOVES
        {
            self.ready.remove(0);
        }
    }

    fn start(
        &mut self,
        shown: Arc<ShownLayer>,
        make: impl FnOnce() -> Ready + Send + 'static,
        ctx: Context,
    ) {
        let (sender, receiver) = sync_channel(1);
        self.failed = Some(shown); // until the thread delivers
        let work = move || {
            let _ = sender.send(make()); // nobody waits any more: the window is closed
            ctx.request_repaint();
        };
        if std::thread::Builder::new().name("plan".to_owned()).spawn(work).is_ok() {
            self.running = Some(receiver);
        }
    }

    /// The boundary of a layer beside the shown one.
    pub(super) fn ghost(&mut self, shown: &Arc<ShownLayer>) -> Arc<LineSet> {
        if let Some((_, lines)) = self.ghosts.iter().find(|(of, _)| Arc::ptr_eq(of, shown)) {
            return Arc::clone(lines);
        }
        let lines = Arc::new(boundary(shown, |_| true));
        if self.ghosts.len() > 3 {
            self.ghosts.remove(0);
        }
        self.ghosts.push((Arc::clone(shown), Arc::clone(&lines)));
        lines
    }

    /// The selected placements of a layer.
    pub(super) fn chosen(&mut self, shown: &Arc<ShownLayer>, model: &Model) -> Option<&Chosen> {
        let fits = |chosen: &Chosen| {
            Arc::ptr_eq(&chosen.shown, shown) && chosen.selection == model.selection
        };
        if model.selection.is_empty() {
            self.chosen = None;
        } else if !self.chosen.as_ref().is_some_and(fits) {
            let is_chosen: Vec<bool> = (shown.build.placements())
                .map(|(part, copy)| model.selection.contains(&PlacementId { part, copy }))
                .collect();
            let wanted = |row: usize| is_chosen.get(row).copied().unwrap_or(false);
            self.chosen = Some(Chosen {
                shown: Arc::clone(shown),
                selection: model.selection.clone(),
                section: Arc::new(section(shown, wanted)),
                boundary: Arc::new(boundary(shown, wanted)),
            });
        }
        self.chosen.as_ref()
    }
}
