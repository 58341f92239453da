//! What the graphics card is told once: shaders and layouts.

use crate::blit::COLOUR;
use crate::pipeline::{Recipe, pipeline};

/// Dose of a pixel, J/mm².
pub(super) const DOSE: wgpu::TextureFormat = wgpu::TextureFormat::R32Float;

/// Twin of `Band` in `dose.wgsl`.
#[derive(Clone, Copy, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C)]
pub(super) struct BandUniform {
    pub size_px: [u32; 2],
    pub columns: u32,
    pub first_row: u32,
}

/// Twin of `Show` in `show.wgsl`.
#[derive(Clone, Copy, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C)]
pub(super) struct ShowUniform {
    pub origin_px: [f32; 2],
    pub step: f32,
    pub low_j_mm2: f32,
    pub colours_per_j_mm2: f32,
    pub last_colour: f32,
    pub opacity: f32,
    pub clears_below: f32,
    pub colours: [[f32; 4]; 256],
}

pub(super) struct Pipelines {
    pub sum_layout: wgpu::BindGroupLayout,
    pub show_layout: wgpu::BindGroupLayout,
    pub sum: wgpu::ComputePipeline,
    pub show: wgpu::RenderPipeline,
}

impl Pipelines {
    pub(super) fn new(device: &wgpu::Device) -> Self {
        let (sum_layout, show_layout) = (sum_layout(device), show_layout(device));
        let pipeline_layout = |group| {
            device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
                label: Some("dose"),
                bind_group_layouts: &[Some(group)],
                immediate_size: 0,
            })
        };
        let sum = device.create_compute_pipeline(&wgpu::ComputePipelineDescriptor {
            label: Some("dose"),
            layout: Some(&pipeline_layout(&sum_layout)),
            module: &device.create_shader_module(wgpu::include_wgsl!("dose.wgsl")),
            entry_point: Some("sum_up"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            cache: None,
        });
        let recipe = Recipe {
            label: "dose colours",
            layout: &pipeline_layout(&show_layout),
            module: &device.create_shader_module(wgpu::include_wgsl!("show.wgsl")),
            entries: ["corner", "colour"],
            buffers: &[],
            topology: wgpu::PrimitiveTopology::TriangleList,
            stencil: None,
            target: COLOUR,
            writes: wgpu::ColorWrites::ALL,
        };
        let show = pipeline(device, &recipe);
        Self { sum_layout, show_layout, sum, show }
    }
}

fn buffer(ty: wgpu::BufferBindingType) -> wgpu::BindingType {
    wgpu::BindingType::Buffer { ty, has_dynamic_offset: false, min_binding_size: None }
}

fn layout(
    device: &wgpu::Device,
    visibility: wgpu::ShaderStages,
    types: &[wgpu::BindingType],
) -> wgpu::BindGroupLayout {
    let entry = |(binding, ty): (u32, &wgpu::BindingType)| wgpu::BindGroupLayoutEntry {
        binding,
        visibility,
        ty: *ty,
        count: None,
    };
    let entries: Vec<_> = (0..).zip(types).map(entry).collect();
    let label = Some("dose");
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor { label, entries: &entries })
}

fn sum_layout(device: &wgpu::Device) -> wgpu::BindGroupLayout {
    let list = buffer(wgpu::BufferBindingType::Storage { read_only: true });
    let dose = wgpu::BindingType::StorageTexture {
        access: wgpu::StorageTextureAccess::WriteOnly,
        format: DOSE,
        view_dimension: wgpu::TextureViewDimension::D2,
    };
    let band = buffer(wgpu::BufferBindingType::Uniform);
    layout(device, wgpu::ShaderStages::COMPUTE, &[band, list, list, dose])
}

fn show_layout(device: &wgpu::Device) -> wgpu::BindGroupLayout {
    let dose = wgpu::BindingType::Texture {
        sample_type: wgpu::TextureSampleType::Float { filterable: false },
        view_dimension: wgpu::TextureViewDimension::D2,
        multisampled: false,
    };
    let show = buffer(wgpu::BufferBindingType::Uniform);
    layout(device, wgpu::ShaderStages::FRAGMENT, &[show, dose])
}
