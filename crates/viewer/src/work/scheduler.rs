//! The window's tasks: what runs, how far it is, and what came of it.
//!
//! A task runs on a thread of its own and sends outcomes; the window takes them between frames and
//! never waits. A task that crashes sends the outcome that its starter named for that.

pub(crate) use crate::work::kinds::TaskKind;
use crate::work::kinds::WhenBusy;
use crate::work::threads::{Background, Threads};
use base::Progress;
use std::ops::Deref;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Instant;

/// A running task, as the title strip shows it.
pub(crate) struct Running {
    id: u64,
    /// What it is for.
    pub(crate) kind: TaskKind,
    /// What it is doing, in words for the person.
    pub(crate) label: String,
    /// How far it is; also cancels it.
    pub(crate) progress: Progress,
    /// When it was started.
    pub(crate) started: Instant,
    /// Whether it was asked to end with what it has.
    pub(crate) is_ending: bool,
}

enum Report<T> {
    Outcome(u64, T),
    Ended(u64, Option<T>),
}

/// What a task can do beside computing.
pub(crate) struct TaskContext<T> {
    id: u64,
    sender: SyncSender<Report<T>>,
    background: Background,
}

impl<T> TaskContext<T> {
    /// Hands something to the window.
    pub(crate) fn send(&self, outcome: T) {
        // A closed window takes no more reports; the task will end by itself.
        let _ = self.sender.send(Report::Outcome(self.id, outcome));
        self.background.threads.wake();
    }
}

impl<T> Deref for TaskContext<T> {
    type Target = Background;

    fn deref(&self) -> &Background {
        &self.background
    }
}

/// Reports that may wait for the window; a task with more to say waits until it looks.
const REPORTS: usize = 256;

/// Starts a task whose turn has come.
type Start<T> = Box<dyn FnOnce(&mut Scheduler<T>)>;

/// Starts tasks and collects what came of them.
pub(crate) struct Scheduler<T> {
    threads: Threads,
    sender: SyncSender<Report<T>>,
    receiver: Receiver<Report<T>>,
    running: Vec<Running>,
    /// Tasks that wait for their turn.
    waiting: Vec<(TaskKind, Start<T>)>,
    /// Of tasks that could not be started.
    failed: Vec<T>,
    next_id: u64,
}

impl<T: Send + 'static> Scheduler<T> {
    /// A scheduler of tasks on these threads.
    pub(crate) fn new(threads: Threads) -> Self {
        let (sender, receiver) = sync_channel(REPORTS);
        let (running, waiting, failed) = (Vec::new(), Vec::new(), Vec::new());
        Self { threads, sender, receiver, running, waiting, failed, next_id: 0 }
    }

    /// Starts a task, or lets it wait for its turn; see [`TaskKind`]. What a cancelled task still sends
    /// is lost. If the task crashes, `failed` makes an outcome of the sentence that says so.
    pub(crate) fn start(
        &mut self,
        kind: TaskKind,
        label: impl Into<String>,
        failed: impl FnOnce(String) -> T + Clone + Send + 'static,
        task: impl FnOnce(&TaskContext<T>) + Send + 'static,
    ) {
        let label = label.into();
        match kind.when_busy() {
            WhenBusy::Replace => self.cancel(kind),
            WhenBusy::Queue if self.running_in(kind).is_some() => {
                let start = move |scheduler: &mut Self| scheduler.run(kind, label, failed, task);
                return self.waiting.push((kind, Box::new(start)));
            }
            WhenBusy::Beside | WhenBusy::Queue => {}
        }
        self.run(kind, label, failed, task);
    }

    fn run(
        &mut self,
        kind: TaskKind,
        label: String,
        failed: impl FnOnce(String) -> T + Clone + Send + 'static,
        task: impl FnOnce(&TaskContext<T>) + Send + 'static,
    ) {
        let (id, progress, started) = (self.next_id, Progress::default(), Instant::now());
        self.next_id += 1;
        let background = Background { progress: progress.clone(), threads: self.threads.clone() };
        let context = TaskContext { id, sender: self.sender.clone(), background };
        let (name, crashed) = (label.clone(), failed.clone());
        let work = move || {
            let crash = Threads::guarded(&name, || task(&context)).err();
            // The window may be closed.
            let _ = context.sender.send(Report::Ended(id, crash.map(|crash| crashed(crash.0))));
            context.threads.wake();
        };
        match self.threads.start(&label, kind.priority(), work) {
            Ok(()) => {
                let is_ending = false;
                self.running.push(Running { id, kind, label, progress, started, is_ending });
            }
            Err(crash) => self.failed.push(failed(crash.0)),
        }
    }

    /// Cancels what runs of a kind and forgets it; what it still sends is lost.
    pub(crate) fn cancel(&mut self, kind: TaskKind) {
        for task in self.running.extract_if(.., |task| task.kind == kind) {
            task.progress.cancel();
        }
        self.waiting.retain(|(waiting, _)| *waiting != kind);
    }

    /// Asks what runs of a kind to end, and still takes what it sends; asked again, it is cancelled.
    pub(crate) fn finish_early(&mut self, kind: TaskKind, label: &str) {
        match self.running.iter_mut().find(|task| task.kind == kind) {
            Some(task) if !task.is_ending => {
                task.progress.cancel();
                task.is_ending = true;
                label.clone_into(&mut task.label);
            }
            _ => self.cancel(kind),
        }
    }

    /// Cancels everything.
    pub(crate) fn cancel_all(&mut self) {
        for task in self.running.drain(..) {
            task.progress.cancel();
        }
        self.waiting.clear();
    }

    /// What runs of a kind.
    pub(crate) fn running_in(&self, kind: TaskKind) -> Option<&Running> {
        self.running.iter().find(|task| task.kind == kind)
    }

    /// Everything that runs.
    pub(crate) fn running(&self) -> &[Running] {
        &self.running
    }

    /// What came of tasks since the last call. Never waits.
    pub(crate) fn collect(&mut self) -> Vec<T> {
        let mut outcomes = std::mem::take(&mut self.failed);
        while let Ok(report) = self.receiver.try_recv() {
            let known = |id| self.running.iter().position(|task| task.id == id);
            match report {
                Report::Outcome(id, outcome) => outcomes.extend(known(id).map(|_| outcome)),
                Report::Ended(id, failed) => {
                    if let Some(at) = known(id) {
                        let kind = self.running.remove(at).kind;
                        outcomes.extend(failed);
                        self.start_next(kind);
                    }
                }
            }
        }
        outcomes
    }

    fn start_next(&mut self, kind: TaskKind) {
        if let Some(at) = self.waiting.iter().position(|(waiting, _)| *waiting == kind) {
            let (_, start) = self.waiting.remove(at);
            start(self);
        }
    }
}

