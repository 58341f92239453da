//! The fixed states of the adapter: one pipeline for each kind of thing in the chamber.

use super::frame::Frame;
use super::prepare::Vertex;
use super::select::Placed;
use super::store::Stroke;
use super::targets::{COLOUR, DEPTH, MARK};
use wgpu::{BindGroupLayout, Device, RenderPipeline, ShaderModule, TextureFormat};

/// All pipelines and the layouts of what they are bound to.
pub(super) struct Pipelines {
    pub frame_layout: BindGroupLayout,
    pub compose_layout: BindGroupLayout,
    pub blit_layout: BindGroupLayout,
    /// Faces, uncut and cut.
    pub faces: [RenderPipeline; 2],
    /// Creases, uncut and cut.
    pub creases: [RenderPipeline; 2],
    /// Counts faces below the section into the stencil.
    pub count: RenderPipeline,
    pub section: RenderPipeline,
    /// Lines that parts hide.
    pub lines: RenderPipeline,
    /// Lines over everything, drawn into the finished picture.
    pub lines_on_top: RenderPipeline,
    pub compose: RenderPipeline,
    pub blit: RenderPipeline,
}

const VERTEX: [wgpu::VertexAttribute; 2] = wgpu::vertex_attr_array![0 => Float32x3, 1 => Snorm8x4];
const PLACED: [wgpu::VertexAttribute; 5] = wgpu::vertex_attr_array![
    2 => Float32x4, 3 => Float32x4, 4 => Float32x4, 5 => Unorm8x4, 6 => Uint32];
const STROKE: [wgpu::VertexAttribute; 4] =
    wgpu::vertex_attr_array![0 => Float32x3, 1 => Float32x3, 2 => Unorm8x4, 3 => Float32];

fn buffer<T>(
    step_mode: wgpu::VertexStepMode,
    attributes: &[wgpu::VertexAttribute],
) -> wgpu::VertexBufferLayout<'_> {
    wgpu::VertexBufferLayout { array_stride: size_of::<T>() as u64, step_mode, attributes }
}

impl Pipelines {
    /// For a window of this format, drawn with this many samples to a pixel (1 or 4).
    pub(super) fn new(device: &Device, target: TextureFormat, samples: u32) -> Self {
        let frame_layout = frame_layout(device);
        let compose_layout = compose_layout(device, samples > 1);
        let blit_layout = blit_layout(device);
        let layout = |groups: &[Option<&BindGroupLayout>]| {
            device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
                label: Some("chamber"),
                bind_group_layouts: groups,
                immediate_size: 0,
            })
        };
        let in_frame = layout(&[Some(&frame_layout)]);
        let in_compose = layout(&[Some(&frame_layout), Some(&compose_layout)]);
        let in_blit = layout(&[Some(&blit_layout)]);
        let scene = module(
            device,
            "chamber scene",
            &[include_str!("frame.wgsl"), include_str!("scene.wgsl")].concat(),
        );
        let compose = module(device, "chamber compose", &compose_source(samples));
        let blit = module(device, "chamber blit", include_str!("blit.wgsl"));

        let recipe = Recipe { device, layout: &in_frame, module: &scene, samples };
        let on_top = Recipe { samples: 1, ..recipe };
        Self {
            faces: [false, true].map(|cut| faces(&recipe, cut)),
            creases: [false, true].map(|cut| creases(&recipe, cut)),
            count: count(&recipe),
            section: section(&recipe),
            lines: lines(
                &recipe,
                Some(depth(false, wgpu::CompareFunction::LessEqual)),
                &LINE_TARGETS,
            ),
            lines_on_top: lines(&on_top, None, &LINE_TARGETS[..1]),
            compose: Recipe { device, layout: &in_compose, module: &compose, samples: 1 }
                .make(&Kind::screen("fragment_compose", &[Some(solid(COLOUR))], &[])),
            blit: Recipe { device, layout: &in_blit, module: &blit, samples: 1 }.make(
                &Kind::screen(
                    "fragment_blit",
                    &[Some(solid(target))],
                    &[("LINEAR", f64::from(u8::from(target.is_srgb())))],
                ),
            ),
            frame_layout,
            compose_layout,
            blit_layout,
        }
    }
}

/// The corners of a mesh, and where its instances stand.
fn mesh_buffers() -> [Option<wgpu::VertexBufferLayout<'static>>; 2] {
    [
        Some(buffer::<Vertex>(wgpu::VertexStepMode::Vertex, &VERTEX)),
        Some(buffer::<Placed>(wgpu::VertexStepMode::Instance, &PLACED)),
    ]
}

