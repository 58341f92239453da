//! The app: holds the model, shows strip, traveller and views, carries out what they ask for.

mod acting;
mod asking;
mod editing;
mod files;
mod keeping_up;
mod nesting;
mod palette;
pub(crate) mod run;
mod strip;

pub(crate) use files::file_name;

use crate::app::palette::Palette;
use crate::app::run::Start;
use crate::hand::Hand;
use crate::state::actions::Action;
use crate::state::commands;
use crate::state::layout::View;
use crate::state::model::{Cursor, Model};
use crate::state::results::Results;
use crate::state::settings::Settings;
use crate::state::stage::Stage;
use crate::views::traveller::Traveller;
use crate::views::{NumbersStrip, Views, numbers};
use crate::widgets::icons;
use crate::widgets::theme::{self, Ink};
use crate::widgets::thumbnails::Thumbnails;
use crate::work::recovery::{Orphan, Recovery};
use crate::work::scheduler::{Slot, Workshop};
use crate::work::tasks::Found;
use asking::Asking;
use eframe::CreationContext;
use egui::{Align, Frame, Margin, Rect, RichText, Ui, UiBuilder};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::time::Instant;

/// The window's whole state.
pub struct App {
    model: Model,
    workshop: Workshop<Found>,
    traveller: Traveller,
    views: Views,
    palette: Palette,
    settings: Settings,
    recovery: Option<Recovery>,
    orphans: Vec<Orphan>,
    messages: Vec<Message>,
    /// What waits for an answer before anything else, the last first.
    asking: Vec<Asking>,
    /// Whether the window is to close, changes or not.
    closing: bool,
    state_folder: Option<PathBuf>,
    type_paths: bool,
    /// When the document last changed, so that the survey waits for a pause.
    edited: Instant,
    seen_revision: u64,
    /// Revision and layer that were last asked of the workshop.
    computing: Option<(u64, u32)>,
    /// Whether the job has not been built since it was opened.
    just_opened: bool,
    /// Revision that nesting last made or started from: any other is the person's, and ends it.
    nesting_from: Option<u64>,
}

/// A sentence that waits to be dismissed.
#[derive(Clone, Debug, PartialEq)]
struct Message {
    sentence: String,
    /// Revision of which it says something: the next one makes it old.
    of: Option<u64>,
}

impl App {
    /// The window's content. `start` says what to open.
    pub fn new(cc: &CreationContext<'_>, start: Start) -> Self {
        let ctx = cc.egui_ctx.clone();
        let Start { open, state_folder, type_paths } = start;
        let settings = state_folder.as_deref().map(Settings::read).unwrap_or_default();
        let ink = Ink::of(settings.theme);
        theme::apply(&ctx, &ink);
        let gpu = cc.wgpu_render_state.as_ref();
        let model = Model {
            document: None,
            results: Results::default(),
            cursor: Cursor::default(),
            selection: BTreeSet::new(),
            stage: Stage::default(),
            hand: Hand::new(settings.on_contact),
            attention_mm: None,
            even_area: false,
            cage: crate::state::model::CageShape::default(),
            thumbnails: Thumbnails::new(gpu),
            ink,
        };
        let mut app = Self {
            model,
            workshop: Workshop::new(move || ctx.request_repaint()),
            traveller: Traveller::default(),
            views: Views::new(gpu),
            palette: Palette::default(),
            orphans: state_folder.as_deref().map(Recovery::orphans).unwrap_or_default(),
            recovery: state_folder.as_deref().map(Recovery::new),
            settings,
            messages: Vec::new(),
            asking: Vec::new(),
            closing: false,
            state_folder,
            type_paths,
            edited: Instant::now(),
            seen_revision: 0,
            computing: None,
            just_opened: false,
            nesting_from: None,
        };
        match open {
            Some(path) if files::is_mesh(&path) => app.add_meshes(&[path]),
            Some(path) => app.open(path),
            None => {}
        }
        app
    }

    /// Whether nothing runs that would change what is shown: for tests and screenshots.
    pub fn is_settled(&self) -> bool {
        self.workshop.running().is_empty()
            && self.wants_nothing()
            && self.views.all().iter().all(|view| view.is_ready())
            && !self.model.hand.is_waiting()
    }
}

