//! The callback that lets the graphics card sum up the dose and colours it.

use super::preparing::Dose;
use eframe::egui_wgpu::{CallbackResources, CallbackTrait, RenderState, ScreenDescriptor, wgpu};
use egui::PaintCallbackInfo;
use render::dose::{DoseColours, DoseRenderer, DoseShow, DoseTiles};
use render::plan::PlanView;
use std::sync::{Arc, Mutex, PoisonError};

/// What the graphics device says of the dose: why it cannot do it, if so.
#[derive(Clone, Default)]
pub(crate) struct Device(Arc<Mutex<Option<String>>>);

impl Device {
    /// Puts the renderer where the callback finds it; notes why there is none.
    pub(crate) fn install(gpu: &RenderState) -> Self {
        let device = Self::default();
        match DoseRenderer::new(&gpu.device, gpu.target_format) {
            Ok(renderer) => {
                gpu.renderer.write().callback_resources.insert(renderer);
            }
            Err(error) => {
                device.note(Some(error.to_string()));
            }
        }
        device
    }

    /// Why it cannot, in words.
    pub(crate) fn failure(&self) -> Option<String> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Whether that is news.
    fn note(&self, failure: Option<String>) -> bool {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let is_news = *known != failure;
        *known = failure;
        is_news
    }
}

/// A picture of the dose, to be put onto the window.
pub(crate) struct DosePaint {
    tiles: Arc<DoseTiles>,
    show: DoseShow,
    device: Device,
    /// For another frame, when there is something to say.
    ctx: egui::Context,
}

impl DosePaint {
    pub(crate) fn new(
        dose: &Dose,
        (view, size_px): (PlanView, [u32; 2]),
        (colours, opacity): (DoseColours, f32),
        device: &Device,
        ctx: &egui::Context,
    ) -> Self {
        let show = DoseShow { view, size_px, colours: Arc::new(colours), opacity };
        let (device, ctx) = (device.clone(), ctx.clone());
        Self { tiles: Arc::clone(&dose.tiles), show, device, ctx }
    }
}

impl CallbackTrait for DosePaint {
    fn prepare(
        &self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        _screen: &ScreenDescriptor,
        encoder: &mut wgpu::CommandEncoder,
        resources: &mut CallbackResources,
    ) -> Vec<wgpu::CommandBuffer> {
        let Some(renderer) = resources.get_mut::<DoseRenderer>() else { return Vec::new() };
        let prepared = renderer.prepare(device, queue, encoder, &self.tiles);
        if prepared.is_ok() {
            renderer.show(device, queue, encoder, self.show.clone());
        }
        if self.device.note(prepared.err().map(|error| error.to_string())) {
            self.ctx.request_repaint();
        }
        Vec::new()
    }

    fn paint(
        &self,
        _info: PaintCallbackInfo,
        pass: &mut wgpu::RenderPass<'static>,
        resources: &CallbackResources,
    ) {
        // a renderer that could not take these tiles still holds others
        let renderer = resources.get::<DoseRenderer>();
        let is_this = |tiles: &Arc<DoseTiles>| Arc::ptr_eq(tiles, &self.tiles);
        if let Some(renderer) = renderer.filter(|renderer| renderer.tiles().is_some_and(is_this)) {
            renderer.paint(pass);
        }
    }
}
