//! What a view, the traveller or a shortcut asks for.

use crate::hand::Doing;
use crate::state::commands::Command;
use crate::state::document::Content;
use crate::state::model::CageShape;
use crate::work::tasks::Purpose;
use base::{Place, PlacementId};

/// A wish, carried out by the app after the frame in which it was uttered.
pub(crate) enum Action {
    /// Change the job, machine or a recipe.
    Edit(Edit),
    /// Carry out a command of the list.
    Command(Command),
    /// Show all of the plan, and leave the other views as they are.
    FitPlan,
    /// Show another layer; clamped to those that exist.
    ShowLayer(u32),
    /// Move the beam to this time within the layer, s.
    ShowTime(f64),
    /// Let the beam run or halt, at so many of its seconds in one second.
    Play {
        /// Whether it is to run.
        on: bool,
        /// Seconds of the beam in one second of the person.
        pace: f64,
    },
    /// What the next cage is to be like.
    ShapeCage(CageShape),
    /// Whether nesting is to even out the fused area along Z.
    EvenArea(bool),
    /// Choose placements.
    Select(Selecting, Vec<PlacementId>),
    /// Move placements by hand.
    Hand(Doing),
    /// Move every view to where a finding lies.
    GoTo(Place),
    /// Read a mesh file into the job.
    AddMeshes(Vec<std::path::PathBuf>),
    /// Ask for a file.
    Ask(Purpose),
    /// Open this job.
    Open(std::path::PathBuf),
}

/// How a choice goes together with what was chosen before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Selecting {
    /// These and no others.
    Only,
    /// These as well.
    Also,
    /// Those of them that were not chosen; the others no more.
    Toggle,
}

/// A change of the document.
pub(crate) struct Edit {
    /// What the undo menu calls it, such as "move hinge".
    pub(crate) label: String,
    /// Edits that follow each other with the same key are one step of undo: a whole drag. Take
    /// [`merge_key`] of the widget, and end the gesture with [`Edit::ends`].
    pub(crate) merge: Option<u64>,
    /// Whether this is the last edit of its gesture.
    pub(crate) ends: bool,
    /// The change itself.
    pub(crate) apply: Box<dyn FnOnce(&mut Content) + Send>,
}

impl Edit {
    /// An edit that is a step of its own.
    pub(crate) fn new(
        label: impl Into<String>,
        apply: impl FnOnce(&mut Content) + Send + 'static,
    ) -> Self {
        Self { label: label.into(), merge: None, ends: true, apply: Box::new(apply) }
    }

    /// One of several edits of a drag or of a number being dragged.
    pub(crate) fn within(mut self, key: u64) -> Self {
        self.merge = Some(key);
        self.ends = false;
        self
    }
}

impl From<Doing> for Action {
    fn from(doing: Doing) -> Self {
        Self::Hand(doing)
    }
}

impl From<Edit> for Action {
    fn from(edit: Edit) -> Self {
        Self::Edit(edit)
    }
}

/// A merge key for the gesture of one widget.
pub(crate) fn merge_key(id: egui::Id) -> u64 {
    id.value()
}

/// What a click chooses: the part alone, more with Shift, or the other way round with Ctrl.
pub(crate) fn chosen_by_click(
    picked: Option<PlacementId>,
    modifiers: egui::Modifiers,
) -> Option<Action> {
    let how = match (modifiers.shift, modifiers.command) {
        (true, _) => Selecting::Also,
        (_, true) => Selecting::Toggle,
        _ => Selecting::Only,
    };
    let adds = how != Selecting::Only;
    (picked.is_some() || !adds).then(|| Action::Select(how, picked.into_iter().collect()))
}
