//! What tasks there are, and how those of a kind go together.

use crate::work::threads::Priority;

/// What a task is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum TaskKind {
    /// Reads what is kept from session to session.
    Startup,
    /// Opens a job.
    Open,
    /// Reads a recipe or a machine, or looks whether files are there.
    Read,
    /// Reads one mesh.
    Mesh,
    /// Build and layer of the present revision.
    Compute,
    /// Layers beside the one that is shown.
    Prefetch,
    /// Sums over all layers.
    Survey,
    /// Proves clearances and that every part can be taken out.
    Clearance,
    /// Looks at the shapes of meshes.
    Shapes,
    /// Arranges parts.
    Nest,
    /// Writes the vector file and verifies it.
    Write,
    /// Saves a job, a recipe or a machine.
    Save,
    /// Saves a picture or a drawing.
    Picture,
    /// Takes away copies that nobody needs any more.
    Tidy,
    /// Waits for a file dialog.
    Dialog,
}

/// What happens to a task while another of its kind runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum WhenBusy {
    /// The running one is cancelled: the newest request wins.
    Replace,
    /// Both run.
    Beside,
    /// It waits for its turn; none is dropped.
    Queue,
}

impl TaskKind {
    /// How it gets on beside other work.
    pub(super) fn priority(self) -> Priority {
        match self {
            Self::Compute => Priority::Urgent,
            Self::Startup
            | Self::Open
            | Self::Read
            | Self::Mesh
            | Self::Prefetch
            | Self::Dialog => Priority::Normal,
            Self::Save | Self::Picture | Self::Tidy => Priority::File,
            Self::Survey | Self::Clearance | Self::Shapes => Priority::Patient,
            Self::Write => Priority::Output,
            Self::Nest => Priority::Search,
        }
    }

    /// What happens to it while another of its kind runs.
    pub(super) fn when_busy(self) -> WhenBusy {
        match self {
            Self::Mesh => WhenBusy::Beside,
            Self::Save | Self::Picture | Self::Tidy | Self::Read => WhenBusy::Queue,
            Self::Startup
            | Self::Open
            | Self::Compute
            | Self::Prefetch
            | Self::Survey
            | Self::Clearance
            | Self::Shapes
            | Self::Nest
            | Self::Write
            | Self::Dialog => WhenBusy::Replace,
        }
    }
}
