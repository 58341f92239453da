//! What a view, the traveller or a shortcut asks for.

use crate::state::commands::Command;
use crate::state::drag::DragUpdate;
pub(crate) use crate::state::edit::Edit;
use crate::state::layout::View;
use crate::state::model::CageShape;
use crate::state::unfound::Unfound;
use base::{Place, PlacementId};

/// A request, carried out by the app after the frame in which it was made.
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
    /// End the search for an arrangement and keep the best.
    StopNesting,
    /// Select placements.
    Select(Selecting, Vec<PlacementId>),
    /// Move placements by hand.
    Drag(DragUpdate),
    /// Move every view to where a finding lies.
    GoTo(Place),
    /// Open the section of the sheet that a field stands in, and show it there.
    Seek(SheetField),
    /// Read a mesh file into the job.
    AddMeshes(Vec<std::path::PathBuf>),
    /// Add the parts that a text from the clipboard holds.
    Paste(String),
    /// Ask for a file.
    Ask(Purpose),
    /// Open this job.
    Open(std::path::PathBuf),
}

/// What a file dialog is for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Purpose {
    OpenJob,
    SaveJob,
    /// A build that nesting filled beyond the first, by its number.
    SaveBuild(usize),
    AddMeshes,
    /// Where a mesh lies that was not found under this path.
    Relink(String),
    /// A machine or recipe without which a job cannot be opened.
    FindNamed(Box<Unfound>),
    /// Another mesh for these parts of the job, whose placements stay.
    ReplaceMesh(Vec<usize>),
    /// A recipe for a part, or for the whole job.
    UseRecipe(Option<usize>),
    UseMachine,
    /// A copy of this recipe.
    SaveRecipe(String),
    WriteVectors,
    /// A picture of a view, or of the whole window.
    SavePicture(Option<View>),
    /// The layer at the cursor as a drawing to scale.
    SaveDrawing,
}

/// A field of the job's sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct SheetField {
    /// Name of its section.
    pub(crate) section: &'static str,
    /// Its own.
    pub(crate) name: String,
}

impl Purpose {
    /// Title of the dialog.
    pub(crate) fn title(&self) -> &'static str {
        match self {
            Self::OpenJob => "Open a job",
            Self::SaveJob => "Save the job as",
            Self::SaveBuild(_) => "Save a further build as a job",
            Self::AddMeshes => "Add a mesh",
            Self::Relink(_) => "Where is this mesh?",
            Self::FindNamed(unfound) if unfound.what == "machine" => "Where is this machine?",
            Self::FindNamed(_) => "Where is this recipe?",
            Self::ReplaceMesh(_) => "Replace the mesh by",
            Self::UseRecipe(_) => "Use a recipe",
            Self::UseMachine => "Use a machine",
            Self::SaveRecipe(_) => "Save a copy of the recipe",
            Self::WriteVectors => "Write the vector file",
            Self::SavePicture(_) => "Save the picture as",
            Self::SaveDrawing => "Save the drawing as",
        }
    }
}

/// How a selection goes together with what was selected before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Selecting {
    /// These and no others.
    Only,
    /// These as well.
    Also,
    /// Those of them that were not selected; the others no more.
    Toggle,
}

impl From<DragUpdate> for Action {
    fn from(update: DragUpdate) -> Self {
        Self::Drag(update)
    }
}

impl From<Edit> for Action {
    fn from(edit: Edit) -> Self {
        Self::Edit(edit)
    }
}

/// What a click selects: the part alone, more with Shift, or the other way round with Ctrl.
pub(crate) fn selected_by_click(
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
