//! The only place where the window starts threads.
//!
//! A panic on one of them becomes a sentence, work that the person waits for goes first, and long
//! work has thread pools of its own, so that short work never queues behind it.

use base::{Cancelled, Progress};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

/// How work gets on beside other work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Priority {
    /// The person waits for it: patient work pauses meanwhile.
    Urgent,
    /// Anything else that is short, or waits for a disk or for the person.
    Normal,
    /// Reads or writes a small file; the program does not end before it is done.
    File,
    /// Goes through the whole build to keep the sheet up to date: on a pool of its own.
    Patient,
    /// Goes through the whole build for what the person asked for: on a pool of its own.
    Output,
    /// Takes every core for minutes: on a pool of its own.
    Search,
}

/// Work ended in a panic: a sentence for the person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Crash(pub(crate) String);

/// See the module. Clones share everything.
#[derive(Clone)]
pub(crate) struct Threads(Arc<Shared>);

struct Shared {
    /// Called whenever there is something new to look at.
    wake: Box<dyn Fn() + Send + Sync>,
    /// How many urgent threads run, and how many that the end of the program waits for.
    urgent: AtomicUsize,
    files: AtomicUsize,
    /// `None` where the system started no threads for a pool: then the common one has to do.
    patient: OnceLock<Option<ThreadPool>>,
    output: OnceLock<Option<ThreadPool>>,
    search: OnceLock<Option<ThreadPool>>,
    crashes: Mutex<Vec<String>>,
}

impl Threads {
    /// Threads that call `wake` whenever there is something new to look at.
    pub(crate) fn new(wake: impl Fn() + Send + Sync + 'static) -> Self {
        Self(Arc::new(Shared {
            wake: Box::new(wake),
            urgent: AtomicUsize::new(0),
            files: AtomicUsize::new(0),
            patient: OnceLock::new(),
            output: OnceLock::new(),
            search: OnceLock::new(),
            crashes: Mutex::default(),
        }))
    }

    /// Lets the window look.
    pub(super) fn wake(&self) {
        (self.0.wake)();
    }

    /// Does some work on a new thread. The work itself catches its panics, with [`Self::guarded`].
    ///
    /// # Errors
    /// If the system starts no thread; then nothing is done.
    pub(super) fn start(
        &self,
        label: &str,
        priority: Priority,
        work: impl FnOnce() + Send + 'static,
    ) -> Result<(), Crash> {
        let counted = self.count(priority);
        let threads = self.clone();
        let work = move || {
            match threads.pool(priority) {
                Some(pool) => pool.install(work),
                None => work(),
            }
            drop(counted);
        };
        let started = std::thread::Builder::new().name(label.to_owned()).spawn(work);
        started
            .map(drop)
            .map_err(|error| Crash(format!("The system started no thread for this: {error}.")))
    }

    /// Makes a panic of `work` a sentence.
    pub(super) fn guarded<R>(label: &str, work: impl FnOnce() -> R) -> Result<R, Crash> {
        let outcome = catch_unwind(AssertUnwindSafe(work));
        outcome.map_err(|panic| Crash(crash_sentence(label, panic.as_ref())))
    }

    /// Keeps a crash until the window tells the person.
    pub(super) fn note(&self, crash: &Crash) {
        let mut crashes = self.0.crashes.lock().unwrap_or_else(PoisonError::into_inner);
        crashes.push(crash.0.clone());
    }

