//! The window: plan, elevation, chamber and trace on one live sheet, beside the job's traveller.
//!
//! ```text
//!            ┌──────────── Action ◄───────────┐
//!            ▼                                │
//! Model ─► Document (edits, undo)   views, traveller, strip (read the model, return actions)
//!            │ revision                       ▲
//!            ▼                                │
//!         Workshop (threads) ─► Results ──────┘
//! ```
//!
//! Views never change the model: they read it and return `Action`s, which the app
//! carries out after the frame. Nothing that takes longer than a frame runs on the window's thread.

mod app;
mod hand;
mod state;
mod views;
mod widgets;
mod work;

pub use app::App;
pub use app::run::{OpenError, Start, demo_job, open, state_folder};
