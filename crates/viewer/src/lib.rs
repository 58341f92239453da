//! The window: plan, elevation, chamber and trace on one live sheet, beside the job's traveller.
//!
//! ```text
//!            ┌──────────── Action ◄───────────┐
//!            ▼                                │
//! Model ─► Document (edits, undo)   views, traveller, strip (read the model, return actions)
//!            │ revision                       ▲
//!            ▼                                │
//!         Scheduler (threads) ─► Results ─────┘
//! ```
//!
//! Views never change the model: they read it and return `Action`s, which the app
//! carries out after the frame. Nothing that takes longer than a frame runs on the window's thread,
//! and no file is touched there.
//!
//! `state` is plain data and imports nothing of the others; `work` computes in the background;
//! `widgets` are pieces of views; `views` draw; `app` ties all of them together.

mod app;
mod state;
mod views;
mod widgets;
mod work;

pub use app::run::{OpenError, library_folder, open, state_folder};
pub use app::{App, Start};
pub use work::files::demo_job;
