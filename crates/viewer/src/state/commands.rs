//! The one list of commands: menu, search and shortcuts are made from it.

use crate::state::contact::OnContact;
use crate::state::layout::View;
use crate::state::model::Model;
use Group::{Edit, Help, Job, Layer, Nesting, Pictures, Sheet, Zoom};
use egui::{Key, KeyboardShortcut, Modifiers};

/// Something that can be done without pointing at anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Command {
    NewJob,
    OpenJob,
    OpenDemo,
    SaveJob,
    SaveJobAs,
    AddMeshes,
    WriteVectors,
    Quit,
    Undo,
    Redo,
    Copy,
    Cut,
    Paste,
    Duplicate,
    Delete,
    SelectAll,
    SelectNone,
    ReplaceMesh,
    ReloadMeshes,
    Lower,
    OnContact(OnContact),
    Nest,
    NestSelected,
    Compact,
    Cage,
    LayerUp,
    LayerDown,
    TenLayersUp,
    TenLayersDown,
    FirstLayer,
    LastLayer,
    Play,
    NextMark,
    PreviousMark,
    Fit,
    Fill(View),
    Measure,
    SwapInk,
    /// A picture of a view as it is in sight, or of the whole window.
    Picture(Option<View>),
    /// The layer at the cursor as a drawing to scale.
    Drawing,
    ZoomIn,
    ZoomOut,
    ZoomBack,
    Search,
    Retry,
    Stop,
    Shortcuts,
    About,
}

fn with(modifiers: Modifiers, key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(modifiers, key)
}

fn bare(key: Key) -> KeyboardShortcut {
    with(Modifiers::NONE, key)
}

fn shift(key: Key) -> KeyboardShortcut {
    with(Modifiers::SHIFT, key)
}

fn ctrl(key: Key) -> KeyboardShortcut {
    with(Modifiers::COMMAND, key)
}

fn ctrl_shift(key: Key) -> KeyboardShortcut {
    with(Modifiers::COMMAND | Modifiers::SHIFT, key)
}

/// Where the menu lists a command.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Group {
    Job,
    Edit,
    Nesting,
    Layer,
    Sheet,
    /// Within [`Self::Sheet`].
    Pictures,
    /// Within [`Self::Sheet`].
    Zoom,
    Help,
}

impl Group {
    /// All of them, one within another after it.
    pub(crate) const ALL: [Self; 8] = [
        Self::Job,
        Self::Edit,
        Self::Nesting,
        Self::Layer,
        Self::Sheet,
        Self::Pictures,
        Self::Zoom,
        Self::Help,
    ];

    /// The menu that a group is a menu of, if it does not stand in the strip itself.
    pub(crate) fn within(self) -> Option<Self> {
        match self {
            Self::Pictures | Self::Zoom => Some(Self::Sheet),
            Self::Job | Self::Edit | Self::Nesting | Self::Layer | Self::Sheet | Self::Help => None,
        }
    }

    /// Title of the menu.
    pub(crate) fn title(self) -> &'static str {
        match self {
            Self::Job => "Job",
            Self::Edit => "Edit",
            Self::Nesting => "Nest",
            Self::Layer => "Layer",
            Self::Sheet => "Sheet",
            Self::Pictures => "Pictures",
            Self::Zoom => "Size of everything",
            Self::Help => "Help",
        }
    }
}

/// Every command, in the order of the menus.
pub(crate) const COMMANDS: [Command; 57] = {
    use Command as C;
    [
        C::NewJob,
        C::OpenJob,
        C::OpenDemo,
        C::AddMeshes,
        C::SaveJob,
        C::SaveJobAs,
        C::WriteVectors,
        C::Quit,
        C::Undo,
        C::Redo,
        C::Copy,
        C::Cut,
        C::Paste,
        C::Duplicate,
        C::Delete,
        C::SelectAll,
        C::SelectNone,
        C::ReplaceMesh,
        C::ReloadMeshes,
        C::Lower,
        C::OnContact(OnContact::Pass),
        C::OnContact(OnContact::Stop),
        C::OnContact(OnContact::Push),
        C::Nest,
        C::NestSelected,
        C::Compact,
        C::Cage,
        C::LayerUp,
        C::LayerDown,
        C::TenLayersUp,
        C::TenLayersDown,
        C::FirstLayer,
        C::LastLayer,
        C::Play,
        C::NextMark,
        C::PreviousMark,
        C::Fit,
        C::Fill(View::Plan),
        C::Fill(View::Chamber),
        C::Fill(View::Elevation),
        C::Fill(View::Trace),
        C::Measure,
        C::SwapInk,
        C::Picture(Some(View::Plan)),
        C::Picture(Some(View::Chamber)),
        C::Picture(Some(View::Elevation)),
        C::Picture(Some(View::Trace)),
        C::Picture(None),
        C::Drawing,
        C::ZoomIn,
        C::ZoomOut,
        C::ZoomBack,
        C::Search,
        C::Retry,
        C::Stop,
        C::Shortcuts,
        C::About,
    ]
};

