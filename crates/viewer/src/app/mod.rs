//! The app: holds the model, shows strip, traveller and views, carries out what they ask for.

mod acting;
mod adding;
mod borders;
mod choosing;
mod clipboard;
mod editing;
mod escape;
mod help;
mod keeping_up;
mod keys;
mod nesting;
mod opening;
mod palette;
mod picture;
mod pictures;
mod probe;
mod prompt;
mod prompts;
pub(crate) mod run;
mod safety;
mod saving;
mod shapes;
mod sheet;
mod start;
mod strip;
mod title;
mod writing;

use crate::app::palette::Palette;
pub use crate::app::start::Start;
use crate::state::actions::Action;
use crate::state::commands::Command;
use crate::state::content::Moved;
use crate::state::model::Model;
use crate::state::settings::Settings;
use crate::state::shapes::ShapeQuestion;
use crate::views::Views;
use crate::views::traveller::Traveller;
use crate::widgets::sought;
use crate::widgets::theme::{self, Ink};
use crate::work::drag::DragWorker;
use crate::work::files;
use crate::work::latest::Latest;
use crate::work::recovery::{Orphan, Recovery};
use crate::work::scheduler::{Scheduler, TaskKind};
use crate::work::tasks::Outcome;
use crate::work::threads::{Priority, Threads};
use crate::work::watch::MeshWatch;
use eframe::CreationContext;
use egui::{Frame, Margin, Ui, UiBuilder};
use picture::Pictures;
use prompt::{Closing, Prompt};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// The window's whole state.
#[expect(clippy::struct_excessive_bools, reason = "each is a fact of its own")]
pub struct App {
    model: Model,
    threads: Threads,
    scheduler: Scheduler<Outcome>,
    drag: DragWorker,
    watch: MeshWatch,
    traveller: Traveller,
    views: Views,
    palette: Palette,
    pictures: Pictures,
    /// What the window is called at present.
    title: String,
    settings: Settings,
    /// Whether the settings of the last session were read: else they are not to be written over.
    settings_known: bool,
    recovery: Option<Recovery>,
    orphans: Vec<Orphan>,
    messages: Vec<Message>,
    /// What waits for an answer before anything else, the last first.
    prompts: Vec<Prompt>,
    closing: Closing,
    /// Whether a field was typed into, or something dragged, when the last frame ended.
    field_in_hand: bool,
    state_folder: Option<PathBuf>,
    /// What the window was started with, until it is opened.
    to_open: Option<PathBuf>,
    /// Meshes to add to that, or to a new job.
    to_add: Vec<PathBuf>,
    type_paths: bool,
    /// Counts the documents that were shown.
    document_number: u64,
    /// When the document last changed, so that the survey waits for a pause.
    edited: Instant,
    seen_revision: u64,
    /// Revision and layer that were last asked of the scheduler.
    computing: Option<(u64, u32)>,
    /// Shapes that are being looked at.
    looking_at: Vec<ShapeQuestion>,
    /// Whether the job has not been built since it was opened.
    just_opened: bool,
    /// Revision that nesting last made or started from: any other is the person's, and ends it.
    nesting_from: Option<u64>,
    /// What saves did to names of files since the search began, which does not know of it.
    moved_while_nesting: Vec<Moved>,
    /// A document, by its number, that is to be saved once an earlier save is done: there, or where it belongs
    /// by then.
    save_next: Option<(u64, Option<PathBuf>)>,
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
        let Start { open, meshes, state_folder, type_paths } = start;
        let settings = Settings::default();
        let ink = Ink::of(settings.theme);
        theme::apply(&ctx, &ink);
        ctx.options_mut(|options| options.zoom_with_keyboard = false); // commands do that
        let gpu = cc.wgpu_render_state.as_ref();
        let threads = Threads::new(move || ctx.request_repaint());
        let mut scheduler = Scheduler::new(threads.clone());
        if let Some(folder) = state_folder.clone() {
            let failed = Outcome::NotStarted;
            scheduler.start(TaskKind::Startup, "Reading settings", failed, move |context| {
                context.send(Outcome::Started(Box::new(files::start_up(&folder))));
            });
        }
        let mut app = Self {
            model: Model::empty(ink),
            scheduler,
            drag: DragWorker::new(&threads),
            watch: MeshWatch::new(&threads),
            traveller: Traveller::new(gpu),
            views: Views::new(gpu, &threads),
            threads,
            palette: Palette::default(),
            pictures: Pictures::default(),
            title: String::new(),
            settings,
            settings_known: false,
            recovery: None,
            orphans: Vec::new(),
            messages: Vec::new(),
            prompts: Vec::new(),
            closing: Closing::default(),
            field_in_hand: false,
            state_folder,
            to_open: open,
            to_add: meshes,
            type_paths,
            document_number: 0,
            edited: Instant::now(),
            seen_revision: 0,
            computing: None,
            looking_at: Vec::new(),
            just_opened: false,
            nesting_from: None,
            moved_while_nesting: Vec::new(),
            save_next: None,
        };
        if app.state_folder.is_none() {
            app.open_first();
        }
        app
    }

    /// Whether nothing runs that would change what is shown: for tests and screenshots.
    pub fn is_settled(&self) -> bool {
        self.scheduler.running().is_empty()
            && self.wants_nothing()
            && self.views.all().iter().all(|view| view.is_ready())
            && !self.model.drag.is_waiting()
            && self.pictures.is_idle()
            && !self.recovery.as_ref().is_some_and(Recovery::is_busy)
    }
}

