//! Puts a finished picture onto the window, pixel on pixel.

use crate::pipeline::{Recipe, pipeline};

/// Colour of finished pictures: 8 bits, in the screen's own encoding, premultiplied.
pub(crate) const COLOUR: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

pub(crate) struct Blit {
    nearest: wgpu::Sampler,
    layout: wgpu::BindGroupLayout,
    pipeline: wgpu::RenderPipeline,
}

impl Blit {
    /// `target` is the format of what pictures are put onto, without multisampling or depth.
    pub(crate) fn new(device: &wgpu::Device, target: wgpu::TextureFormat) -> Self {
        let entry = |binding, ty| wgpu::BindGroupLayoutEntry {
            binding,
            visibility: wgpu::ShaderStages::FRAGMENT,
            ty,
            count: None,
        };
        let texture = wgpu::BindingType::Texture {
            sample_type: wgpu::TextureSampleType::Float { filterable: true },
            view_dimension: wgpu::TextureViewDimension::D2,
            multisampled: false,
        };
        let sampler = wgpu::BindingType::Sampler(wgpu::SamplerBindingType::Filtering);
        let layout = device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
            label: Some("blit"),
            entries: &[entry(0, texture), entry(1, sampler)],
        });
        let recipe = Recipe {
            label: "blit",
            layout: &device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
                label: Some("blit"),
                bind_group_layouts: &[Some(&layout)],
                immediate_size: 0,
            }),
            module: &device.create_shader_module(wgpu::include_wgsl!("blit.wgsl")),
            entries: ["corner", "copy"],
            buffers: &[],
            topology: wgpu::PrimitiveTopology::TriangleList,
            stencil: None,
            target,
            writes: wgpu::ColorWrites::ALL,
        };
        let pipeline = pipeline(device, &recipe);
        let nearest = device.create_sampler(&wgpu::SamplerDescriptor::default());
        Self { nearest, layout, pipeline }
    }

    /// Binds a picture of the format [`COLOUR`].
    pub(crate) fn bind(
        &self,
        device: &wgpu::Device,
        picture: &wgpu::TextureView,
    ) -> wgpu::BindGroup {
        let entry = |binding, resource| wgpu::BindGroupEntry { binding, resource };
        device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("blit"),
            layout: &self.layout,
            entries: &[
                entry(0, wgpu::BindingResource::TextureView(picture)),
                entry(1, wgpu::BindingResource::Sampler(&self.nearest)),
            ],
        })
    }

    /// Puts a bound picture onto the viewport of a render pass, over what is there.
    pub(crate) fn paint(&self, pass: &mut wgpu::RenderPass<'_>, picture: &wgpu::BindGroup) {
        pass.set_pipeline(&self.pipeline);
        pass.set_bind_group(0, picture, &[]);
        pass.draw(0..3, 0..1);
    }
}