/// What menu, search and keyboard must know of a command.
pub(crate) struct Info {
    /// What it is called.
    pub(crate) name: &'static str,
    /// In which menu it stands.
    pub(crate) group: Group,
    /// Its key, if it has one.
    pub(crate) key: Option<KeyboardShortcut>,
}

impl Command {
    /// Name, menu and key.
    pub(crate) fn info(self) -> Info {
        let (name, group, key) = self.entry();
        Info { name, group, key }
    }

    fn entry(self) -> (&'static str, Group, Option<KeyboardShortcut>) {
        match self {
            Self::NewJob => ("New job", Job, Some(ctrl(Key::N))),
            Self::OpenJob => ("Open a job…", Job, Some(ctrl(Key::O))),
            Self::OpenDemo => ("Open the demo job", Job, None),
            Self::AddMeshes => ("Add meshes…", Job, Some(ctrl(Key::M))),
            Self::SaveJob => ("Save", Job, Some(ctrl(Key::S))),
            Self::SaveJobAs => ("Save as…", Job, Some(ctrl_shift(Key::S))),
            Self::WriteVectors => ("Write and verify the vector file", Job, Some(ctrl(Key::Enter))),
            Self::Quit => ("Close the window", Job, Some(ctrl(Key::Q))),
            Self::Undo => ("Undo", Edit, Some(ctrl(Key::Z))),
            Self::Redo => ("Redo", Edit, Some(ctrl_shift(Key::Z))),
            Self::Copy => ("Copy", Edit, Some(ctrl(Key::C))),
            Self::Cut => ("Cut", Edit, Some(ctrl(Key::X))),
            Self::Paste => ("Paste", Edit, Some(ctrl(Key::V))),
            Self::Duplicate => ("Duplicate", Edit, Some(ctrl(Key::D))),
            Self::Delete => ("Delete", Edit, Some(bare(Key::Delete))),
            Self::SelectAll => ("Select all", Edit, Some(ctrl(Key::A))),
            Self::SelectNone => ("Select nothing", Edit, Some(ctrl_shift(Key::A))),
            Self::ReplaceMesh => ("Replace mesh…", Edit, None),
            Self::ReloadMeshes => ("Read changed meshes again", Edit, Some(ctrl(Key::R))),
            Self::Lower => ("Lower onto what is below", Edit, Some(bare(Key::PageDown))),
            Self::OnContact(OnContact::Pass) => ("On contact: pass through", Edit, None),
            Self::OnContact(OnContact::Stop) => {
                ("On contact: stop, keep the clearance", Edit, None)
            }
            Self::OnContact(OnContact::Push) => ("On contact: push aside", Edit, None),
            Self::Nest => ("Nest all", Nesting, None),
            Self::NestSelected => ("Nest the selected parts", Nesting, None),
            Self::Compact => ("Move closer together", Nesting, None),
            Self::Cage => ("Cage the selected parts", Nesting, None),
            Self::LayerUp => ("One layer up", Layer, Some(bare(Key::ArrowUp))),
            Self::LayerDown => ("One layer down", Layer, Some(bare(Key::ArrowDown))),
            Self::TenLayersUp => ("Ten layers up", Layer, Some(shift(Key::ArrowUp))),
            Self::TenLayersDown => ("Ten layers down", Layer, Some(shift(Key::ArrowDown))),
            Self::FirstLayer => ("First layer", Layer, Some(bare(Key::Home))),
            Self::LastLayer => ("Last layer", Layer, Some(bare(Key::End))),
            Self::Play => ("Run or halt the beam", Layer, Some(bare(Key::Space))),
            Self::NextMark => ("Next mark", Layer, Some(bare(Key::ArrowRight))),
            Self::PreviousMark => ("Previous mark", Layer, Some(bare(Key::ArrowLeft))),
            Self::Fit => ("Fit", Sheet, Some(bare(Key::F))),
            Self::Fill(View::Plan) => ("Plan fills the sheet", Sheet, Some(ctrl(Key::Num1))),
            Self::Fill(View::Chamber) => ("Chamber fills the sheet", Sheet, Some(ctrl(Key::Num2))),
            Self::Fill(View::Elevation) => {
                ("Elevation fills the sheet", Sheet, Some(ctrl(Key::Num3)))
            }
            Self::Fill(View::Trace) => ("Trace fills the sheet", Sheet, Some(ctrl(Key::Num4))),
            Self::Measure => ("Measure in the plan", Sheet, Some(bare(Key::M))),
            Self::SwapInk => ("Paper or blueprint", Sheet, Some(ctrl(Key::B))),
            Self::Picture(Some(View::Plan)) => ("Picture of the plan…", Pictures, None),
            Self::Picture(Some(View::Chamber)) => ("Picture of the chamber…", Pictures, None),
            Self::Picture(Some(View::Elevation)) => ("Picture of the elevation…", Pictures, None),
            Self::Picture(Some(View::Trace)) => ("Picture of the trace…", Pictures, None),
            Self::Picture(None) => ("Picture of the whole window…", Pictures, None),
            Self::Drawing => ("Layer as a drawing to scale (SVG)…", Pictures, None),
            Self::ZoomIn => ("Everything larger", Zoom, Some(ctrl(Key::Plus))),
            Self::ZoomOut => ("Everything smaller", Zoom, Some(ctrl(Key::Minus))),
            Self::ZoomBack => ("Everything as large as usual", Zoom, Some(ctrl(Key::Num0))),
            Self::Search => ("Search commands and fields…", Sheet, Some(ctrl(Key::K))),
            Self::Retry => ("Try again what failed or was cancelled", Sheet, None),
            Self::Stop => {
                ("Cancel: drag, question, nesting, writing", Sheet, Some(bare(Key::Escape)))
            }
            Self::Shortcuts => ("Keys…", Help, Some(bare(Key::F1))),
            Self::About => ("About Hatchwright…", Help, None),
        }
    }

