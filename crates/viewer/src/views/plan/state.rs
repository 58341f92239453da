//! What the plan keeps from frame to frame: what is seen, what is drawn, the drag under way.

use super::canvas::Canvas;
use super::dose::DoseView;
use super::elements::Elements;
use super::measure::Measure;
use super::paint;
use super::preparing::Preparing;
use super::quantity::Quantity;
use crate::widgets::theme::Theme;
use crate::work::threads::Threads;
use eframe::egui_wgpu::RenderState;
use eframe::egui_wgpu::wgpu::DeviceType;
use render::plan::ColourScale;
use std::sync::Arc;

/// What a drag does.
#[derive(Default)]
pub(super) enum Dragging {
    #[default]
    Nothing,
    Pan,
    Measure,
    /// Moves what is selected: from where the pointer was pressed, nm.
    Move([f64; 2]),
}

impl Dragging {
    pub(super) fn is_nothing(&self) -> bool {
        match self {
            Self::Nothing => true,
            Self::Pan | Self::Measure | Self::Move(_) => false,
        }
    }

    pub(super) fn measures(&self) -> bool {
        match self {
            Self::Measure => true,
            Self::Nothing | Self::Pan | Self::Move(_) => false,
        }
    }
}

/// One layer from above.
pub(crate) struct PlanView {
    /// The graphics device, if there is one; some are processors in disguise.
    pub(super) gpu: Option<DeviceType>,
    /// What is shown; `None` until there is something to fit.
    pub(super) view: Option<render::plan::PlanView>,
    /// Whether the person has moved or zoomed: then nothing else does.
    pub(super) is_held: bool,
    pub(super) seen_size: egui::Vec2,
    pub(super) elements: Elements,
    pub(super) quantity: Quantity,
    pub(super) scale: Option<(Quantity, Theme, Arc<ColourScale>)>,
    pub(super) preparing: Preparing,
    pub(super) dose: DoseView,
    pub(super) measure: Measure,
    pub(super) dragging: Dragging,
    /// What the pointer is over, by its move.
    pub(super) hovered: Option<usize>,
    /// When the mark starts that the menu was opened on.
    pub(super) menu_time_s: Option<f64>,
    /// Whether the picture moved in the last frame.
    pub(super) is_moving: bool,
    /// Since when the drawing is behind what is wanted, s of the window.
    pub(super) behind_since_s: Option<f64>,
    /// Whether it is drawn as out of date for that.
    pub(super) is_out_of_date: bool,
    /// What was last drawn on.
    pub(super) drawn_on: Option<Canvas>,
}

impl PlanView {
    /// A view that draws with this graphics device; without one it says so.
    pub(crate) fn new(gpu: Option<&RenderState>, threads: &Threads) -> Self {
        if let Some(gpu) = gpu {
            paint::install(gpu);
        }
        Self {
            gpu: gpu.map(|gpu| gpu.adapter.get_info().device_type),
            view: None,
            is_held: false,
            seen_size: egui::Vec2::ZERO,
            elements: Elements::default(),
            quantity: Quantity::default(),
            scale: None,
            preparing: Preparing::new(threads),
            dose: DoseView::new(gpu, threads),
            measure: Measure::default(),
            dragging: Dragging::default(),
            hovered: None,
            menu_time_s: None,
            is_moving: false,
            behind_since_s: None,
            is_out_of_date: false,
            drawn_on: None,
        }
    }

    /// Whether jumps are drawn.
    pub(crate) fn shows_jumps(&self) -> bool {
        self.elements.jumps
    }

    /// Starts the measuring tool, or closes it.
    pub(crate) fn toggle_measure(&mut self) {
        self.measure.toggle();
    }
}