impl<T> Drop for Scheduler<T> {
    fn drop(&mut self) {
        for task in &self.running {
            task.progress.cancel();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    fn scheduler<T: Send + 'static>() -> Scheduler<T> {
        Scheduler::new(Threads::new(|| {}))
    }

    /// Collects until nothing runs any more.
    fn all<T: Send + 'static>(scheduler: &mut Scheduler<T>) -> Vec<T> {
        let mut outcomes = Vec::new();
        while !scheduler.running().is_empty() {
            outcomes.extend(scheduler.collect());
            std::thread::yield_now();
        }
        outcomes
    }

    fn until_cancelled<T>(context: &TaskContext<T>) {
        while context.progress.check().is_ok() {
            std::thread::yield_now();
        }
    }

    #[test]
    fn a_crash_is_an_outcome_and_the_next_task_runs() {
        let mut scheduler = scheduler::<String>();
        let failed = |why| format!("Not written: {why}");
        scheduler.start(TaskKind::Write, "Writing", failed, |_| panic!("no more room"));
        let outcomes = all(&mut scheduler);
        assert!(outcomes[0].starts_with("Not written: “Writing” crashed (no more room)"));
        scheduler.start(TaskKind::Write, "Writing", failed, |context| context.send("7".into()));
        assert_eq!(all(&mut scheduler), ["7"]);
    }

    #[test]
    fn the_latest_wins_and_nothing_comes_from_a_cancelled_task() {
        let mut scheduler = scheduler::<u32>();
        scheduler.start(
            TaskKind::Survey,
            "first",
            |_| 0,
            |context| {
                until_cancelled(context);
                context.send(1);
                panic!("after it was cancelled");
            },
        );
        scheduler.start(TaskKind::Survey, "second", |_| 0, |context| context.send(2));
        assert_eq!(all(&mut scheduler), [2]);
    }

    #[test]
    fn what_is_saved_is_saved_one_after_another_and_none_is_dropped() {
        let mut scheduler = scheduler::<u32>();
        let (open, gate) = sync_channel::<()>(1);
        scheduler.start(
            TaskKind::Save,
            "first",
            |_| 0,
            move |context| {
                let _ = gate.recv();
                context.send(1);
            },
        );
        for number in [2, 3] {
            scheduler.start(TaskKind::Save, "next", |_| 0, move |context| context.send(number));
        }
        assert_eq!(scheduler.running().len(), 1);
        let _ = open.send(());
        assert_eq!(all(&mut scheduler), [1, 2, 3]);
    }

    #[test]
    fn what_is_asked_to_end_still_says_what_it_has() {
        let mut scheduler = scheduler::<u32>();
        scheduler.start(
            TaskKind::Nest,
            "searching",
            |_| 0,
            |context| {
                until_cancelled(context);
                context.send(1);
            },
        );
        scheduler.finish_early(TaskKind::Nest, "ending");
        assert_eq!(scheduler.running()[0].label, "ending");
        assert_eq!(all(&mut scheduler), [1]);
    }

    #[test]
    fn patient_work_gives_way_to_what_the_person_waits_for() {
        let mut scheduler = scheduler::<&str>();
        let (open, gate) = sync_channel::<()>(1);
        scheduler.start(
            TaskKind::Compute,
            "compute",
            |_| "crash",
            move |context| {
                let _ = gate.recv();
                context.send("layer");
            },
        );
        scheduler.start(
            TaskKind::Survey,
            "survey",
            |_| "crash",
            |context| {
                if context.give_way().is_ok() {
                    context.send("survey");
                }
            },
        );
        std::thread::sleep(Duration::from_millis(20));
        assert!(scheduler.collect().is_empty());
        let _ = open.send(());
        assert_eq!(all(&mut scheduler), ["layer", "survey"]);
    }
}
