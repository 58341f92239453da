//! When a search ends, and when what comes after it does.
//!
//! Three handles are cancelled, one after the other: that of what the search is compared with, that of the
//! search, and that of the last moves by exact distances. Shares of the time are set aside for the first and
//! the last, so that the whole keeps its time whatever the parts; what was reported until then is proven,
//! and stays.

use base::Progress;
use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Share of the time that is set aside, and the least and most of it, s. With less, what the search found
/// last is often lost; with more, the search is short.
const SET_ASIDE: f64 = 0.15;
const LEAST_SET_ASIDE_S: f64 = 0.3;
const MOST_SET_ASIDE_S: f64 = 5.0;

/// Most of the time that goes into what a search is compared with: a share, and seconds. For a few hundred
/// parts it takes hundredths of a second; thousands do without.
const COMPARING: f64 = 0.1;
const MOST_COMPARING_S: f64 = 2.0;

/// A search that is cancelled by the person has so long for its last moves, s: a program that answers later
/// seems to hang.
const AFTER_CANCEL_S: f64 = 1.5;

/// How often the clock is looked at.
const LOOK: Duration = Duration::from_millis(20);

/// What has to end by now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Due {
    comparing: bool,
    search: bool,
    closing: bool,
}

/// What has to end `elapsed_s` seconds after the start, with a limit of `limit_s` if there is one, if the person
/// cancelled at `cancelled_s`.
fn due(elapsed_s: f64, limit_s: Option<f64>, cancelled_s: Option<f64>) -> Due {
    let since_cancel = cancelled_s.map(|at| elapsed_s - at);
    let is_over = |at: f64| elapsed_s >= at;
    let search_ends = limit_s.map(|limit| limit - set_aside_s(limit));
    let compared = limit_s.map_or(MOST_COMPARING_S, |s| (COMPARING * s).min(MOST_COMPARING_S));
    Due {
        comparing: is_over(compared) || cancelled_s.is_some(),
        search: search_ends.is_some_and(is_over) || cancelled_s.is_some(),
        closing: limit_s.is_some_and(is_over) || since_cancel.is_some_and(|s| s >= AFTER_CANCEL_S),
    }
}

fn set_aside_s(limit_s: f64) -> f64 {
    (SET_ASIDE * limit_s).clamp(LEAST_SET_ASIDE_S, MOST_SET_ASIDE_S).min(0.5 * limit_s)
}

/// The handles of one search, cancelled by the clock and by the person.
pub(super) struct Schedule {
    /// Two stages of the person's handle.
    pub(super) comparing: Progress,
    pub(super) search: Progress,
    pub(super) closing: Progress,
    clock: Option<(SyncSender<()>, JoinHandle<()>)>,
}

impl Schedule {
    /// Starts the clock. `whole` is the person's handle. Where the system starts no thread for the clock, the
    /// search goes on until it converges or is cancelled, and then takes the time that it takes.
    pub(super) fn start(limit_s: Option<f64>, whole: &Progress) -> Self {
        let (comparing, search) = (whole.stage(), whole.stage());
        let closing = Progress::default();
        let (done, finished) = sync_channel::<()>(1);
        let whole = whole.clone();
        let own = [comparing.clone(), search.clone(), closing.clone()];
        let watch = move || {
            let start = Instant::now();
            let mut cancelled_s = None;
            while finished.recv_timeout(LOOK) == Err(RecvTimeoutError::Timeout) {
                let elapsed_s = start.elapsed().as_secs_f64();
                if whole.check().is_err() {
                    cancelled_s.get_or_insert(elapsed_s);
                }
                let due = due(elapsed_s, limit_s, cancelled_s);
                let ends = [due.comparing, due.search, due.closing];
                own.iter()
                    .zip(ends)
                    .filter(|(_, ends)| *ends)
                    .for_each(|(handle, _)| handle.cancel());
            }
        };
        let thread = std::thread::Builder::new().name("time limit".to_owned()).spawn(watch);
        Self { comparing, search, closing, clock: thread.ok().map(|thread| (done, thread)) }
    }
}

impl Drop for Schedule {
    fn drop(&mut self) {
        if let Some((done, thread)) = self.clock.take() {
            drop(done);
            thread.join().ok();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_moves_get_their_share_of_the_time() {
        let ends = |limit_s, cancelled_s| {
            let at = |what: fn(Due) -> bool| {
                (0..10_000)
                    .map(|n| 0.01 * f64::from(n))
                    .find(|s| what(due(*s, limit_s, cancelled_s)))
            };
            (at(|due| due.search), at(|due| due.closing))
        };
        let near = |found: (Option<f64>, Option<f64>), wanted: [f64; 2]| {
            let (Some(search), Some(closing)) = found else { return false };
            (search - wanted[0]).abs() < 0.02 && (closing - wanted[1]).abs() < 0.02
        };
        assert!(near(ends(Some(60.0), None), [55.0, 60.0]));
        assert!(near(ends(Some(10.0), None), [8.5, 10.0]));
        assert!(near(ends(Some(0.2), None), [0.1, 0.2]));
        assert_eq!(ends(None, None), (None, None));
        // Cancelled after two seconds: whatever the limit, at once and a little later.
        let due_at = |elapsed, limit| due(elapsed, limit, Some(2.0));
        for limit in [None, Some(60.0)] {
            assert_eq!(due_at(2.0, limit), Due { comparing: true, search: true, closing: false });
            assert_eq!(due_at(3.5, limit), Due { comparing: true, search: true, closing: true });
        }
    }
}