impl eframe::App for App {
    fn logic(&mut self, ctx: &egui::Context, _frame: &mut eframe::Frame) {
        self.collect(ctx);
        if crate::widgets::field::is_at_rest(ctx)
            && self.nesting_from.is_none() // its arrangements are one step together
            && !self.model.drag.is_active()
            && let Some(document) = &mut self.model.document
        {
            document.end_gesture();
        }
        self.keep_up(ctx);
        self.model.update_arrangement();
        let is_all = self.all_is_looked_at();
        self.model.sort_findings(is_all);
        self.run_beam(ctx);
        self.autosave(ctx);
        self.guard_closing(ctx);
        self.name_window(ctx);
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        let mut actions: Vec<Action> = Vec::new();
        let ctx = ui.ctx().clone();
        sought::forget(&ctx);
        let pressed = keys::pressed(&ctx, !self.prompts.is_empty());
        actions.extend(pressed.into_iter().map(Action::Command));
        let (pressed, pasted) = keys::of_clipboard(&ctx, !self.prompts.is_empty());
        actions.extend(pressed.into_iter().map(Action::Command));
        actions.extend(pasted.map(Action::Paste));
        if self.escape_is_ours(&ctx) {
            actions.push(Action::Command(Command::Stop));
        }
        let dropped = ctx.input(|input| input.raw.dropped_files.clone());
        Self::take_dropped(&dropped, &mut actions);

        let meshes = self.views.chamber.drawable_meshes();
        self.traveller.keep_up(&self.model, &meshes, ctx.pixels_per_point());
        let ink = self.model.ink;
        let mut cancel: Option<TaskKind> = None;
        egui::Panel::top("title strip")
            .frame(Frame::new().fill(ink.desk).inner_margin(Margin::symmetric(8, 2)))
            .exact_size(32.0)
            .show(ui, |ui| {
                let recent = &self.settings.recent;
                let running = self.scheduler.running();
                strip::show(ui, &self.model, recent, running, &mut actions, &mut cancel);
            });
        safety::show(ui, &ink);
        self.notices(ui);
        egui::CentralPanel::no_frame().frame(Frame::new().fill(ink.desk)).show(ui, |ui| {
            let whole = ui.max_rect();
            let places = borders::divide(&mut self.settings.layout, ui, whole, &ink);
            let inside = UiBuilder::new().max_rect(places.traveller);
            ui.scope_builder(inside, |ui| {
                ui.set_clip_rect(places.traveller);
                self.traveller.show(ui, &self.model, &mut actions);
            });
            for &(view, rect) in &places.views {
                self.view(ui, view, rect, &mut actions);
            }
            self.take_pictures(&ctx, &places.views);
        });
        self.palette.show(&ctx, &self.model, &mut actions);
        self.ask_question(&ctx, &mut actions);
        if let Some(kind) = cancel {
            self.cancel(kind);
        }
        for action in actions {
            self.carry_out(action, &ctx);
        }
        self.note_what_is_in_hand(&ctx);
    }

    fn on_exit(&mut self) {
        self.scheduler.cancel_all();
        if let Some(folder) = self.state_folder.clone().filter(|_| self.settings_known) {
            let settings = self.settings.clone();
            let writer = Latest::new(&self.threads, "Keeping settings", Priority::File);
            writer.ask(move |_| {
                files::write_settings(&settings, &folder);
                Some(())
            });
        }
        if let Some(recovery) = self.recovery.take() {
            recovery.end(); // closed on purpose: saved, or given up
        }
        // There are no frames any more to be kept waiting.
        self.threads.finish_files(LONGEST_END);
    }
}

/// A disk that takes longer than this to keep a small file does not hold the program up.
const LONGEST_END: Duration = Duration::from_secs(10);

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
}
