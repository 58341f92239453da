//! Progress and cancellation, shared between one worker and its observers.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};

/// Returned when the user cancelled. Not a failure: callers stay quiet about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("cancelled")]
pub struct Cancelled;

/// Cheap clonable handle: workers advance it, observers read it or cancel it.
#[derive(Clone, Debug, Default)]
pub struct Progress(Arc<State>);

#[derive(Debug, Default)]
struct State {
    cancelled: AtomicBool, // advisory, hence `Relaxed`
    done: AtomicU64,
    total: AtomicU64,
    /// The handle of which this is a stage.
    whole: Option<Progress>,
}

impl Progress {
    /// A handle for one stage of the work: steps count for both, and cancelling the whole cancels
    /// the stage, but not the other way round. So a stage may end early, and the work go on.
    #[must_use]
    pub fn stage(&self) -> Self {
        Self(Arc::new(State { whole: Some(self.clone()), ..State::default() }))
    }

    /// Announces `steps` more steps of work.
    pub fn add_total(&self, steps: u64) {
        self.0.total.fetch_add(steps, Relaxed);
        if let Some(whole) = &self.0.whole {
            whole.add_total(steps);
        }
    }

    /// Credits `steps` finished steps.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Self::cancel`] was called; bail out with `?`.
    pub fn advance(&self, steps: u64) -> Result<(), Cancelled> {
        self.0.done.fetch_add(steps, Relaxed);
        if let Some(whole) = &self.0.whole {
            whole.advance(steps)?;
        }
        self.check()
    }

    /// Asks whether to go on, without crediting anything.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Self::cancel`] was called.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.0.cancelled.load(Relaxed) {
            return Err(Cancelled);
        }
        self.0.whole.as_ref().map_or(Ok(()), Self::check)
    }

    /// Requests cancellation. Callable from any thread, idempotent.
    pub fn cancel(&self) {
        self.0.cancelled.store(true, Relaxed);
    }

    /// Steps done and steps announced so far.
    pub fn steps(&self) -> (u64, u64) {
        (self.0.done.load(Relaxed), self.0.total.load(Relaxed))
    }

    /// Finished fraction in `0.0..=1.0`; `0.0` while nothing was announced.
    pub fn fraction(&self) -> f64 {
        let (done, total) = self.steps();
        if total == 0 { 0.0 } else { (done as f64 / total as f64).min(1.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fraction_rises_and_cancel_is_seen_by_every_clone() {
        let progress = Progress::default();
        assert!(progress.fraction() <= 0.0);
        progress.add_total(4);
        assert_eq!(progress.advance(1), Ok(()));
        assert!((progress.fraction() - 0.25).abs() < 1e-6);
        progress.clone().cancel();
        assert_eq!(progress.advance(1), Err(Cancelled));
        assert_eq!(progress.check(), Err(Cancelled));
        assert_eq!(progress.steps(), (2, 4));
    }

    #[test]
    fn a_stage_ends_with_the_whole_but_not_the_whole_with_a_stage() {
        let whole = Progress::default();
        let (one, two) = (whole.stage(), whole.stage());
        one.add_total(2);
        assert_eq!(one.advance(1), Ok(()));
        assert_eq!(whole.steps(), (1, 2));
        one.cancel();
        assert_eq!((one.check(), one.advance(1)), (Err(Cancelled), Err(Cancelled)));
        assert_eq!((two.check(), whole.check()), (Ok(()), Ok(())));
        whole.cancel();
        assert_eq!(two.check(), Err(Cancelled));
    }
}
