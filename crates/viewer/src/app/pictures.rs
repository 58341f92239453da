//! Pictures of what is in sight, and the layer at the cursor as a drawing.

use super::App;
use super::picture::Wanted;
use crate::state::document::Document;
use crate::state::layout::View;
use crate::work::pictures;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{Context as Task, Outcome};
use egui::{Context, Rect, ScreenshotCallback, ViewportCommand};
use std::path::PathBuf;
use std::sync::{Arc, PoisonError};

impl App {
    /// What a picture of a view is called unless the person says otherwise: beside the vector file.
    pub(super) fn picture_path(&self, of: &str, extension: &str) -> PathBuf {
        let beside = self.model.output_path().unwrap_or_default();
        let job = beside.file_stem().unwrap_or_default().to_string_lossy();
        let layer = self.model.cursor.layer;
        beside.with_file_name(format!("{job}_{of}_layer_{layer}.{extension}"))
    }

    /// Takes a picture of a view, or of the whole window, in a frame in which no question stands before it.
    pub(super) fn save_picture(&mut self, view: Option<View>, path: PathBuf) {
        let full = self.settings.layout.full;
        if let Some(hidden) = view.filter(|view| full.is_some_and(|full| full != *view)) {
            let name = hidden.title().0;
            return self
                .say(format!("No picture: {name} is not in sight. Go back to all views first."));
        }
        self.pictures.wanted = Some(Wanted { view, path });
    }

    /// Saves the layer at the cursor as it would be written, with its jumps if the plan shows them.
    pub(super) fn save_drawing(&mut self, path: PathBuf) {
        let Some((shown, false)) = self.model.shown_layer() else {
            return self.say("The layer is still being computed; save it in a moment.");
        };
        let (shown, jumps) = (Arc::clone(shown), self.views.plan.shows_jumps());
        let Some(inputs) = self.model.document.as_ref().map(Document::inputs) else {
            return;
        };
        let save = move |context: &Task| {
            pictures::save_drawing(&shown, jumps, &path, &inputs, context);
        };
        self.scheduler.start(TaskKind::Picture, "Saving the drawing", Outcome::Failed, save);
    }

    /// Asks the window for its picture, and hands on the one that has come; `places` are those of the views, points.
    pub(super) fn take_pictures(&mut self, ctx: &Context, places: &[(View, Rect)]) {
        let is_clear = self.prompts.is_empty() && !self.palette.is_open();
        if self.pictures.asked.is_none()
            && is_clear
            && let Some(Wanted { view, path }) = self.pictures.wanted.take()
        {
            let place = places.iter().find(|(of, _)| Some(*of) == view).map(|(_, rect)| *rect);
            let place = place.unwrap_or_else(|| ctx.content_rect());
            let scale = ctx.pixels_per_point();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "saturates"
            )]
            let pixels =
                |from: f32, to: f32| (from * scale).round() as usize..(to * scale).round() as usize;
            let cut = [pixels(place.left(), place.right()), pixels(place.top(), place.bottom())];
            self.pictures.asked = Some((cut, path));
            let (taken, wake) = (Arc::clone(&self.pictures.taken), ctx.clone());
            let take = ScreenshotCallback::new(move |image| {
                *taken.lock().unwrap_or_else(PoisonError::into_inner) = Some(image);
                wake.request_repaint();
            });
            ctx.send_viewport_cmd(ViewportCommand::Screenshot(take));
        }
        let taken = self.pictures.taken.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(image) = taken
            && let Some((cut, path)) = self.pictures.asked.take()
        {
            let document = self.model.document.as_ref();
            let inputs = document.map(Document::inputs).unwrap_or_default();
            let save = move |context: &Task| {
                pictures::save_picture(&image, cut, &path, &inputs, context);
            };
            self.scheduler.start(TaskKind::Picture, "Saving the picture", Outcome::Failed, save);
        }
    }
}