impl eframe::App for App {
    fn logic(&mut self, ctx: &egui::Context, _frame: &mut eframe::Frame) {
        self.collect();
        self.model.take_answers();
        if crate::widgets::field::is_at_rest(ctx)
            && self.nesting_from.is_none() // its arrangements are one step together
            && !self.model.hand.is_active()
            && let Some(document) = &mut self.model.document
        {
            document.end_gesture();
        }
        self.keep_up(ctx);
        self.model.set_stage();
        self.run_beam(ctx);
        self.autosave(ctx);
        self.guard_closing(ctx);
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        let mut actions: Vec<Action> = Vec::new();
        let ctx = ui.ctx().clone();
        let mut pressed = commands::pressed(&ctx, !self.asking.is_empty());
        self.call_off_drag(&mut pressed);
        actions.extend(pressed.into_iter().map(Action::Command));
        let dropped = ctx.input(|input| input.raw.dropped_files.clone());
        Self::take_dropped(&dropped, &mut actions);

        let mut thumbnails = std::mem::take(&mut self.model.thumbnails);
        thumbnails.keep_up(
            &self.model,
            &self.views.chamber.drawable_meshes(),
            ctx.pixels_per_point(),
        );
        self.model.thumbnails = thumbnails;
        let ink = self.model.ink;
        let mut cancel: Option<Slot> = None;
        egui::Panel::top("title strip")
            .frame(Frame::new().fill(ink.desk).inner_margin(Margin::symmetric(8, 2)))
            .exact_size(32.0)
            .show(ui, |ui| {
                let recent = &self.settings.recent;
                let running = self.workshop.running();
                strip::show(ui, &self.model, recent, running, &mut actions, &mut cancel);
            });
        self.notices(ui);
        egui::CentralPanel::no_frame().frame(Frame::new().fill(ink.desk)).show(ui, |ui| {
            let whole = ui.max_rect();
            let places = self.settings.layout.divide(ui, whole, &ink);
            let inside = UiBuilder::new().max_rect(places.traveller);
            ui.scope_builder(inside, |ui| {
                ui.set_clip_rect(places.traveller);
                self.traveller.show(ui, &self.model, &mut actions);
            });
            for (view, rect) in places.views {
                self.view(ui, view, rect, &mut actions);
            }
        });
        self.palette.show(&ctx, &self.model, &mut actions);
        self.ask_question(&ctx, &mut actions);
        if let Some(slot) = cancel {
            self.call_off(&slot);
        }
        for action in actions {
            self.carry_out(action, &ctx);
        }
    }

    fn on_exit(&mut self) {
        self.workshop.cancel_all();
        if let Some(folder) = &self.state_folder {
            self.settings.write(folder);
        }
        if let Some(recovery) = &mut self.recovery {
            recovery.clear(); // closed on purpose: saved, or given up
        }
    }
}

/// Height of the title row of a view, points.
const TITLE_ROW: f32 = 24.0;

impl App {
    /// Says something until it is dismissed.
    fn tell(&mut self, sentence: impl Into<String>) {
        self.messages.push(Message { sentence: sentence.into(), of: None });
    }

    /// Says something about the job as it is now, until it is dismissed or the job changes.
    fn say(&mut self, sentence: impl Into<String>) {
        let message = Message { sentence: sentence.into(), of: Some(self.model.revision()) };
        if !self.messages.contains(&message) {
            self.messages.push(message);
        }
    }

    fn drop_old_messages(&mut self) {
        let now = self.model.revision();
        self.messages.retain(|message| message.of.is_none_or(|of| of == now));
    }