fn faces(recipe: &Recipe, cut: bool) -> RenderPipeline {
    recipe.make(&Kind {
        vertex: "vertex_face",
        fragment: "fragment_face",
        buffers: &mesh_buffers(),
        topology: wgpu::PrimitiveTopology::TriangleList,
        depth: Some(depth(true, wgpu::CompareFunction::Less)),
        targets: &SOLID_TARGETS,
        constants: &[("CUT", f64::from(u8::from(cut)))],
    })
}

fn creases(recipe: &Recipe, cut: bool) -> RenderPipeline {
    recipe.make(&Kind {
        vertex: "vertex_crease",
        fragment: "fragment_crease",
        buffers: &mesh_buffers(),
        topology: wgpu::PrimitiveTopology::LineList,
        depth: Some(depth(false, wgpu::CompareFunction::LessEqual)),
        targets: &INK_TARGETS,
        constants: &[("CUT", f64::from(u8::from(cut)))],
    })
}

/// Counts faces below the section into the stencil.
fn count(recipe: &Recipe) -> RenderPipeline {
    recipe.make(&Kind {
        vertex: "vertex_face",
        fragment: "fragment_count",
        buffers: &mesh_buffers(),
        topology: wgpu::PrimitiveTopology::TriangleList,
        depth: Some(counting()),
        targets: &NO_TARGETS,
        constants: &[],
    })
}

fn section(recipe: &Recipe) -> RenderPipeline {
    recipe.make(&Kind {
        vertex: "vertex_section",
        fragment: "fragment_section",
        buffers: &[],
        topology: wgpu::PrimitiveTopology::TriangleStrip,
        depth: Some(where_counted()),
        targets: &SOLID_TARGETS,
        constants: &[],
    })
}

fn lines(
    recipe: &Recipe,
    depth: Option<wgpu::DepthStencilState>,
    targets: &[Option<wgpu::ColorTargetState>],
) -> RenderPipeline {
    recipe.make(&Kind {
        vertex: "vertex_line",
        fragment: "fragment_line",
        buffers: &[Some(buffer::<Stroke>(wgpu::VertexStepMode::Instance, &STROKE))],
        topology: wgpu::PrimitiveTopology::TriangleStrip,
        depth,
        targets,
        constants: &[],
    })
}

const fn solid(format: TextureFormat) -> wgpu::ColorTargetState {
    wgpu::ColorTargetState { format, blend: None, write_mask: wgpu::ColorWrites::ALL }
}

const fn ink(format: TextureFormat) -> wgpu::ColorTargetState {
    wgpu::ColorTargetState { blend: Some(wgpu::BlendState::ALPHA_BLENDING), ..solid(format) }
}

const fn none(format: TextureFormat) -> wgpu::ColorTargetState {
    wgpu::ColorTargetState { write_mask: wgpu::ColorWrites::empty(), ..solid(format) }
}

const SOLID_TARGETS: [Option<wgpu::ColorTargetState>; 2] = [Some(solid(COLOUR)), Some(solid(MARK))];
const INK_TARGETS: [Option<wgpu::ColorTargetState>; 2] = [Some(ink(COLOUR)), Some(solid(MARK))];
const LINE_TARGETS: [Option<wgpu::ColorTargetState>; 2] = [Some(ink(COLOUR)), Some(none(MARK))];
const NO_TARGETS: [Option<wgpu::ColorTargetState>; 2] = [Some(none(COLOUR)), Some(none(MARK))];

fn depth(write: bool, compare: wgpu::CompareFunction) -> wgpu::DepthStencilState {
    wgpu::DepthStencilState {
        format: DEPTH,
        depth_write_enabled: Some(write),
        depth_compare: Some(compare),
        stencil: wgpu::StencilState::default(),
        bias: wgpu::DepthBiasState::default(),
    }
}

/// Up for a face seen from inside, down for one seen from outside, whatever hides it. Along a ray
/// that starts on the section plane the sum is how many times the solid winds around its start.
fn counting() -> wgpu::DepthStencilState {
    let face = |pass_op| wgpu::StencilFaceState {
        compare: wgpu::CompareFunction::Always,
        fail_op: wgpu::StencilOperation::Keep,
        depth_fail_op: pass_op,
        pass_op,
    };
    wgpu::DepthStencilState {
        stencil: wgpu::StencilState {
            front: face(wgpu::StencilOperation::DecrementWrap),
            back: face(wgpu::StencilOperation::IncrementWrap),
            read_mask: 0xff,
            write_mask: 0xff,
        },
        ..depth(false, wgpu::CompareFunction::Always)
    }
}

/// Draws where the count is not zero.
fn where_counted() -> wgpu::DepthStencilState {
    let face = wgpu::StencilFaceState {
        compare: wgpu::CompareFunction::NotEqual,
        ..wgpu::StencilFaceState::IGNORE
    };
    wgpu::DepthStencilState {
        stencil: wgpu::StencilState { front: face, back: face, read_mask: 0xff, write_mask: 0 },
        ..depth(true, wgpu::CompareFunction::LessEqual)
    }
}

