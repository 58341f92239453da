//! What the graphics card is told once: shaders, layouts and states.

use crate::blit::COLOUR;
use crate::pipeline::{Recipe, pipeline};
use std::num::NonZeroU64;

/// The stencil that fills count in.
pub(super) const STENCIL: wgpu::TextureFormat = wgpu::TextureFormat::Stencil8;

/// Twin of `View` in the shaders.
#[derive(Clone, Copy, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C)]
pub(super) struct ViewUniform {
    pub centre_nm: [i32; 2],
    pub offset_px: [f32; 2],
    pub half_size_px: [f32; 2],
    pub px_per_nm: f32,
    pub padding: f32,
}

/// Twin of `Style` in the shaders.
#[derive(Clone, Copy, Default, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C)]
pub(super) struct StyleUniform {
    pub colour: [f32; 4],
    pub dash_px: [f32; 4],
    pub width_px: f32,
    pub blur_px: f32,
    pub opacity: f32,
    pub uses_scale: f32,
    pub cap_px: f32,
    pub padding: [f32; 3],
}

pub(super) struct Pipelines {
    pub view_layout: wgpu::BindGroupLayout,
    pub style_layout: wgpu::BindGroupLayout,
    pub lines: wgpu::RenderPipeline,
    pub count: wgpu::RenderPipeline,
    pub cover: wgpu::RenderPipeline,
}

impl Pipelines {
    pub(super) fn new(device: &wgpu::Device) -> Self {
        let [view_layout, style_layout] = layouts(device);
        let pipeline_layout = |groups: &[Option<&wgpu::BindGroupLayout>]| {
            device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
                label: Some("plan"),
                bind_group_layouts: groups,
                immediate_size: 0,
            })
        };
        let drawing = pipeline_layout(&[Some(&view_layout), Some(&style_layout)]);
        let module = |source: wgpu::ShaderModuleDescriptor| device.create_shader_module(source);
        let line = module(in_frame(
            "line.wgsl",
            concat!(include_str!("frame.wgsl"), include_str!("line.wgsl")),
        ));
        let fill = module(in_frame(
            "fill.wgsl",
            concat!(include_str!("frame.wgsl"), include_str!("fill.wgsl")),
        ));

        let lines = lines_pipeline(device, &drawing, &line);
        let count = count_pipeline(device, &drawing, &fill);
        let cover = pipeline(
            device,
            &Recipe {
                label: "plan fill",
                layout: &drawing,
                module: &fill,
                entries: ["everywhere", "tint"],
                buffers: &[],
                topology: wgpu::PrimitiveTopology::TriangleList,
                stencil: Some(where_counted()),
                target: COLOUR,
                writes: wgpu::ColorWrites::ALL,
            },
        );
        Self { view_layout, style_layout, lines, count, cover }
    }
}

/// What pipelines are bound to: the view, the style of a stroke.
fn layouts(device: &wgpu::Device) -> [wgpu::BindGroupLayout; 2] {
    let both = wgpu::ShaderStages::VERTEX_FRAGMENT;
    let texture = wgpu::BindingType::Texture {
        sample_type: wgpu::TextureSampleType::Float { filterable: true },
        view_dimension: wgpu::TextureViewDimension::D2,
        multisampled: false,
    };
    let uniform = |has_dynamic_offset, size: usize| wgpu::BindingType::Buffer {
        ty: wgpu::BufferBindingType::Uniform,
        has_dynamic_offset,
        min_binding_size: NonZeroU64::new(size as u64),
    };
    let layout = |label, types: &[wgpu::BindingType]| {
        let entry = |(binding, ty): (u32, &wgpu::BindingType)| wgpu::BindGroupLayoutEntry {
            binding,
            visibility: both,
            ty: *ty,
            count: None,
        };
        let entries: Vec<_> = (0..).zip(types).map(entry).collect();
        device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
            label: Some(label),
            entries: &entries,
        })
    };
    [
        layout("plan view", &[uniform(false, size_of::<ViewUniform>()), texture]),
        layout("plan style", &[uniform(true, size_of::<StyleUniform>())]),
    ]
}

/// Draws a quad for each segment.
fn lines_pipeline(
    device: &wgpu::Device,
    layout: &wgpu::PipelineLayout,
    module: &wgpu::ShaderModule,
) -> wgpu::RenderPipeline {
    let buffers = [
        Some(wgpu::VertexBufferLayout {
            array_stride: 16,
            step_mode: wgpu::VertexStepMode::Instance,
            attributes: &wgpu::vertex_attr_array![0 => Sint32x4],
        }),
        Some(wgpu::VertexBufferLayout {
            array_stride: 4,
            step_mode: wgpu::VertexStepMode::Instance,
            attributes: &wgpu::vertex_attr_array![1 => Unorm16x2],
        }),
    ];
    pipeline(
        device,
        &Recipe {
            label: "plan lines",
            layout,
            module,
            entries: ["corner", "ink"],
            buffers: &buffers,
            topology: wgpu::PrimitiveTopology::TriangleStrip,
            stencil: Some(stencil(wgpu::StencilFaceState::IGNORE, wgpu::StencilFaceState::IGNORE)),
            target: COLOUR,
            writes: wgpu::ColorWrites::ALL,
        },
    )
}

/// Counts fans in the stencil and draws nothing.
fn count_pipeline(
    device: &wgpu::Device,
    layout: &wgpu::PipelineLayout,
    module: &wgpu::ShaderModule,
) -> wgpu::RenderPipeline {
    let counting = |pass_op| wgpu::StencilFaceState {
        compare: wgpu::CompareFunction::Always,
        pass_op,
        ..Default::default()
    };
    let up = counting(wgpu::StencilOperation::IncrementWrap);
    let down = counting(wgpu::StencilOperation::DecrementWrap);
    let buffers = [Some(wgpu::VertexBufferLayout {
        array_stride: 8,
        step_mode: wgpu::VertexStepMode::Vertex,
        attributes: &wgpu::vertex_attr_array![0 => Sint32x2],
    })];
    pipeline(
        device,
        &Recipe {
            label: "plan fill count",
            layout,
            module,
            entries: ["point", "tint"],
            buffers: &buffers,
            topology: wgpu::PrimitiveTopology::TriangleList,
            stencil: Some(stencil(up, down)),
            target: COLOUR,
            writes: wgpu::ColorWrites::empty(),
        },
    )
}

/// Draws where the count is not zero, and sets it back.
fn where_counted() -> wgpu::DepthStencilState {
    let face = wgpu::StencilFaceState {
        compare: wgpu::CompareFunction::NotEqual,
        pass_op: wgpu::StencilOperation::Zero,
        ..Default::default()
    };
    stencil(face, face)
}

fn stencil(front: wgpu::StencilFaceState, back: wgpu::StencilFaceState) -> wgpu::DepthStencilState {
    wgpu::DepthStencilState {
        format: STENCIL,
        depth_write_enabled: None,
        depth_compare: None,
        stencil: wgpu::StencilState { front, back, read_mask: 0xff, write_mask: 0xff },
        bias: wgpu::DepthBiasState::default(),
    }
}

/// A shader behind the declarations that lines and fills share.
fn in_frame(label: &'static str, source: &'static str) -> wgpu::ShaderModuleDescriptor<'static> {
    wgpu::ShaderModuleDescriptor {
        label: Some(label),
        source: wgpu::ShaderSource::Wgsl(source.into()),
    }
}
