//! Drawings and colours of layers, made in the background.

use super::drawing::{Drawing, boundary, section};
use super::quantity::{Quantity, Shades};
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use base::PlacementId;
use render::plan::{FillSet, LineSet};
use std::collections::BTreeSet;
use std::sync::Arc;

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
pub(super) struct Selected {
    shown: Arc<ShownLayer>,
    selection: BTreeSet<PlacementId>,
    pub(super) section: Arc<FillSet>,
    pub(super) boundary: Arc<LineSet>,
}

/// What is wanted: a layer in the colours of a quantity, with jumps and runs or without.
type Wanted = (Arc<ShownLayer>, Quantity, bool);

/// See the module.
pub(super) struct Preparing {
    /// Most recent last.
    ready: Vec<Ready>,
    latest: Latest<Ready>,
    /// What was last asked for, until it is there.
    asked: Option<Wanted>,
    /// A layer that could not be made ready: its thread crashed.
    failed: Option<Arc<ShownLayer>>,
    neighbours: Vec<(Arc<ShownLayer>, Arc<LineSet>)>,
    selected: Option<Selected>,
}

impl Preparing {
    pub(super) fn new(threads: &Threads) -> Self {
        let latest = Latest::new(threads, "Drawing the layer", Priority::Urgent);
        let (ready, neighbours) = (Vec::new(), Vec::new());
        Self { ready, latest, asked: None, failed: None, neighbours, selected: None }
    }

    /// Whether nothing is being made.
    pub(super) fn is_idle(&self) -> bool {
        !self.latest.is_busy()
    }

    /// The layer in the colours of a quantity, with jumps and runs if they are wanted; while that
    /// is being made, what was shown last.
    pub(super) fn get(
        &mut self,
        shown: &Arc<ShownLayer>,
        quantity: Quantity,
        ways: bool,
    ) -> Option<Ready> {
        self.collect();
        let is_it = |ready: &Ready| ready.is_of(shown, quantity, ways);
        let is_asked =
            |(of, by, with): &Wanted| Arc::ptr_eq(of, shown) && *by == quantity && *with == ways;
        if let Some(index) = self.ready.iter().position(is_it) {
            let ready = self.ready.remove(index);
            self.ready.push(ready);
        } else if !self.asked.as_ref().is_some_and(is_asked) && !self.has_failed(shown) {
            self.ask(shown, quantity, ways);
        }
        self.ready.last().cloned()
    }

    fn ask(&mut self, shown: &Arc<ShownLayer>, quantity: Quantity, ways: bool) {
        self.asked = Some((Arc::clone(shown), quantity, ways));
        let is_same = |ready: &&Ready| {
            Arc::ptr_eq(&ready.drawing.shown, shown) && (ready.drawing.has_ways || !ways)
        };
        let same = self.ready.iter().find(is_same);
        let known = same.map(|ready| Arc::clone(&ready.drawing));
        let layer = Arc::clone(shown);
        self.latest.ask(move |background| {
            let make = || Arc::new(Drawing::new(layer, ways, background));
            let drawing = known.unwrap_or_else(make);
            let shades = Arc::new(Shades::new(&drawing, quantity));
            Some(Ready { drawing, shades })
        });
    }

    /// Whether making a layer ready crashed.
    pub(super) fn has_failed(&self, shown: &Arc<ShownLayer>) -> bool {
        self.failed.as_ref().is_some_and(|failed| Arc::ptr_eq(failed, shown))
    }

    fn collect(&mut self) {
        let is_idle = self.is_idle(); // then all answers are there
        while let Some(answer) = self.latest.take() {
            match answer {
                Ok(ready) => {
                    self.failed = None;
                    self.keep(ready);
                }
                Err(_) => self.failed = self.asked.take().map(|(shown, ..)| shown),
            }
        }
        if is_idle {
            self.asked = None;
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

    /// The boundary of a layer beside the shown one.
    pub(super) fn neighbour(&mut self, shown: &Arc<ShownLayer>) -> Arc<LineSet> {
        if let Some((_, lines)) = self.neighbours.iter().find(|(of, _)| Arc::ptr_eq(of, shown)) {
            return Arc::clone(lines);
        }
        let lines = Arc::new(boundary(shown, |_| true));
        if self.neighbours.len() > 3 {
            self.neighbours.remove(0);
        }
        self.neighbours.push((Arc::clone(shown), Arc::clone(&lines)));
        lines
    }

    /// The selected placements of a layer.
    pub(super) fn selected(&mut self, shown: &Arc<ShownLayer>, model: &Model) -> Option<&Selected> {
        let fits = |selected: &Selected| {
            Arc::ptr_eq(&selected.shown, shown) && selected.selection == model.selection
        };
        if model.selection.is_empty() {
            self.selected = None;
        } else if !self.selected.as_ref().is_some_and(fits) {
            let is_selected: Vec<bool> =
                shown.build.placements().map(|at| model.selection.contains(&at)).collect();
            let wanted = |row: usize| is_selected.get(row).copied().unwrap_or(false);
            self.selected = Some(Selected {
                shown: Arc::clone(shown),
                selection: model.selection.clone(),
                section: Arc::new(section(shown, wanted)),
                boundary: Arc::new(boundary(shown, wanted)),
            });
        }
        self.selected.as_ref()
    }
}
