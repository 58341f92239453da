//! Work in the background: everything that takes longer than a frame, or touches a file.
//!
//! ```text
//! Threads (panics, priorities, pools) ─┬─ Scheduler: the app's tasks, with progress and cancel
//!                                      └─ Latest: one thing at a time for a view or a drag
//! ```
//!
//! Nothing else in the window starts a thread, uses a thread pool, or reads or writes a file.

pub(crate) mod cage;
pub(crate) mod dialog;
pub(crate) mod drag;
pub(crate) mod drag_solver;
pub(crate) mod files;
mod kinds;
pub(crate) mod latest;
pub(crate) mod own_files;
pub(crate) mod pictures;
pub(crate) mod recovery;
pub(crate) mod saved;
pub(crate) mod saving;
pub(crate) mod scheduler;
pub(crate) mod tasks;
pub(crate) mod threads;
pub(crate) mod watch;
