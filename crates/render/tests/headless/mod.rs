//! A graphics device without a window, for tests and examples.

#![allow(dead_code, reason = "tests and examples each use a part")]

use render::plan::{PlanFrame, PlanRenderer};

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
    /// The best adapter there is; `WGPU_BACKEND` chooses among several.
    ///
    /// # Errors
    /// What is missing, in words.
    pub(crate) fn new() -> Result<Self, String> {
        let instance =
            wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle_from_env());
        let options = wgpu::RequestAdapterOptions {
            power_preference: wgpu::PowerPreference::HighPerformance,
            ..Default::default()
        };
        let adapter = pollster::block_on(instance.request_adapter(&options)).map_err(|error| {
            format!("no graphics adapter ({error}); install mesa-vulkan-drivers for a software one")
        })?;
        let info = adapter.get_info();
        let descriptor = wgpu::DeviceDescriptor {
            required_limits: wgpu::Limits::downlevel_webgl2_defaults()
                .using_resolution(adapter.limits()),
            ..Default::default()
        };
        let (device, queue) = pollster::block_on(adapter.request_device(&descriptor))
            .map_err(|error| error.to_string())?;
        let adapter = format!("{} ({:?}, {:?})", info.name, info.device_type, info.backend);
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

    /// Draws a frame on a ground (red, green, blue, opaque) and reads its pixels back, row by row
    /// from the upper left.
    pub(crate) fn pixels(
        &self,
        renderer: &mut PlanRenderer,
        frame: &PlanFrame,
        ground: [f64; 3],
    ) -> Vec<[u8; 4]> {
        self.prepare(renderer, frame);
        let [width, height] = frame.size_px;
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
        let row = (width * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
        let buffer = self.device.create_buffer(&wgpu::BufferDescriptor {
            label: None,
            size: u64::from(row * height),
            usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
            mapped_at_creation: false,
        });
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        {
            let [r, g, b] = ground;
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
            renderer.paint(&mut pass);
        }
        let layout = wgpu::TexelCopyBufferLayout {
            offset: 0,
            bytes_per_row: Some(row),
            rows_per_image: None,
        };
        encoder.copy_texture_to_buffer(
            target.as_image_copy(),
            wgpu::TexelCopyBufferInfo { buffer: &buffer, layout },
            size,
        );
        self.queue.submit([encoder.finish()]);
        buffer.map_async(wgpu::MapMode::Read, .., |result| result.expect("readable"));
        self.wait();
        let bytes = buffer.get_mapped_range(..).expect("mapped");
        let row_of = |row: &[u8]| -> Vec<[u8; 4]> {
            let pixels = row[..width as usize * 4].chunks_exact(4);
            pixels.map(|p| [p[0], p[1], p[2], p[3]]).collect()
        };
        bytes.chunks_exact(row as usize).flat_map(row_of).collect()
    }

    /// Waits until the device has done all it was told.
    pub(crate) fn wait(&self) {
        self.device.poll(wgpu::PollType::wait_indefinitely()).expect("the device is lost");
    }
}
