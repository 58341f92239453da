//! Pictures as PNG.

use render::read_back;

/// Reads a texture of RGBA bytes back and packs it as PNG.
///
/// # Errors
/// If the adapter does not give it.
pub(crate) fn png(
    device: &wgpu::Device,
    queue: &wgpu::Queue,
    texture: &wgpu::Texture,
) -> Result<Vec<u8>, Box<dyn std::error::Error>> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, texture.width(), texture.height());
    encoder.set_color(png::ColorType::Rgba);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&read_back(device, queue, texture)?)?;
    writer.finish()?;
    Ok(bytes)
}
