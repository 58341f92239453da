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
/// first where no work is at hand. Under `nohup` nothing changes: the handler would take up the signal that
/// the person wants ignored. What a signal then leaves behind, the next run clears.
pub(crate) fn listen() {
    if is_hangup_ignored() {
        return;
    }
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

/// Whether the program was started with SIGHUP ignored, as far as the system tells (Linux: proc(5)).
fn is_hangup_ignored() -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).is_some_and(|m| m & 1 == 1)
}

/// Makes this the work at hand, until the next.
pub(crate) fn watch(progress: &Progress) {
    *CURRENT.lock().unwrap_or_else(PoisonError::into_inner) = Some(progress.clone());
}

/// Whether a signal came.
pub(crate) fn was_asked() -> bool {
    ASKED.load(Relaxed)
}
