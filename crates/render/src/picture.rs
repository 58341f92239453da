//! Textures that pictures are drawn into, and their way back to the processor.

/// A texture of one level.
pub(crate) fn texture(
    device: &wgpu::Device,
    label: &str,
    size_px: [u32; 2],
    format: wgpu::TextureFormat,
    samples: u32,
    usage: wgpu::TextureUsages,
) -> wgpu::Texture {
    device.create_texture(&wgpu::TextureDescriptor {
        label: Some(label),
        size: wgpu::Extent3d { width: size_px[0], height: size_px[1], depth_or_array_layers: 1 },
        mip_level_count: 1,
        sample_count: samples,
        dimension: wgpu::TextureDimension::D2,
        format,
        usage,
        view_formats: &[],
    })
}

/// All of a texture.
pub(crate) fn view_of(texture: &wgpu::Texture) -> wgpu::TextureView {
    texture.create_view(&wgpu::TextureViewDescriptor::default())
}

/// Why a picture did not come back from the graphics card.
#[derive(Debug, thiserror::Error)]
pub enum ReadBackError {
    /// The picture does not fit a buffer.
    #[error("the picture has {bytes} bytes, the graphics card hands out {most} at a time")]
    TooLarge {
        /// What would have to be read.
        bytes: u64,
        /// The device's limit.
        most: u64,
    },
    /// The device did not finish.
    #[error("the graphics card did not finish: {0}")]
    Unfinished(#[from] wgpu::PollError),
    /// The device finished, but its memory cannot be read.
    #[error("the graphics card's memory cannot be read: {0}")]
    Unreadable(#[from] wgpu::MapRangeError),
}

/// Reads a texture with four bytes to the pixel back, line by line from the top. Waits for the
/// device: not for a window's thread. The texture needs the usage `COPY_SRC`.
///
/// # Errors
/// If the picture is too large for one buffer, or the device does not give it.
pub fn read_back(
    device: &wgpu::Device,
    queue: &wgpu::Queue,
    texture: &wgpu::Texture,
) -> Result<Vec<u8>, ReadBackError> {
    let (width, height) = (texture.width(), texture.height());
    let row = (width * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
    let bytes = u64::from(row) * u64::from(height);
    let most = device.limits().max_buffer_size;
    if bytes > most {
        return Err(ReadBackError::TooLarge { bytes, most });
    }
    let buffer = device.create_buffer(&wgpu::BufferDescriptor {
        label: Some("picture"),
        size: bytes,
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
    // a failure to map shows below, where the range is asked for
    buffer.map_async(wgpu::MapMode::Read, .., |_| {});
    device.poll(wgpu::PollType::wait_indefinitely())?;
    let bytes = buffer.slice(..).get_mapped_range()?;
    Ok(bytes.chunks(row as usize).flat_map(|line| &line[..width as usize * 4]).copied().collect())
}
