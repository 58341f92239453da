//! Results made on all threads at once and handed on one by one, in order.
//!
//! There is no barrier between windows: whoever finishes the run that is next hands on everything
//! that is ready behind it, while the other threads go on. What waits for its turn is bounded: a
//! thread that is too far ahead sleeps. The thread that makes the run that is next never sleeps,
//! hence no deadlock.

use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Runs per thread that may be made or wait for their turn.
const AHEAD: u32 = 4;

/// Calls `make(scratch, run)` for runs `0..count` on the threads of the current pool, and `take`
/// with every result in the order of the runs, never two at a time. Every thread has its own
/// scratch. Neither order nor results depend on the number of threads; a few results per thread
/// are held in memory.
///
/// # Errors
/// The first in the order of the runs, of `make` or of `take`; nothing is taken after it.
pub fn in_order<S: Default, T: Send, E: Send>(
    count: u32,
    make: impl Fn(&mut S, u32) -> Result<T, E> + Sync,
    take: impl FnMut(T) -> Result<(), E> + Send,
) -> Result<(), E> {
    let threads = u32::try_from(rayon::current_num_threads()).unwrap_or(u32::MAX);
    let ordered = Ordered {
        queue: Mutex::new(Queue { next: 0, ready: BTreeMap::new(), take, end: None }),
        changed: Condvar::new(),
        ahead: threads.saturating_mul(AHEAD),
    };
    let next = AtomicU32::new(0);
    (0..threads).into_par_iter().with_max_len(1).for_each(|_| {
        let _guard = WakeOnPanic(&ordered);
        let mut scratch = S::default();
        loop {
            let run = next.fetch_add(1, Relaxed);
            if run >= count || ordered.wait_for_room(run).is_break() {
                break;
            }
            if ordered.hand_on(run, make(&mut scratch, run)).is_break() {
                break;
            }
        }
    });
    match ordered.lock().end.take() {
        Some(End::Failed(error)) => Err(error),
        Some(End::Panicked) | None => Ok(()), // rayon has passed the panic on
    }
}

/// Results that came out of order wait here until it is their turn.
struct Ordered<T, E, F> {
    queue: Mutex<Queue<T, E, F>>,
    /// Told whenever `next` or `end` changes.
    changed: Condvar,
    ahead: u32,
}

struct Queue<T, E, F> {
    /// The run that is to be taken next.
    next: u32,
    /// Made, but not next.
    ready: BTreeMap<u32, Result<T, E>>,
    take: F,
    end: Option<End<E>>,
}

/// Why work stopped early.
enum End<E> {
    Failed(E),
    Panicked,
}

impl<T, E, F: FnMut(T) -> Result<(), E>> Ordered<T, E, F> {
    fn hand_on(&self, run: u32, result: Result<T, E>) -> ControlFlow<()> {
        let mut queue = self.lock();
        queue.ready.insert(run, result);
        while queue.end.is_none() {
            let next = queue.next;
            let Some(result) = queue.ready.remove(&next) else { break };
            queue.next += 1;
            let taken = result.and_then(|result| (queue.take)(result));
            queue.end = taken.err().map(End::Failed);
        }
        self.changed.notify_all();
        queue.end.as_ref().map_or(ControlFlow::Continue(()), |_| ControlFlow::Break(()))
    }
}

impl<T, E, F> Ordered<T, E, F> {
    fn lock(&self) -> MutexGuard<'_, Queue<T, E, F>> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Sleeps until `run` is not too far ahead of the one that is next.
    fn wait_for_room(&self, run: u32) -> ControlFlow<()> {
        let too_far = |queue: &mut Queue<T, E, F>| {
            queue.end.is_none() && run - queue.next.min(run) >= self.ahead
        };
        let woken = self.changed.wait_while(self.lock(), too_far);
        let queue = woken.unwrap_or_else(PoisonError::into_inner);
        queue.end.as_ref().map_or(ControlFlow::Continue(()), |_| ControlFlow::Break(()))
    }
}

/// Lets the others stop if a thread panics, instead of sleeping for ever.
struct WakeOnPanic<'a, T, E, F>(&'a Ordered<T, E, F>);

impl<T, E, F> Drop for WakeOnPanic<'_, T, E, F> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.lock().end.get_or_insert(End::Panicked);
            self.0.changed.notify_all();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;

    fn pool(threads: usize) -> rayon::ThreadPool {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap()
    }

    /// Work whose length differs from run to run, without a clock.
    fn uneven(run: u32) -> u64 {
        (0..u64::from(run * 7919 % 64) * 1000).fold(u64::from(run), |a, b| a ^ a.rotate_left(7) ^ b)
    }

    #[test]
    fn results_come_in_order_and_are_bounded_for_any_number_of_threads() {
        for threads in [1, 2, 5] {
            let (made, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
            let mut taken = Vec::new();
            let done: Result<(), ()> = pool(threads).install(|| {
                in_order(
                    500,
                    |scratch: &mut u32, run| {
                        *scratch += 1;
                        most.fetch_max(made.fetch_add(1, Relaxed) + 1, Relaxed);
                        Ok((run, uneven(run)))
                    },
                    |result| {
                        made.fetch_sub(1, Relaxed);
                        taken.push(result);
                        Ok(())
                    },
                )
            });
            assert_eq!(done, Ok(()));
            assert!(taken.iter().copied().eq((0..500).map(|run| (run, uneven(run)))));
            assert!(most.into_inner() <= threads * AHEAD as usize);
        }
    }

    #[test]
    fn the_first_error_in_order_ends_it_whoever_makes_it() {
        for threads in [1, 2, 5] {
            let mut taken = 0;
            let made = pool(threads).install(|| {
                let make = |(): &mut (), run| if run % 100 == 42 { Err(run) } else { Ok(run) };
                in_order(500, make, |_| {
                    taken += 1;
                    Ok(())
                })
            });
            assert_eq!((made, taken), (Err(42), 42));
            let refused = pool(threads).install(|| {
                in_order(
                    500,
                    |(): &mut (), run| Ok(run),
                    |run| if run < 7 { Ok(()) } else { Err(run) },
                )
            });
            assert_eq!(refused, Err(7));
        }
    }

    #[test]
    fn a_panic_is_passed_on_and_nobody_sleeps_for_ever() {
        let caught = std::panic::catch_unwind(|| {
            pool(3).install(|| {
                let make =
                    |(): &mut (), run| if run == 0 { panic!("planted") } else { Ok::<_, ()>(run) };
                in_order(500, make, |_| Ok(()))
            })
        });
        assert!(caught.is_err());
    }
}
