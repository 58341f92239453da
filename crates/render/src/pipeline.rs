//! Pipelines that draw flat pictures: one sample to a pixel, no depth.

/// What differs between such pipelines.
pub(crate) struct Recipe<'a> {
    pub(crate) label: &'a str,
    pub(crate) layout: &'a wgpu::PipelineLayout,
    pub(crate) module: &'a wgpu::ShaderModule,
    /// Names of the vertex and the fragment function.
    pub(crate) entries: [&'a str; 2],
    pub(crate) buffers: &'a [Option<wgpu::VertexBufferLayout<'a>>],
    pub(crate) topology: wgpu::PrimitiveTopology,
    pub(crate) stencil: Option<wgpu::DepthStencilState>,
    pub(crate) target: wgpu::TextureFormat,
    pub(crate) writes: wgpu::ColorWrites,
}

/// Builds one; what it draws lies over what is there, by its opacity (colours premultiplied).
pub(crate) fn pipeline(device: &wgpu::Device, recipe: &Recipe<'_>) -> wgpu::RenderPipeline {
    device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: Some(recipe.label),
        layout: Some(recipe.layout),
        vertex: wgpu::VertexState {
            module: recipe.module,
            entry_point: Some(recipe.entries[0]),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            buffers: recipe.buffers,
        },
        primitive: wgpu::PrimitiveState { topology: recipe.topology, ..Default::default() },
        depth_stencil: recipe.stencil.clone(),
        multisample: wgpu::MultisampleState::default(),
        fragment: Some(wgpu::FragmentState {
            module: recipe.module,
            entry_point: Some(recipe.entries[1]),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            targets: &[Some(wgpu::ColorTargetState {
                format: recipe.target,
                blend: Some(wgpu::BlendState::PREMULTIPLIED_ALPHA_BLENDING),
                write_mask: recipe.writes,
            })],
        }),
        multiview_mask: None,
        cache: None,
    })
}