/// What a set of pipelines shares.
#[derive(Clone, Copy)]
struct Recipe<'a> {
    device: &'a Device,
    layout: &'a wgpu::PipelineLayout,
    module: &'a ShaderModule,
    samples: u32,
}

/// What sets one pipeline apart.
struct Kind<'a> {
    vertex: &'a str,
    fragment: &'a str,
    buffers: &'a [Option<wgpu::VertexBufferLayout<'a>>],
    topology: wgpu::PrimitiveTopology,
    depth: Option<wgpu::DepthStencilState>,
    targets: &'a [Option<wgpu::ColorTargetState>],
    constants: &'a [(&'a str, f64)],
}

impl<'a> Kind<'a> {
    /// One triangle over the whole picture.
    fn screen(
        fragment: &'a str,
        targets: &'a [Option<wgpu::ColorTargetState>],
        constants: &'a [(&'a str, f64)],
    ) -> Self {
        let topology = wgpu::PrimitiveTopology::TriangleList;
        Self {
            vertex: "vertex_screen",
            fragment,
            buffers: &[],
            topology,
            depth: None,
            targets,
            constants,
        }
    }
}

impl Recipe<'_> {
    fn make(&self, kind: &Kind<'_>) -> RenderPipeline {
        let compilation_options = wgpu::PipelineCompilationOptions {
            constants: kind.constants,
            ..wgpu::PipelineCompilationOptions::default()
        };
        self.device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
            label: Some(kind.fragment),
            layout: Some(self.layout),
            vertex: wgpu::VertexState {
                module: self.module,
                entry_point: Some(kind.vertex),
                compilation_options: compilation_options.clone(),
                buffers: kind.buffers,
            },
            primitive: wgpu::PrimitiveState {
                topology: kind.topology,
                ..wgpu::PrimitiveState::default()
            },
            depth_stencil: kind.depth.clone(),
            multisample: wgpu::MultisampleState {
                count: self.samples,
                ..wgpu::MultisampleState::default()
            },
            fragment: Some(wgpu::FragmentState {
                module: self.module,
                entry_point: Some(kind.fragment),
                compilation_options,
                targets: kind.targets,
            }),
            multiview_mask: None,
            cache: None,
        })
    }
}

fn module(device: &Device, label: &str, source: &str) -> ShaderModule {
    device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: Some(label),
        source: wgpu::ShaderSource::Wgsl(source.into()),
    })
}

fn compose_source(samples: u32) -> String {
    let (marks, depths) = if samples > 1 {
        ("texture_multisampled_2d<u32>", "texture_depth_multisampled_2d")
    } else {
        ("texture_2d<u32>", "texture_depth_2d")
    };
    let source = include_str!("compose.wgsl").replace(": MARKS", &format!(": {marks}"));
    let source = source.replace(": DEPTHS", &format!(": {depths}"));
    format!("{}const SAMPLES: i32 = {samples};\n{source}", include_str!("frame.wgsl"))
}

fn entry(binding: u32, ty: wgpu::BindingType) -> wgpu::BindGroupLayoutEntry {
    let visibility = wgpu::ShaderStages::VERTEX_FRAGMENT;
    wgpu::BindGroupLayoutEntry { binding, visibility, ty, count: None }
}

fn texture(sample_type: wgpu::TextureSampleType, multisampled: bool) -> wgpu::BindingType {
    let view_dimension = wgpu::TextureViewDimension::D2;
    wgpu::BindingType::Texture { sample_type, view_dimension, multisampled }
}

fn frame_layout(device: &Device) -> BindGroupLayout {
    let ty = wgpu::BindingType::Buffer {
        ty: wgpu::BufferBindingType::Uniform,
        has_dynamic_offset: false,
        min_binding_size: std::num::NonZeroU64::new(size_of::<Frame>() as u64),
    };
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("chamber frame"),
        entries: &[entry(0, ty)],
    })
}

fn compose_layout(device: &Device, multisampled: bool) -> BindGroupLayout {
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("chamber compose"),
        entries: &[
            entry(0, texture(wgpu::TextureSampleType::Float { filterable: false }, false)),
            entry(1, texture(wgpu::TextureSampleType::Uint, multisampled)),
            entry(2, texture(wgpu::TextureSampleType::Depth, multisampled)),
        ],
    })
}

fn blit_layout(device: &Device) -> BindGroupLayout {
    let sampler = wgpu::BindingType::Sampler(wgpu::SamplerBindingType::Filtering);
    device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
        label: Some("chamber blit"),
        entries: &[
            entry(0, texture(wgpu::TextureSampleType::Float { filterable: true }, false)),
            entry(1, sampler),
        ],
    })
}
