//! The app with a clock beside it, for examples that measure.

use cpu_time::ThreadTime;
use eframe::egui;
use std::time::Instant;
use viewer::App;

/// What the last frame cost of our own code, ms.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Cost {
    /// By the clock.
    pub(crate) clock_ms: f64,
    /// Of the processor.
    pub(crate) processor_ms: f64,
}

/// The app, and what its last frame cost: collecting results, laying out strip, traveller and views, and making the
/// drawings' data.
pub(crate) struct Timed {
    pub(crate) app: App,
    pub(crate) last: Cost,
    logic: Cost,
}

impl Timed {
    pub(crate) fn new(app: App) -> Self {
        Self { app, last: Cost::default(), logic: Cost::default() }
    }
}

fn timed(work: impl FnOnce()) -> Cost {
    let (clock, processor) = (Instant::now(), ThreadTime::now());
    work();
    let processor_ms = processor.elapsed().as_secs_f64() * 1e3;
    Cost { clock_ms: clock.elapsed().as_secs_f64() * 1e3, processor_ms }
}

impl eframe::App for Timed {
    fn logic(&mut self, ctx: &egui::Context, frame: &mut eframe::Frame) {
        self.logic = timed(|| self.app.logic(ctx, frame));
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        let cost = timed(|| self.app.ui(ui, frame));
        self.last = Cost {
            clock_ms: cost.clock_ms + self.logic.clock_ms,
            processor_ms: cost.processor_ms + self.logic.processor_ms,
        };
    }
}
