//! Placements moved by hand: one gesture at a time, whichever view it is made in.
//!
//! ```text
//! view: Begin, Mean, Mean, … End ─► Hand ─► worker: how far do clearances let it? ─► one step of undo
//! ```
//!
//! A view says what the pointer means; everything else is here, for all views alike: whole steps,
//! what happens on contact, distances to what is near, and that Esc puts all of it back. The window
//! never waits: what is meant goes to a thread of its own, the newest wish wins, and what is shown
//! is the newest answer.

mod around;
mod carrying;
mod placing;
mod turning;
mod worker;

pub(crate) use around::Around;
pub(crate) use placing::{Before, Meant, allowed, edit, label, moved};
pub(crate) use turning::{laid_flat, rotation, tidy};

use crate::state::model::Model;
use base::Progress;
use carrying::{Member, Scene, Wish};
use nesting::Space;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use worker::Worker;

/// What a part that is moved by hand does when it comes too near to another.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub(crate) enum OnContact {
    /// Nothing: it goes where the pointer goes.
    #[default]
    Pass,
    /// It stops where the clearance ends, and slides along.
    Stop,
    /// It pushes away what is not locked.
    Push,
}

impl OnContact {
    pub(crate) const ALL: [Self; 3] = [Self::Pass, Self::Stop, Self::Push];

    /// In a word, after "On contact:".
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Stop => "stop",
            Self::Push => "push",
        }
    }

    /// In a list of all three.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Pass => "pass through",
            Self::Stop => "stop, keep the clearance",
            Self::Push => "push aside",
        }
    }

    /// What it does.
    pub(crate) fn explained(self) -> &'static str {
        match self {
            Self::Pass => {
                "What is dragged goes where the pointer goes; distances that are too small are \
                 marked."
            }
            Self::Stop => {
                "What is dragged keeps the job's clearances to parts and walls: it stops there, and \
                 slides along."
            }
            Self::Push => {
                "What is dragged pushes parts that are in its way, as far as clearances and walls \
                 let them. Locked parts stay."
            }
        }
    }
}

/// What a view asks of the hand.
pub(crate) enum Doing {
    /// Takes hold of placements; the word says what is about to be done with them.
    Begin(&'static str, Before),
    /// Where they are to be by now; in whole steps unless it is `true`.
    Mean(Meant, bool),
    /// Lets go of them.
    End,
}

/// What is under way.
struct Gesture {
    key: u64,
    label: String,
    before: Before,
    contact: OnContact,
    last: Option<Meant>,
    /// Number of the last wish, and of the last that was answered.
    asked: u64,
    answered: u64,
    released: bool,
    progress: Progress,
}

impl Drop for Gesture {
    fn drop(&mut self) {
        self.progress.cancel();
    }
}

/// See the module.
#[derive(Default)]
pub(crate) struct Hand {
    /// What happens on contact.
    pub(crate) contact: OnContact,
    gesture: Option<Gesture>,
    worker: Option<Worker>,
    around: Option<Around>,
    gestures: u64,
}

/// Under which the edits of a gesture are one step of undo: this and the number of the gesture.
const MERGE: u64 = 0x6861_6e64_0000_0000;

impl Hand {
    /// With what the person last chose.
    pub(crate) fn new(contact: OnContact) -> Self {
        Self { contact, ..Self::default() }
    }

    /// Whether placements are held, or come to rest.
    pub(crate) fn is_active(&self) -> bool {
        self.gesture.is_some()
    }

    /// Whether an answer is still to come.
    pub(crate) fn is_waiting(&self) -> bool {
        self.gesture.as_ref().is_some_and(|gesture| gesture.answered < gesture.asked)
    }

    /// What is held, as it was when the gesture began.
    pub(crate) fn before(&self) -> Option<&Before> {
        self.gesture.as_ref().map(|gesture| &gesture.before)
    }

    /// What is near what is held.
    pub(crate) fn around(&self) -> Option<&Around> {
        self.gesture.as_ref().and(self.around.as_ref())
    }
}

impl Model {
    /// Does what a view asks of the hand. `ctx` is woken when an answer has come.
    pub(crate) fn by_hand(&mut self, doing: Doing, ctx: &egui::Context) {
        match doing {
            Doing::Begin(verb, before) => self.take_hold(verb, before, ctx),
            Doing::Mean(meant, free) => self.mean(meant, free),
            Doing::End => self.release(),
        }
    }

    /// Lets what is chosen down until clearances hold it: each by itself, the lowest first.
    pub(crate) fn let_down(&mut self, ctx: &egui::Context) {
        let chosen: Vec<_> = self.stage.chosen(&self.selection).collect();
        let Some(before) = Before::of(&chosen) else { return };
        self.take_hold("let down", before, ctx);
        if let (Some(gesture), Some(worker)) = (&mut self.hand.gesture, &mut self.hand.worker)
            && worker.works()
        {
            gesture.contact = OnContact::Stop;
            gesture.asked += 1;
            worker.wish(gesture.key, gesture.asked, Wish::Drop);
        }
        self.release();
    }