    /// Whether it can be carried out at present.
    pub(crate) fn is_possible(self, model: &Model) -> bool {
        let document = model.document.as_ref();
        match self {
            Self::Undo => document.is_some_and(|d| d.undo_label().is_some()),
            Self::Redo => document.is_some_and(|d| d.redo_label().is_some()),
            Self::SaveJob
            | Self::SaveJobAs
            | Self::AddMeshes
            | Self::SelectAll
            | Self::Nest
            | Self::Compact
            | Self::Fit
            | Self::Measure
            | Self::Picture(_) => document.is_some(),
            Self::WriteVectors
            | Self::Drawing
            | Self::LayerUp
            | Self::LayerDown
            | Self::TenLayersUp
            | Self::TenLayersDown
            | Self::FirstLayer
            | Self::LastLayer
            | Self::Play
            | Self::NextMark
            | Self::PreviousMark => model.layer_count() > 0,
            Self::Copy
            | Self::Cut
            | Self::Duplicate
            | Self::Delete
            | Self::SelectNone
            | Self::ReplaceMesh
            | Self::Lower
            | Self::NestSelected
            | Self::Cage => !model.selection.is_empty(),
            Self::ReloadMeshes => !model.results.changed_meshes.is_empty(),
            Self::Retry => model.can_retry(),
            Self::NewJob
            | Self::OpenJob
            | Self::OpenDemo
            | Self::Quit
            | Self::Paste
            | Self::OnContact(_)
            | Self::Fill(_)
            | Self::SwapInk
            | Self::ZoomIn
            | Self::ZoomOut
            | Self::ZoomBack
            | Self::Search
            | Self::Stop
            | Self::Shortcuts
            | Self::About => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::{BTreeMap, BTreeSet};

    #[test]
    fn no_two_commands_share_a_key_or_a_name() {
        let (mut keys, mut names) = (BTreeMap::new(), BTreeSet::new());
        for command in COMMANDS {
            let info = command.info();
            assert!(names.insert(info.name), "{} is there twice", info.name);
            if let Some(key) = info.key {
                let shown = format!("{key:?}");
                if let Some(other) = keys.insert(shown.clone(), info.name) {
                    panic!("{shown} means both {other:?} and {:?}", info.name);
                }
            }
        }
    }

    #[test]
    fn the_list_holds_every_command_once() {
        let listed: std::collections::HashSet<Command> = COMMANDS.into_iter().collect();
        assert_eq!(listed.len(), COMMANDS.len());
    }
}
