//! One computation after another for one asker: while one runs, the newest request waits, and
//! older ones that still wait are forgotten.
//!
//! Views keep one of these for each thing that they have made in the background, and look for
//! answers whenever they are drawn; they never wait.

use crate::work::threads::{Background, Crash, Priority, Threads};
use base::Progress;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

type Request<T> = Box<dyn FnOnce(&Background) -> Option<T> + Send>;

struct State<T> {
    waiting: Option<Request<T>>,
    is_running: bool,
    answers: Vec<Result<T, Crash>>,
}

/// See the module.
pub(crate) struct Latest<T> {
    threads: Threads,
    label: &'static str,
    priority: Priority,
    state: Arc<Mutex<State<T>>>,
    /// Of everything that is asked here: cancelled with this.
    progress: Progress,
}

impl<T> Drop for Latest<T> {
    fn drop(&mut self) {
        if self.priority != Priority::File {
            self.progress.cancel();
        }
    }
}

impl<T: Send + 'static> Latest<T> {
    /// Nothing is asked yet. The label says to the person what is being done, should it crash.
    pub(crate) fn new(threads: &Threads, label: &'static str, priority: Priority) -> Self {
        let state = State { waiting: None, is_running: false, answers: Vec::new() };
        let (state, progress) = (Arc::new(Mutex::new(state)), Progress::default());
        Self { threads: threads.clone(), label, priority, state, progress }
    }

    /// Asks for something. `None` is no answer: the work was cancelled.
    pub(crate) fn ask(&self, request: impl FnOnce(&Background) -> Option<T> + Send + 'static) {
        let mut state = lock(&self.state);
        state.waiting = Some(Box::new(request));
        if std::mem::replace(&mut state.is_running, true) {
            return; // the thread that runs takes it up
        }
        drop(state);
        let (state, label) = (Arc::clone(&self.state), self.label);
        let background =
            Background { progress: self.progress.clone(), threads: self.threads.clone() };
        let work = move || answer_all(&state, label, &background);
        if let Err(crash) = self.threads.start(label, self.priority, work) {
            self.threads.note(&crash);
            let mut state = lock(&self.state);
            state.answers.push(Err(crash));
            (state.waiting, state.is_running) = (None, false);
        }
    }

    /// The next answer that has come; the person is told of a crash by the window.
    pub(crate) fn take(&self) -> Option<Result<T, Crash>> {
        let mut state = lock(&self.state);
        (!state.answers.is_empty()).then(|| state.answers.remove(0))
    }

    /// Whether something is still being computed.
    pub(crate) fn is_busy(&self) -> bool {
        lock(&self.state).is_running
    }
}

/// Held for moments only, never while anything is computed.
fn lock<T>(state: &Mutex<State<T>>) -> MutexGuard<'_, State<T>> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

fn answer_all<T>(state: &Mutex<State<T>>, label: &str, background: &Background) {
    loop {
        let request = {
            let mut state = lock(state);
            let request = state.waiting.take();
            state.is_running = request.is_some();
            request
        };
        let Some(request) = request else { return };
        let answer = Threads::guarded(label, || request(background));
        if let Err(crash) = &answer {
            background.threads.note(crash);
        }
        lock(state).answers.extend(answer.transpose());
        background.threads.wake();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::sync_channel;

    fn latest() -> (Latest<u32>, Threads) {
        let threads = Threads::new(|| {});
        (Latest::new(&threads, "Counting", Priority::Normal), threads)
    }

    fn all(latest: &Latest<u32>) -> Vec<Result<u32, Crash>> {
        while latest.is_busy() {
            std::thread::yield_now();
        }
        std::iter::from_fn(|| latest.take()).collect()
    }

    #[test]
    fn what_runs_is_finished_and_of_what_waits_the_newest_wins() {
        let (latest, _) = latest();
        let (open, gate) = sync_channel::<()>(1);
        let (begin, begun) = sync_channel::<()>(1);
        latest.ask(move |_| {
            begin.send(()).ok();
            gate.recv().ok().map(|()| 1)
        });
        begun.recv().unwrap(); // else it would still wait, and the next one take its place
        latest.ask(|_| Some(2));
        latest.ask(|_| Some(3));
        open.send(()).unwrap();
        assert_eq!(all(&latest).last(), Some(&Ok(3)));
        latest.ask(|_| None);
        latest.ask(|_| Some(4));
        assert_eq!(all(&latest), [Ok(4)]);
    }

    #[test]
    fn a_crash_is_an_answer_and_a_message_and_the_next_request_is_taken() {
        let (latest, threads) = latest();
        latest.ask(|_| panic!("no more room"));
        let answers = all(&latest);
        let [Err(Crash(sentence))] = &answers[..] else { panic!("{answers:?}") };
        assert!(sentence.contains("Counting") && sentence.contains("no more room"));
        assert_eq!(threads.take_crashes(), [sentence.as_str()]);
        latest.ask(|_| Some(7));
        assert_eq!(all(&latest), [Ok(7)]);
    }

    #[test]
    fn nobody_asks_any_more_and_the_work_ends() {
        let (latest, _) = latest();
        let (sender, ended) = sync_channel(1);
        latest.ask(move |background| {
            while background.progress.check().is_ok() {
                std::thread::yield_now();
            }
            sender.send(()).ok().map(|()| 0)
        });
        drop(latest);
        assert_eq!(ended.recv(), Ok(()));
    }
}