    fn take_hold(&mut self, verb: &str, before: Before, ctx: &egui::Context) {
        self.let_go();
        let Some(content) = self.content().cloned() else { return };
        let label = match before.placements[..] {
            [(at, _)] => format!("{verb} {}", self.placement_name(at)),
            ref several => label(verb, several.len()),
        };
        let job::Clearances { parts_mm, walls_mm } = content.job.clearances;
        let is_locked = |at: base::PlacementId| {
            let rules = content.job.parts.get(at.part).and_then(|part| part.nest.as_ref());
            rules.is_some_and(|rules| rules.locked.iter().any(|copy| *copy as usize == at.copy))
        };
        let members = self.stage.actors.iter().map(|actor| Member {
            at: actor.at,
            placement: actor.placement,
            loaded: Arc::clone(&actor.loaded),
            scale: actor.scale,
            pose: actor.pose,
            is_locked: is_locked(actor.at),
        });
        let scene = Scene {
            members: members.collect(),
            space: Space {
                size_mm: content.machine.build_space_mm,
                wall_clearance_mm: walls_mm,
                clearance_mm: parts_mm,
            },
            before: before.clone(),
            pushes: self.hand.contact == OnContact::Push,
        };
        let hand = &mut self.hand;
        hand.gestures += 1;
        let (key, progress) = (MERGE + hand.gestures, Progress::default());
        let ctx = ctx.clone();
        let worker = hand.worker.get_or_insert_with(|| Worker::new(move || ctx.request_repaint()));
        worker.begin(key, scene, progress.clone());
        hand.around = None;
        hand.gesture = Some(Gesture {
            key,
            label,
            before,
            // Without its thread, all that is left is to follow the pointer.
            contact: if worker.works() { hand.contact } else { OnContact::Pass },
            last: None,
            asked: 0,
            answered: 0,
            released: false,
            progress,
        });
    }

    fn mean(&mut self, meant: Meant, free: bool) {
        let (Some(gesture), Some(worker)) = (&mut self.hand.gesture, &mut self.hand.worker) else {
            return;
        };
        let meant = gesture.before.snapped(meant, free);
        if gesture.released || gesture.last == Some(meant) {
            return;
        }
        gesture.last = Some(meant);
        gesture.asked += 1;
        if gesture.contact != OnContact::Pass {
            return worker.wish(gesture.key, gesture.asked, Wish::Carry(meant));
        }
        let placements = gesture.before.after(meant);
        worker.wish(gesture.key, gesture.asked, Wish::Look(placements.clone()));
        let edit = edit(gesture.label.clone(), placements).within(gesture.key);
        if let Some(document) = &mut self.document {
            document.edit(edit);
        }
    }

    fn release(&mut self) {
        if let Some(gesture) = &mut self.hand.gesture {
            gesture.released = true;
        }
        self.come_to_rest();
    }

    /// The gesture ends when its last wish is answered.
    fn come_to_rest(&mut self) {
        let Some(gesture) = &self.hand.gesture else { return };
        let passes = gesture.contact == OnContact::Pass;
        if gesture.released && (passes || gesture.answered == gesture.asked) {
            self.let_go();
        }
    }

    /// Takes the answers that have come.
    pub(crate) fn take_answers(&mut self) {
        let Some(worker) = &mut self.hand.worker else { return };
        for answer in worker.answers() {
            let Some(gesture) = &mut self.hand.gesture else { continue };
            if gesture.key != answer.gesture {
                continue;
            }
            gesture.answered = gesture.answered.max(answer.number);
            let Some((placements, around)) = answer.found else {
                gesture.contact = OnContact::Pass; // a bug: what is dragged can still be dragged
                continue;
            };
            self.hand.around = Some(around);
            if gesture.contact != OnContact::Pass {
                let edit = edit(gesture.label.clone(), placements).within(gesture.key);
                if let Some(document) = &mut self.document {
                    document.edit(edit);
                }
            }
        }
        self.come_to_rest();
    }

    /// Puts back what is held, as if it had never been moved; whether anything was held.
    pub(crate) fn call_off_hand(&mut self) -> bool {
        let Some(gesture) = self.hand.gesture.take() else { return false };
        self.hand.around = None;
        if let Some(document) = &mut self.document {
            document.abandon(gesture.key);
        }
        true
    }

    /// Ends the gesture where things are: something else happens to the document.
    pub(crate) fn let_go(&mut self) {
        if self.hand.gesture.take().is_some() {
            self.hand.around = None;
            if let Some(document) = &mut self.document {
                document.end_gesture();
            }
        }
    }
}
