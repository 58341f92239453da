//! Pictures as PNG files.

use crate::inputs::Inputs;
use crate::write::{OutputError, write_atomically};
use std::io::Write;
use std::path::Path;

/// Writes a picture of `width` × `height` pixels: `pixels` are red green blue, row by row from the top left, and
/// there are that many. `inputs` are what it is made from, which it must not replace.
///
/// # Errors
/// If the file cannot be written, or the number of pixels is another.
pub fn write_picture(
    path: &Path,
    [width, height]: [u32; 2],
    pixels: &[[u8; 3]],
    inputs: &Inputs,
) -> Result<(), OutputError> {
    save(path, inputs, png_of([width, height], pixels, None))
}

/// Writes the bytes of a picture, if there are any.
pub(crate) fn save(
    path: &Path,
    inputs: &Inputs,
    bytes: Result<Vec<u8>, png::EncodingError>,
) -> Result<(), OutputError> {
    write_atomically(path, inputs, |file| {
        let bytes = bytes.map_err(std::io::Error::other);
        let io = |source| OutputError::Io { path: path.to_owned(), source };
        bytes.and_then(|bytes| file.write_all(&bytes)).map_err(io)
    })
}

/// The bytes of a PNG file; it says how many pixels make a metre if that is known.
pub(crate) fn png_of(
    [width, height]: [u32; 2],
    pixels: &[[u8; 3]],
    per_metre: Option<u32>,
) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let unit = png::Unit::Meter;
    encoder.set_pixel_dims(per_metre.map(|n| png::PixelDimensions { xppu: n, yppu: n, unit }));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels.as_flattened())?;
    writer.finish()?;
    Ok(bytes)
}
