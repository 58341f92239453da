//! The hand's thread: one gesture after another, the newest wish first.

use super::carrying::{Carrying, Found, Scene, Wish};
use base::Progress;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};

/// What the thread is to do next: begin a gesture, answer a wish, or both.
struct Order {
    gesture: u64,
    begin: Option<(Scene, Progress)>,
    wish: Option<(u64, Wish)>,
}

/// What came of a wish.
pub(super) struct Answer {
    pub(super) gesture: u64,
    /// Number of the wish.
    pub(super) number: u64,
    /// `None` if the thread panicked.
    pub(super) found: Option<Found>,
}

/// See the module. The thread ends with this.
pub(super) struct Worker {
    orders: Option<SyncSender<Order>>,
    answers: Receiver<Answer>,
    waiting: Option<Order>,
}

impl Worker {
    /// Starts the thread; `wake` is called when there is an answer.
    pub(super) fn new(wake: impl Fn() + Send + 'static) -> Self {
        let (orders, to_do) = sync_channel::<Order>(1);
        let (done, answers) = sync_channel::<Answer>(64);
        let work = move || {
            let mut now: Option<(Carrying, Progress)> = None;
            while let Ok(order) = to_do.recv() {
                let (gesture, number) = (order.gesture, order.wish.as_ref().map(|wish| wish.0));
                let found = catch_unwind(AssertUnwindSafe(|| carry_out(order, &mut now)));
                let found = if let Ok(found) = found {
                    found
                } else {
                    now = None; // a bug must not take the next gesture with it
                    Some(None)
                };
                if let (Some(found), Some(number)) = (found, number)
                    && done.send(Answer { gesture, number, found }).is_err()
                {
                    return;
                }
                wake();
            }
        };
        let thread = std::thread::Builder::new().name("moved by hand".to_owned()).spawn(work);
        Self { orders: thread.is_ok().then_some(orders), answers, waiting: None }
    }

    /// Whether there is a thread.
    pub(super) fn works(&self) -> bool {
        self.orders.is_some()
    }

    /// Begins a gesture; whatever waits of the last one is forgotten.
    pub(super) fn begin(&mut self, gesture: u64, scene: Scene, progress: Progress) {
        self.waiting = Some(Order { gesture, begin: Some((scene, progress)), wish: None });
        self.hand_out();
    }

    /// Asks for something; an older wish that still waits is forgotten.
    pub(super) fn wish(&mut self, gesture: u64, number: u64, wish: Wish) {
        match &mut self.waiting {
            Some(order) if order.gesture == gesture => order.wish = Some((number, wish)),
            _ => self.waiting = Some(Order { gesture, begin: None, wish: Some((number, wish)) }),
        }
        self.hand_out();
    }

    /// The answers that have come. Never waits.
    pub(super) fn answers(&mut self) -> Vec<Answer> {
        self.hand_out();
        self.answers.try_iter().collect()
    }

    fn hand_out(&mut self) {
        let (Some(orders), Some(order)) = (&self.orders, self.waiting.take()) else { return };
        if let Err(TrySendError::Full(order)) = orders.try_send(order) {
            self.waiting = Some(order);
        }
    }
}

/// `None` if there is nothing to tell: no wish, or one that was called off.
#[expect(clippy::option_option, reason = "an answer that may be a failure, or none at all")]
fn carry_out(order: Order, now: &mut Option<(Carrying, Progress)>) -> Option<Option<Found>> {
    if let Some((scene, progress)) = order.begin {
        let last = now.take().map(|(carrying, _)| carrying);
        *now = Some((Carrying::new(scene, last), progress));
    }
    let (carrying, progress) = now.as_mut()?;
    let (_, wish) = order.wish?;
    let found = carrying.answer(wish, progress).ok()?;
    Some(Some(found))
}
