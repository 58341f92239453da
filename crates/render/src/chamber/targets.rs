//! The textures that the chamber is drawn into, sized to the viewport.

use super::pipelines::Pipelines;
use crate::picture::{texture, view_of};
use wgpu::{BindGroup, Device, TextureFormat, TextureUsages, TextureView};

/// Of the picture: sRGB values written as they are.
pub(super) const COLOUR: TextureFormat = TextureFormat::Rgba8Unorm;
/// Of the marks that tell things apart.
pub(super) const MARK: TextureFormat = TextureFormat::R16Uint;
/// Of depth, and of the count that finds the inside of a section.
pub(super) const DEPTH: TextureFormat = TextureFormat::Depth24PlusStencil8;

/// One set of textures of one size.
pub(super) struct Targets {
    pub size: [u32; 2],
    /// Drawn into; the same as `plain` where there is one sample to a pixel.
    pub colour: TextureView,
    /// What `colour` is resolved into, if it has several samples.
    pub resolved: Option<TextureView>,
    pub marks: TextureView,
    pub depth: TextureView,
    /// The finished picture.
    pub picture: wgpu::Texture,
    pub picture_view: TextureView,
    pub compose: BindGroup,
    pub blit: BindGroup,
}

impl Targets {
    pub(super) fn new(
        device: &Device,
        pipelines: &Pipelines,
        size: [u32; 2],
        samples: u32,
    ) -> Self {
        let drawn = TextureUsages::RENDER_ATTACHMENT;
        let read = drawn | TextureUsages::TEXTURE_BINDING;
        let make = |label: &str, format, samples, usage| {
            texture(device, label, size, format, samples, usage)
        };
        let plain = view_of(&make("chamber colour", COLOUR, 1, read));
        let (colour, resolved) = if samples > 1 {
            let many = view_of(&make("chamber colour samples", COLOUR, samples, drawn));
            (many, Some(plain.clone()))
        } else {
            (plain.clone(), None)
        };
        let marks = view_of(&make("chamber marks", MARK, samples, read));
        let depth_texture = make("chamber depth", DEPTH, samples, read);
        let depth_alone = depth_texture.create_view(&wgpu::TextureViewDescriptor {
            aspect: wgpu::TextureAspect::DepthOnly,
            ..wgpu::TextureViewDescriptor::default()
        });
        let picture = make("chamber picture", COLOUR, 1, read | TextureUsages::COPY_SRC);
        let picture_view = view_of(&picture);
        let sampler = sampler(device);
        let bound = |binding: u32, view| wgpu::BindGroupEntry {
            binding,
            resource: wgpu::BindingResource::TextureView(view),
        };
        let compose = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("chamber compose"),
            layout: &pipelines.compose_layout,
            entries: &[bound(0, &plain), bound(1, &marks), bound(2, &depth_alone)],
        });
        let sampler =
            wgpu::BindGroupEntry { binding: 1, resource: wgpu::BindingResource::Sampler(&sampler) };
        let blit = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("chamber blit"),
            layout: &pipelines.blit_layout,
            entries: &[bound(0, &picture_view), sampler],
        });
        let depth = view_of(&depth_texture);
        Self { size, colour, resolved, marks, depth, picture, picture_view, compose, blit }
    }
}

fn sampler(device: &Device) -> wgpu::Sampler {
    device.create_sampler(&wgpu::SamplerDescriptor {
        label: Some("chamber picture"),
        mag_filter: wgpu::FilterMode::Linear, // pixel on pixel it changes nothing
        min_filter: wgpu::FilterMode::Linear,
        ..wgpu::SamplerDescriptor::default()
    })
}
