//! Placements moved by hand: one gesture at a time, whichever view it is made in.
//!
//! ```text
//! view: Begin, Aim, Aim, … End ─► DragState ─► work::drag: how far do clearances let it? ─► one step of undo
//! ```
//!
//! A view says what the pointer means; everything else is the same for all views: whole steps, what
//! happens on contact, distances to what is near, and that Esc puts all of it back. How far
//! clearances let a part is asked in the background; what is shown is the newest answer.

use crate::state::contact::OnContact;
use crate::state::document::Document;
use crate::state::moves::{DragRequest, DragStart, edit};
use crate::state::nearby::Nearby;
use base::{PlacementId, Progress};
use job::Placement;

/// What a view asks of a drag.
pub(crate) enum DragUpdate {
    /// Takes hold of placements; the word says what is about to be done with them.
    Begin(&'static str, DragStart),
    /// Where they are to be by now; in whole steps unless it is `true`.
    Aim(DragRequest, bool),
    /// Lets go of them.
    End,
}

/// What is under way.
pub(crate) struct Gesture {
    /// Under which its edits are one step of undo.
    pub(crate) key: u64,
    /// What that step is called.
    pub(crate) label: String,
    /// Placements as they were when it began.
    pub(crate) before: DragStart,
    /// What happens on contact.
    pub(crate) contact: OnContact,
    last: Option<DragRequest>,
    /// Number of the last request, and of the last that was answered.
    asked: u64,
    answered: u64,
    is_released: bool,
    /// Cancelled when the gesture ends.
    pub(crate) progress: Progress,
}

impl Drop for Gesture {
    fn drop(&mut self) {
        self.progress.cancel();
    }
}

impl Gesture {
    /// Notes that something is asked for; its number.
    pub(crate) fn ask(&mut self) -> u64 {
        self.asked += 1;
        self.asked
    }

    /// Notes where placements are to be by now, in whole steps unless it is `free`; `None` if that is
    /// nothing new.
    pub(crate) fn aim(&mut self, meant: DragRequest, free: bool) -> Option<DragRequest> {
        let meant = self.before.snapped(meant, free);
        let is_new = !self.is_released && self.last != Some(meant);
        is_new.then(|| *self.last.insert(meant))
    }
}

/// See the module.
#[derive(Default)]
pub(crate) struct DragState {
    /// What happens on contact.
    pub(crate) contact: OnContact,
    gesture: Option<Gesture>,
    around: Option<Nearby>,
    gestures: u64,
}

/// Under which the edits of a gesture are one step of undo: this and the number of the gesture.
const MERGE: u64 = 0x6861_6e64_0000_0000;

impl DragState {
    /// Whether placements are held, or come to rest.
    pub(crate) fn is_active(&self) -> bool {
        self.gesture.is_some()
    }

    /// Whether an answer is still to come.
    pub(crate) fn is_waiting(&self) -> bool {
        self.gesture.as_ref().is_some_and(|gesture| gesture.answered < gesture.asked)
    }

    /// What is held, as it was when the gesture began.
    pub(crate) fn before(&self) -> Option<&DragStart> {
        self.gesture.as_ref().map(|gesture| &gesture.before)
    }

    /// What is near what is held.
    pub(crate) fn nearby(&self) -> Option<&Nearby> {
        self.gesture.as_ref().and(self.around.as_ref())
    }

    /// The gesture that is under way.
    pub(crate) fn gesture(&mut self) -> Option<&mut Gesture> {
        self.gesture.as_mut()
    }

    /// Begins a gesture; the one before must have ended.
    pub(crate) fn begin(&mut self, label: String, before: DragStart) -> &mut Gesture {
        self.gestures += 1;
        self.around = None;
        self.gesture.insert(Gesture {
            key: MERGE + self.gestures,
            label,
            before,
            contact: self.contact,
            last: None,
            asked: 0,
            answered: 0,
            is_released: false,
            progress: Progress::default(),
        })
    }

    /// Moves what is held, as part of its step of undo.
    pub(crate) fn put(
        &self,
        document: Option<&mut Document>,
        placements: Vec<(PlacementId, Placement)>,
    ) {
        if let (Some(gesture), Some(document)) = (&self.gesture, document) {
            document.edit(edit(gesture.label.clone(), placements).within(gesture.key));
        }
    }

    /// Takes the answer to a request of a gesture: where everything is that has moved, and what is
    /// near.
    pub(crate) fn answer(
        &mut self,
        (gesture, number): (u64, u64),
        placements: Vec<(PlacementId, Placement)>,
        around: Nearby,
        document: Option<&mut Document>,
    ) {
        let Some(held) = self.gesture.as_mut().filter(|held| held.key == gesture) else { return };
        held.answered = held.answered.max(number);
        self.around = Some(around);
        if held.contact != OnContact::Pass {
            self.put(document, placements);
        }
    }

    /// No answer will come: what is held can still be moved, through everything.
    pub(crate) fn pass_through(&mut self) {
        if let Some(gesture) = &mut self.gesture {
            gesture.contact = OnContact::Pass;
            gesture.answered = gesture.asked;
        }
    }

    /// The person has let go.
    pub(crate) fn release(&mut self, document: Option<&mut Document>) {
        if let Some(gesture) = &mut self.gesture {
            gesture.is_released = true;
        }
        self.come_to_rest(document);
    }

    /// Ends the gesture if the person has let go and its last request is answered.
    pub(crate) fn come_to_rest(&mut self, document: Option<&mut Document>) {
        let Some(gesture) = &self.gesture else { return };
        let passes = gesture.contact == OnContact::Pass;
        if gesture.is_released && (passes || gesture.answered == gesture.asked) {
            self.let_go(document);
        }
    }

    /// Ends the gesture where things are.
    pub(crate) fn let_go(&mut self, document: Option<&mut Document>) {
        if self.gesture.take().is_some() {
            self.around = None;
            if let Some(document) = document {
                document.end_gesture();
            }
        }
    }

    /// Puts back what is held, as if it had never been moved; whether anything was held.
    pub(crate) fn cancel(&mut self, document: Option<&mut Document>) -> bool {
        let Some(gesture) = self.gesture.take() else { return false };
        self.around = None;
        if let Some(document) = document {
            document.abandon(gesture.key);
        }
        true
    }
}
