//! A graphics device without a window, for tests and examples.

#![allow(dead_code, reason = "tests and examples each use a part")]

pub(crate) mod device;

use render::dose::{DoseError, DoseRenderer, DoseShow, DoseTiles};
use render::plan::{PlanFrame, PlanRenderer};
use render::read_back;

use std::sync::Arc;

/// A device, and what it is.
pub(crate) struct Headless {
    /// Name and kind of the adapter.
    pub(crate) adapter: String,
    /// The device.
    pub(crate) device: wgpu::Device,
    /// Its queue.
    pub(crate) queue: wgpu::Queue,
}

/// Format of the pixels that come back.
pub(crate) const FORMAT: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

impl Headless {
    /// The best adapter there is, held to what WebGL 2 can do.
    ///
    /// # Errors
    /// What is missing, in words.
    pub(crate) fn new() -> Result<Self, Box<dyn std::error::Error>> {
        Self::with(wgpu::Limits::downlevel_webgl2_defaults())
    }

    /// The best adapter there is, held to the least that can compute.
    ///
    /// # Errors
    /// What is missing, in words.
    pub(crate) fn computing() -> Result<Self, Box<dyn std::error::Error>> {
        Self::with(wgpu::Limits::downlevel_defaults())
    }

    /// The best adapter there is, held to limits except in the size of pictures.
    fn with(limits: wgpu::Limits) -> Result<Self, Box<dyn std::error::Error>> {
        let (device, queue, adapter) = device::adapter(|own| limits.using_resolution(own))?;
        Ok(Self { adapter, device, queue })
    }

    /// Draws a frame as far as the renderer's own picture and waits for it. Returns whether
    /// anything was drawn.
    pub(crate) fn prepare(&self, renderer: &mut PlanRenderer, frame: &PlanFrame) -> bool {
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let drawn = renderer.prepare(&self.device, &self.queue, &mut encoder, frame.clone());
        self.queue.submit([encoder.finish()]);
        self.wait();
        drawn
    }

    /// Sums up a dose and waits for it. Returns whether anything was done.
    ///
    /// # Errors
    /// Those of the renderer.
    pub(crate) fn sum_up(
        &self,
        renderer: &mut DoseRenderer,
        tiles: &Arc<DoseTiles>,
    ) -> Result<bool, DoseError> {
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let done = renderer.prepare(&self.device, &self.queue, &mut encoder, tiles)?;
        self.queue.submit([encoder.finish()]);
        self.wait();
        Ok(done)
    }

    /// Colours a dose and waits for it. Returns whether anything was drawn.
    pub(crate) fn show(&self, renderer: &mut DoseRenderer, show: &DoseShow) -> bool {
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let drawn = renderer.show(&self.device, &self.queue, &mut encoder, show.clone());
        self.queue.submit([encoder.finish()]);
        self.wait();
        drawn
    }

    /// Draws a frame on a ground (red, green, blue, opaque) and reads its pixels back, row by row
    /// from the upper left.
    pub(crate) fn pixels(
        &self,
        renderer: &mut PlanRenderer,
        frame: &PlanFrame,
        ground: [f64; 3],
    ) -> Vec<[u8; 4]> {
        self.prepare(renderer, frame);
        self.painted(frame.size_px, ground, |pass| renderer.paint(pass))
    }

    /// What a paint leaves on a ground (red, green, blue, opaque), row by row from the upper left.
    pub(crate) fn painted(
        &self,
        [width, height]: [u32; 2],
        [r, g, b]: [f64; 3],
        paint: impl FnOnce(&mut wgpu::RenderPass<'_>),
    ) -> Vec<[u8; 4]> {
        let size = wgpu::Extent3d { width, height, depth_or_array_layers: 1 };
        let target = self.device.create_texture(&wgpu::TextureDescriptor {
            label: None,
            size,
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: FORMAT,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::COPY_SRC,
            view_formats: &[],
        });
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        {
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                    view: &target.create_view(&wgpu::TextureViewDescriptor::default()),
                    depth_slice: None,
                    resolve_target: None,
                    ops: wgpu::Operations {
                        load: wgpu::LoadOp::Clear(wgpu::Color { r, g, b, a: 1.0 }),
                        store: wgpu::StoreOp::Store,
                    },
                })],
                ..Default::default()
            });
            paint(&mut pass);
        }
        self.queue.submit([encoder.finish()]);
        let bytes = read_back(&self.device, &self.queue, &target).expect("readable");
        bytes.as_chunks::<4>().0.to_vec()
    }

    /// Waits until the device has done all it was told.
    pub(crate) fn wait(&self) {
        self.device.poll(wgpu::PollType::wait_indefinitely()).expect("the device is lost");
    }
}
