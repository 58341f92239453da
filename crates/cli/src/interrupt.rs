//! Ctrl-C, and the signals that end a program: the work at hand is cancelled, so that it leaves nothing half
//! written, and the verb ends.

use crate::console::error;
use base::Progress;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Mutex, PoisonError};

/// As shells have it: 128 + SIGINT.
pub(crate) const EXIT_CODE: u8 = 130;

/// The work at hand.
static CURRENT: Mutex<Option<Progress>> = Mutex::new(None);

/// Whether anybody asked.
static ASKED: AtomicBool = AtomicBool::new(false);

/// Listens from now on: the first signal cancels the work at hand, the next one ends the program, as does the
/// first where no work is at hand.
pub(crate) fn listen() {
    let cancel = || {
        let current = CURRENT.lock().unwrap_or_else(PoisonError::into_inner).clone();
        ASKED.store(true, Relaxed);
        match current.filter(|progress| progress.check().is_ok()) {
            Some(progress) => {
                progress.cancel();
                error("stopping, and keeping what is whole (again to leave at once)");
            }
            None => std::process::exit(EXIT_CODE.into()),
        }
    };
    // Where no handler can be set, signals end the program as they always do.
    ctrlc::set_handler(cancel).ok();
}

/// Makes this the work at hand, until the next.
pub(crate) fn watch(progress: &Progress) {
    *CURRENT.lock().unwrap_or_else(PoisonError::into_inner) = Some(progress.clone());
}

/// Whether a signal came.
pub(crate) fn was_asked() -> bool {
    ASKED.load(Relaxed)
}
