//! The drawings on the sheet, each behind the trait [`View`], and the traveller beside them.
//!
//! A view reads the model and returns actions; what it keeps for itself is only how it looks at
//! things: zoom, direction, switches. No view knows another one: what several of them draw is in
//! `attention`, `dimensions`, `numbers`, `part_menu` and the widgets.

mod attention;
mod chamber;
mod dimensions;
mod elevation;
pub(crate) mod numbers;
mod part_menu;
mod plan;
mod trace;
pub(crate) mod traveller;
mod view;

use crate::state::layout;
use crate::work::threads::Threads;
use chamber::ChamberView;
use eframe::egui_wgpu::RenderState;
use elevation::ElevationView;
use plan::PlanView;
use trace::TraceView;
pub(crate) use view::View;

/// All views.
pub(crate) struct Views {
    pub(crate) plan: PlanView,
    pub(crate) chamber: ChamberView,
    elevation: ElevationView,
    trace: TraceView,
}

impl Views {
    /// Views that draw with this graphics device; those that need one say so where there is none.
    pub(crate) fn new(gpu: Option<&RenderState>, threads: &Threads) -> Self {
        Self {
            plan: PlanView::new(gpu, threads),
            chamber: ChamberView::new(gpu, threads),
            elevation: ElevationView::default(),
            trace: TraceView::new(threads),
        }
    }

    /// The view of a name.
    pub(crate) fn get(&self, which: layout::View) -> &dyn View {
        match which {
            layout::View::Plan => &self.plan,
            layout::View::Chamber => &self.chamber,
            layout::View::Elevation => &self.elevation,
            layout::View::Trace => &self.trace,
        }
    }

    /// The view of a name, to be changed.
    pub(crate) fn get_mut(&mut self, which: layout::View) -> &mut dyn View {
        match which {
            layout::View::Plan => &mut self.plan,
            layout::View::Chamber => &mut self.chamber,
            layout::View::Elevation => &mut self.elevation,
            layout::View::Trace => &mut self.trace,
        }
    }

    /// Lets every view show everything at the next frame.
    pub(crate) fn fit(&mut self) {
        for view in self.all_mut() {
            view.fit();
        }
    }

    /// All of them. (Taken apart by name, so that the compiler says which one was forgotten.)
    pub(crate) fn all(&self) -> [&dyn View; 4] {
        let Self { plan, chamber, elevation, trace } = self;
        [plan, chamber, elevation, trace]
    }

    /// All of them, to be changed.
    pub(crate) fn all_mut(&mut self) -> [&mut dyn View; 4] {
        let Self { plan, chamber, elevation, trace } = self;
        [plan, chamber, elevation, trace]
    }
}
