//! Work beside the window: threads with progress, cancel, and a net under them.
//!
//! A task runs on a thread of its own and sends what it found; the window takes reports between
//! frames and never waits. A task that panics becomes a message.

use base::Progress;
use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::{Duration, Instant};

/// What a task is for. Of each there is one at a time, but for meshes.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Slot {
    /// Opens a job.
    Open,
    /// Reads one mesh.
    Mesh,
    /// Build and layer of the present revision.
    Compute,
    /// Layers beside the one that is shown.
    Prefetch,
    /// Sums over all layers.
    Survey,
    /// Proves clearances and that every part can be taken out.
    Clearance,
    /// Arranges parts.
    Nest,
    /// Writes the vector file and proves it.
    Write,
    /// Waits for a file dialog.
    Dialog,
}

/// A running task, as the title strip shows it.
pub(crate) struct Running {
    id: u64,
    /// What it is for.
    pub(crate) slot: Slot,
    /// What it is doing, for the person.
    pub(crate) label: String,
    /// How far it is; also cancels it.
    pub(crate) progress: Progress,
    /// When it was started.
    pub(crate) started: Instant,
    /// Whether it was asked to end with what it has.
    pub(crate) is_ending: bool,
}

enum Report<T> {
    Found(u64, T),
    Ended(u64),
    Crashed(u64, String),
}

/// What a task can do beside computing.
pub(crate) struct Desk<T> {
    id: u64,
    sender: SyncSender<Report<T>>,
    wake: Arc<dyn Fn() + Send + Sync>,
    urgent: Arc<AtomicUsize>,
    /// Advance it, and ask it whether to go on.
    pub(crate) progress: Progress,
}

impl<T> Desk<T> {
    /// Hands something to the window.
    pub(crate) fn send(&self, found: T) {
        // A closed window takes no more reports; the task will end by itself.
        let _ = self.sender.send(Report::Found(self.id, found));
        (self.wake)();
    }

    /// Lets tasks that the person waits for go first.
    ///
    /// # Errors
    /// If the task was cancelled meanwhile.
    pub(crate) fn give_way(&self) -> Result<(), base::Cancelled> {
        while self.urgent.load(Relaxed) > 0 {
            self.progress.check()?;
            std::thread::sleep(Duration::from_millis(2));
        }
        self.progress.check()
    }
}

/// Reports that may wait for the window; a task with more to say waits until it looks.
const REPORTS: usize = 256;

/// Starts tasks and collects what they found.
pub(crate) struct Workshop<T> {
    sender: SyncSender<Report<T>>,
    receiver: Receiver<Report<T>>,
    wake: Arc<dyn Fn() + Send + Sync>,
    urgent: Arc<AtomicUsize>,
    running: Vec<Running>,
    next_id: u64,
}

impl<T: Send + 'static> Workshop<T> {
    /// A workshop that calls `wake` whenever there is something to collect.
    pub(crate) fn new(wake: impl Fn() + Send + Sync + 'static) -> Self {
        let (sender, receiver) = sync_channel(REPORTS);
        let urgent = Arc::default();
        Self { sender, receiver, wake: Arc::new(wake), urgent, running: Vec::new(), next_id: 0 }
    }

    /// Starts a task. Whatever ran in the same slot is cancelled, and what it still sends is lost;
    /// tasks in [`Slot::Mesh`] run side by side.
    pub(crate) fn start(
        &mut self,
        slot: Slot,
        label: impl Into<String>,
        task: impl FnOnce(&Desk<T>) + Send + 'static,
    ) {
        if slot != Slot::Mesh {
            self.cancel(&slot);
        }
        let (id, label) = (self.next_id, label.into());
        self.next_id += 1;
        let progress = Progress::default();
        let urgent = (slot == Slot::Compute).then(|| Urgent::new(&self.urgent));
        self.running.push(Running {
            id,
            slot,
            label: label.clone(),
            progress: progress.clone(),
            started: Instant::now(),
            is_ending: false,
        });
        let (sender, wake) = (self.sender.clone(), Arc::clone(&self.wake));
        let desk = Desk { id, sender, wake, urgent: Arc::clone(&self.urgent), progress };
        let spawned = std::thread::Builder::new().name(label.clone()).spawn(move || {
            let outcome = catch_unwind(AssertUnwindSafe(|| task(&desk)));
            drop(urgent);
            let report = match outcome {
                Ok(()) => Report::Ended(id),
                Err(panic) => Report::Crashed(id, crash_message(&label, panic.as_ref())),
            };
            let _ = desk.sender.send(report);
            (desk.wake)();
        });
        if let Err(error) = spawned {
            let message = format!("The system started no thread for this: {error}.");
            let _ = self.sender.send(Report::Crashed(id, message));
        }
    }

    /// Cancels what runs in a slot and forgets it; what it still sends is lost.
    pub(crate) fn cancel(&mut self, slot: &Slot) {
        for task in self.running.extract_if(.., |task| task.slot == *slot) {
            task.progress.cancel();
        }
    }

    /// Asks what runs in a slot to end, and still takes what it sends; asked again, it is cancelled.
    pub(crate) fn wind_up(&mut self, slot: &Slot, label: &str) {
        match self.running.iter_mut().find(|task| task.slot == *slot) {
            Some(task) if !task.is_ending => {
                task.progress.cancel();
                task.is_ending = true;
                label.clone_into(&mut task.label);
            }
            _ => self.cancel(slot),
        }
    }

    /// Cancels everything.
    pub(crate) fn cancel_all(&mut self) {
        for task in self.running.drain(..) {
            task.progress.cancel();
        }
    }

    /// What runs in a slot.
    pub(crate) fn running_in(&self, slot: &Slot) -> Option<&Running> {
        self.running.iter().find(|task| task.slot == *slot)
    }

    /// Everything that runs.
    pub(crate) fn running(&self) -> &[Running] {
        &self.running
    }

    /// What was found since the last call, and messages of tasks that crashed. Never waits.
    pub(crate) fn collect(&mut self) -> (Vec<T>, Vec<String>) {
        let (mut found, mut crashes) = (Vec::new(), Vec::new());
        while let Ok(report) = self.receiver.try_recv() {
            let known = |id| self.running.iter().position(|task| task.id == id);
            match report {
                Report::Found(id, value) if known(id).is_some() => found.push(value),
                Report::Found(..) => {}
                Report::Ended(id) => {
                    known(id).map(|at| self.running.remove(at));
                }
                Report::Crashed(id, message) => {
                    if let Some(at) = known(id) {
                        self.running.remove(at);
                        crashes.push(message);
                    }
                }
            }
        }
        (found, crashes)
    }
}

