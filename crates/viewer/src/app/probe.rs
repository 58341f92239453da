//! What tests and scripts ask of a window beside its accessible names.

use super::App;
use crate::state::layout::View;
use base::PlacementId;
use std::path::PathBuf;

impl App {
    /// Marks of the layer that is shown; 0 while none is.
    pub fn shown_marks(&self) -> usize {
        let shown = self.model.shown_layer().filter(|(_, stale)| !stale);
        let moves = shown.map_or(&[][..], |(shown, _)| shown.timeline.moves());
        moves.iter().filter(|step| step.kind == motion::MoveKind::Mark).count()
    }

    /// Whether the plan draws the dose of the layer at the cursor as the job is now, and whether the
    /// predicted outline is that of this layer, too.
    pub fn shows_dose(&self) -> [bool; 2] {
        self.views.plan.shows_dose(&self.model)
    }

    /// The layer at the cursor.
    pub fn shown_layer(&self) -> u32 {
        self.model.cursor.layer
    }

    /// Where a copy of a part stands.
    pub fn placement(&self, part: usize, copy: usize) -> Option<job::Placement> {
        self.model.content()?.placement(PlacementId { part, copy }).copied()
    }

    /// Copies that are selected: part, copy.
    pub fn selected_copies(&self) -> Vec<(usize, usize)> {
        self.model.selection.iter().map(|at| (at.part, at.copy)).collect()
    }

    /// What undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        self.model.document.as_ref()?.undo_label()
    }

    /// Where a point of the build space, mm, is on the screen in the chamber, the elevation, and the
    /// plan, as they were last drawn.
    pub fn on_screen(&self, at_mm: [f64; 3]) -> [Option<egui::Pos2>; 3] {
        [View::Chamber, View::Elevation, View::Plan]
            .map(|view| self.views.get(view).on_screen(at_mm))
    }

    /// What the window is called.
    pub fn window_title(&self) -> &str {
        &self.title
    }

    /// Placements of the job.
    pub fn placement_count(&self) -> usize {
        self.model.placements().count()
    }

    /// Opens a job, as if its file had been dropped.
    pub fn open_job(&mut self, path: PathBuf) {
        self.open(path);
    }

    /// Adds mesh files, as if they had been dropped.
    pub fn add_mesh_files(&mut self, paths: &[PathBuf]) {
        self.add_meshes(paths.to_owned());
    }

    /// Copies unsaved changes in the background, without waiting for the pause.
    pub fn keep_for_recovery(&mut self) {
        if let (Some(recovery), Some(document)) = (&mut self.recovery, &self.model.document) {
            recovery.keep_now(document);
        }
    }
}