    /// One view in its frame, with its title.
    fn view(&mut self, ui: &mut Ui, view: View, rect: Rect, actions: &mut Vec<Action>) {
        let ink = self.model.ink;
        ui.painter().rect_filled(rect, 0.0, ink.sheet);
        let (title, rest) = rect.split_top_bottom_at_y(rect.top() + TITLE_ROW);
        ui.scope_builder(UiBuilder::new().max_rect(title.shrink2(egui::vec2(8.0, 0.0))), |ui| {
            ui.horizontal_centered(|ui| {
                let (name, what) = view.title();
                ui.label(RichText::new(name).size(theme::HEADING));
                ui.add(
                    egui::Label::new(RichText::new(what).size(theme::CAPTION).color(ink.soft))
                        .truncate(),
                );
                ui.with_layout(egui::Layout::right_to_left(Align::Center), |ui| {
                    let full = self.settings.layout.full == Some(view);
                    let (icon, does) = if full {
                        (icons::Icon::Shrink, "Back to all views")
                    } else {
                        (icons::Icon::Grow, "Fill the sheet")
                    };
                    let name = format!("{does}: {name}");
                    if icons::button(ui, icon, &name, true, &ink).clicked() {
                        actions.push(Action::Command(commands::Command::Fill(view)));
                    }
                });
            });
        });
        let mut rest = rest;
        let has_strip = match self.views.get(view).numbers_strip() {
            NumbersStrip::WhenAlone => self.settings.layout.full == Some(view),
            NumbersStrip::Own | NumbersStrip::Never => false,
        };
        if has_strip && self.model.document.is_some() {
            let strip;
            (rest, strip) = rest.split_top_bottom_at_y(rest.bottom() - numbers::HEIGHT);
            numbers::show(ui, strip, &self.model, true, actions);
        }
        ui.scope_builder(UiBuilder::new().max_rect(rest).id_salt(title_id(view)), |ui| {
            ui.set_clip_rect(rest);
            self.views.get_mut(view).show(ui, &self.model, actions);
        });
    }

    /// Things to know or decide, above the sheet until they are dealt with.
    fn notices(&mut self, ui: &mut Ui) {
        let ink = self.model.ink;
        let bar = |id: String| {
            egui::Panel::top(id)
                .frame(Frame::new().fill(ink.accent_tint).inner_margin(Margin::symmetric(10, 5)))
        };
        let mut dismissed = None;
        for (index, message) in self.messages.iter().enumerate() {
            bar(format!("message {index}")).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    if icons::button(ui, icons::Icon::Close, "Dismiss", true, &ink).clicked() {
                        dismissed = Some(index);
                    }
                    ui.label(&message.sentence);
                });
            });
        }
        if let Some(index) = dismissed {
            self.messages.remove(index);
        }
        let mut decided = None;
        if let Some(orphan) = self.orphans.first() {
            bar("recovery".to_owned()).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    ui.label(format!(
                        "The job “{}” was not saved when its window ended.",
                        orphan.name()
                    ));
                    if ui.button("Take it up again").clicked() {
                        decided = Some(true);
                    }
                    if ui.button("Throw it away").clicked() {
                        decided = Some(false);
                    }
                });
            });
        }
        if let Some(wanted) = decided {
            self.settle_orphan(wanted);
        }
    }
}

fn title_id(view: View) -> egui::Id {
    egui::Id::unique(("view", view))
}

/// What tests and scripts ask of a window beside its accessible names.
impl App {
    /// Marks of the layer that is shown; 0 while none is.
    pub fn shown_marks(&self) -> usize {
        let shown = self.model.shown_layer().filter(|(_, stale)| !stale);
        let moves = shown.map_or(&[][..], |(shown, _)| shown.timeline.moves());
        moves.iter().filter(|step| step.kind == scan_path::MoveKind::Mark).count()
    }

    /// The layer at the cursor.
    pub fn shown_layer(&self) -> u32 {
        self.model.cursor.layer
    }

    /// Where a copy of a part stands.
    pub fn placement(&self, part: usize, copy: usize) -> Option<job::Placement> {
        self.model.content()?.job.parts.get(part)?.placements.get(copy).copied()
    }

    /// Copies that are chosen: part, copy.
    pub fn chosen_copies(&self) -> Vec<(usize, usize)> {
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
        self.add_meshes(paths);
    }

    /// Copies unsaved changes at once, without waiting for the pause.
    pub fn keep_for_recovery(&mut self) {
        if let (Some(recovery), Some(document)) = (&mut self.recovery, &self.model.document) {
            recovery.keep_now(document);
        }
    }
}