impl<T> Drop for Workshop<T> {
    fn drop(&mut self) {
        for task in &self.running {
            task.progress.cancel();
        }
    }
}

/// Counts the tasks that the person waits for.
struct Urgent(Arc<AtomicUsize>);

impl Urgent {
    fn new(count: &Arc<AtomicUsize>) -> Self {
        count.fetch_add(1, Relaxed);
        Self(Arc::clone(count))
    }
}

impl Drop for Urgent {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Relaxed);
    }
}

fn crash_message(label: &str, panic: &(dyn Any + Send)) -> String {
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

    /// Collects until nothing runs any more.
    fn all<T: Send + 'static>(workshop: &mut Workshop<T>) -> (Vec<T>, Vec<String>) {
        let (mut found, mut crashes) = (Vec::new(), Vec::new());
        while !workshop.running().is_empty() {
            let (f, c) = workshop.collect();
            found.extend(f);
            crashes.extend(c);
            std::thread::yield_now();
        }
        (found, crashes)
    }

    #[test]
    fn a_crash_is_a_message_and_the_next_task_runs() {
        let mut workshop = Workshop::<u32>::new(|| {});
        workshop.start(Slot::Write, "Writing", |_| panic!("no more room"));
        let (found, crashes) = all(&mut workshop);
        assert!(found.is_empty());
        assert!(crashes[0].contains("Writing") && crashes[0].contains("no more room"));
        workshop.start(Slot::Write, "Writing", |desk| desk.send(7));
        assert_eq!(all(&mut workshop), (vec![7], vec![]));
    }

    #[test]
    fn the_latest_wins_and_nothing_comes_from_a_cancelled_task() {
        let mut workshop = Workshop::<u32>::new(|| {});
        workshop.start(Slot::Survey, "first", |desk| {
            while desk.progress.check().is_ok() {
                std::thread::yield_now();
            }
            desk.send(1);
        });
        workshop.start(Slot::Survey, "second", |desk| desk.send(2));
        assert_eq!(all(&mut workshop).0, [2]);
    }

    #[test]
    fn what_is_asked_to_end_still_says_what_it_has() {
        let mut workshop = Workshop::<u32>::new(|| {});
        workshop.start(Slot::Nest, "searching", |desk| {
            while desk.progress.check().is_ok() {
                std::thread::yield_now();
            }
            desk.send(1);
        });
        workshop.wind_up(&Slot::Nest, "ending");
        assert_eq!(workshop.running()[0].label, "ending");
        assert_eq!(all(&mut workshop).0, [1]);
    }

    #[test]
    fn background_work_gives_way_to_what_the_person_waits_for() {
        let mut workshop = Workshop::<&str>::new(|| {});
        let (open, gate) = sync_channel::<()>(1);
        workshop.start(Slot::Compute, "compute", move |desk| {
            let _ = gate.recv();
            desk.send("layer");
        });
        workshop.start(Slot::Survey, "survey", |desk| {
            if desk.give_way().is_ok() {
                desk.send("survey");
            }
        });
        std::thread::sleep(Duration::from_millis(20));
        assert!(workshop.collect().0.is_empty());
        let _ = open.send(());
        assert_eq!(all(&mut workshop).0, ["layer", "survey"]);
    }
}