    /// Crashes that nobody has told the person yet.
    pub(crate) fn take_crashes(&self) -> Vec<String> {
        std::mem::take(&mut self.0.crashes.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Waits until small files are written, at most for so long: for the end of the program.
    pub(crate) fn finish_files(&self, at_most: Duration) {
        let began = Instant::now();
        while self.0.files.load(Relaxed) > 0 && began.elapsed() < at_most {
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    fn pool(&self, priority: Priority) -> Option<&ThreadPool> {
        let pool = match priority {
            Priority::Urgent | Priority::Normal | Priority::File => return None,
            Priority::Patient => &self.0.patient,
            Priority::Output => &self.0.output,
            Priority::Search => &self.0.search,
        };
        // As many threads as the common pool has, and never one alone: the two searches of nesting
        // run at the same time.
        let count = rayon::current_num_threads().max(2);
        let name = move |index| format!("{priority:?} {index}").to_lowercase();
        let build = || ThreadPoolBuilder::new().num_threads(count).thread_name(name).build().ok();
        pool.get_or_init(build).as_ref()
    }

    fn count(&self, priority: Priority) -> Option<Counted> {
        let which: fn(&Shared) -> &AtomicUsize = match priority {
            Priority::Urgent => |shared| &shared.urgent,
            Priority::File => |shared| &shared.files,
            Priority::Normal | Priority::Patient | Priority::Output | Priority::Search => {
                return None;
            }
        };
        which(&self.0).fetch_add(1, Relaxed);
        Some(Counted(Arc::clone(&self.0), which))
    }
}

/// Counts a thread while it runs.
struct Counted(Arc<Shared>, fn(&Shared) -> &AtomicUsize);

impl Drop for Counted {
    fn drop(&mut self) {
        (self.1)(&self.0).fetch_sub(1, Relaxed);
    }
}

/// What work on a background thread has at hand. There is none on the window's thread, so that what
/// asks for it cannot be called there.
pub(crate) struct Background {
    /// Advance it, and ask it whether to go on.
    pub(crate) progress: Progress,
    pub(super) threads: Threads,
}

impl Background {
    /// Lets work that the person waits for go first.
    ///
    /// # Errors
    /// If this work was cancelled meanwhile.
    pub(crate) fn give_way(&self) -> Result<(), Cancelled> {
        while self.threads.0.urgent.load(Relaxed) > 0 {
            self.progress.check()?;
            std::thread::sleep(Duration::from_millis(2));
        }
        self.progress.check()
    }

    /// Does two things at the same time, if a thread is free.
    #[expect(clippy::unused_self, reason = "only who is in the background may wait for a pool")]
    pub(crate) fn join<A: Send, B: Send>(
        &self,
        a: impl FnOnce() -> A + Send,
        b: impl FnOnce() -> B + Send,
    ) -> (A, B) {
        rayon::join(a, b)
    }
}

fn crash_sentence(label: &str, panic: &(dyn Any + Send)) -> String {
    let said = panic.downcast_ref::<&str>().map(ToString::to_string);
    let said = said.or_else(|| panic.downcast_ref::<String>().cloned());
    format!(
        "“{label}” crashed ({}). The job is untouched; save it, and please report this.",
        said.unwrap_or_else(|| "without a message".to_owned())
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::sync_channel;

    /// What kept the window waiting for 20 s: a search that holds all threads of the pool.
    #[test]
    fn short_work_does_not_queue_behind_a_search() {
        let threads = Threads::new(|| {});
        let (end, searching) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
        let (stop, started) = (Arc::clone(&end), Arc::clone(&searching));
        let search = move || {
            rayon::broadcast(|_| {
                started.fetch_add(1, Relaxed);
                while stop.load(Relaxed) == 0 {
                    std::thread::yield_now();
                }
            });
        };
        threads.start("search", Priority::Search, search).unwrap();
        while searching.load(Relaxed) < rayon::current_num_threads().max(2) {
            std::thread::yield_now(); // until it holds every thread of its pool
        }
        let (sender, receiver) = sync_channel(3);
        for priority in [Priority::Urgent, Priority::Patient, Priority::Output] {
            let sender = sender.clone();
            let work = move || sender.send(rayon::join(|| 1, || 2)).unwrap();
            threads.start("short", priority, work).unwrap();
        }
        assert_eq!([(); 3].map(|()| receiver.recv()), [Ok((1, 2)); 3]);
        end.store(1, Relaxed);
    }

    #[test]
    fn the_end_of_the_program_waits_for_small_files() {
        let threads = Threads::new(|| {});
        let (open, gate) = sync_channel::<()>(1);
        let written = Arc::new(AtomicUsize::new(0));
        let done = Arc::clone(&written);
        let write = move || {
            gate.recv().unwrap();
            done.store(1, Relaxed);
        };
        threads.start("write", Priority::File, write).unwrap();
        threads.finish_files(Duration::from_millis(5));
        assert_eq!(written.load(Relaxed), 0, "it does not wait for ever");
        open.send(()).unwrap();
        threads.finish_files(Duration::from_mins(4));
        assert_eq!(written.load(Relaxed), 1);
    }
}
