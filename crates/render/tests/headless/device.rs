//! A graphics device without a window, and what it drew.

#![allow(dead_code, reason = "tests and examples each use a part")]

/// The best adapter there is (`WGPU_BACKEND` chooses among several), with limits made from its own,
/// and what it is.
///
/// # Errors
/// What is missing, in words.
pub(crate) fn adapter(
    limits: impl FnOnce(wgpu::Limits) -> wgpu::Limits,
) -> Result<(wgpu::Device, wgpu::Queue, String), Box<dyn std::error::Error>> {
    let descriptor = wgpu::InstanceDescriptor::new_without_display_handle_from_env();
    let instance = wgpu::Instance::new(descriptor);
    let options = wgpu::RequestAdapterOptions {
        power_preference: wgpu::PowerPreference::HighPerformance,
        ..Default::default()
    };
    let adapter = pollster::block_on(instance.request_adapter(&options)).map_err(|error| {
        format!("no graphics adapter ({error}); install mesa-vulkan-drivers for a software one")
    })?;
    let info = adapter.get_info();
    let (device, queue) = pollster::block_on(adapter.request_device(&wgpu::DeviceDescriptor {
        required_limits: limits(adapter.limits()),
        ..Default::default()
    }))?;
    let name = format!("{} ({:?}, {:?})", info.name, info.device_type, info.backend);
    Ok((device, queue, name))
}

/// Reads a texture of RGBA bytes back, line by line from the top.
///
/// # Errors
/// If the adapter does not give it.
pub(crate) fn pixels(
    device: &wgpu::Device,
    queue: &wgpu::Queue,
    texture: &wgpu::Texture,
) -> Result<Vec<u8>, Box<dyn std::error::Error>> {
    let (width, height) = (texture.width(), texture.height());
    let row = (width * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
    let buffer = device.create_buffer(&wgpu::BufferDescriptor {
        label: Some("picture"),
        size: u64::from(row) * u64::from(height),
        usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
        mapped_at_creation: false,
    });
    let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
    let layout =
        wgpu::TexelCopyBufferLayout { offset: 0, bytes_per_row: Some(row), rows_per_image: None };
    encoder.copy_texture_to_buffer(
        texture.as_image_copy(),
        wgpu::TexelCopyBufferInfo { buffer: &buffer, layout },
        texture.size(),
    );
    queue.submit([encoder.finish()]);
    buffer.map_async(wgpu::MapMode::Read, .., |_| {});
    device.poll(wgpu::PollType::wait_indefinitely())?;
    let bytes = buffer.slice(..).get_mapped_range()?;
    Ok(bytes.chunks(row as usize).flat_map(|line| &line[..width as usize * 4]).copied().collect())
}
