//! What tests of the whole window share.

use egui_kittest::Harness;
use std::time::{Duration, Instant};
use viewer::App;

/// Lets the window work until nothing runs that would change what it shows.
pub(crate) fn settle(harness: &mut Harness<'_, App>) {
    let started = Instant::now();
    loop {
        harness.step();
        if harness.state().is_settled() {
            break;
        }
        assert!(started.elapsed() < Duration::from_mins(4), "the window does not settle");
        std::thread::sleep(Duration::from_millis(10));
    }
    harness.run_steps(3);
}
