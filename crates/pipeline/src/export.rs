//! Other ways out: one layer as SVG, all sections as 3MF with slice stacks.

use crate::build::Build;
use crate::inputs::Inputs;
use crate::verify::{VerifyError, open_vector_file};
use crate::write::{OutputError, write_atomically};
use base::Progress;
use scan_path::slices_3mf::{Build3mf, SlicesWriter};
use scan_path::{Header, Layer, SvgOptions, layer_svg};
use slicing::Scratch;
use std::io::Write;
use std::path::Path;

/// Why a layer could not be drawn.
#[derive(Debug, thiserror::Error)]
pub enum DrawError {
    /// The vector file could not be read.
    #[error(transparent)]
    Read(#[from] VerifyError),
    /// The drawing could not be written.
    #[error(transparent)]
    Write(#[from] OutputError),
}

/// Draws one layer of a vector file, to scale in mm.
///
/// # Errors
/// If the file cannot be read or the drawing cannot be written.
pub fn write_layer_svg(
    vectors: &Path,
    layer: u32,
    jumps: bool,
    out: &Path,
) -> Result<(), DrawError> {
    let inputs = Inputs::default().and("vector file", vectors);
    inputs.check(out).map_err(OutputError::from)?;
    let mut reader = open_vector_file(vectors)?;
    let read = reader.layer(layer).map_err(|source| VerifyError::read(vectors, source))?;
    Ok(write_layer_drawing(reader.header(), &read, jumps, out, &inputs)?)
}

/// Draws one layer that is at hand, to scale in mm. `inputs` are what it is made from, which the drawing must not
/// replace.
///
/// # Errors
/// If the drawing cannot be written.
pub fn write_layer_drawing(
    header: &Header,
    layer: &Layer,
    jumps: bool,
    out: &Path,
    inputs: &Inputs,
) -> Result<(), OutputError> {
    let svg = layer_svg(header, layer, SvgOptions { jumps });
    write_atomically(out, inputs, |file| {
        file.write_all(svg.as_bytes())
            .map_err(|source| OutputError::Io { path: out.to_owned(), source })
    })
}

/// Writes every placement's true sections as a slice stack, with its posed mesh.
///
/// Sections are those of the parts after scaling against shrinkage, before beam compensation:
/// what is to be solid, for whoever makes vectors of their own.
///
/// # Errors
/// If the file cannot be written, or on cancellation.
pub fn write_slices(build: &Build, out: &Path, progress: &Progress) -> Result<(), OutputError> {
    let slices = |source| OutputError::Slices { path: out.to_owned(), source };
    let thickness = build.header.layer_thickness_mm;
    let counts = build.placed.iter().map(|placed| placed.posed.slicer.layers().len() as u64);
    progress.add_total(counts.sum());
    write_atomically(out, &build.loaded.inputs, |file| {
        let about = Build3mf {
            title: build.header.job_name.clone(),
            application: build.header.generator.clone(),
            build_space_mm: build.header.build_space_mm,
        };
        let mut writer = SlicesWriter::new(file, &about).map_err(slices)?;
        let mut scratch = Scratch::default();
        for (row, placed) in build.placed.iter().enumerate() {
            let name = build.named(row).name;
            let layers = placed.posed.slicer.layers();
            let bottom = f64::from(layers.start) * thickness;
            let mut stack = writer.object(&name.part, &name.to_string(), bottom).map_err(slices)?;
            for layer in layers {
                let (region, _) = placed.posed.slicer.proper_section(layer, &mut scratch);
                let top = f64::from(layer + 1) * thickness;
                stack.slice(top, region.rings()).map_err(slices)?;
                progress.advance(1)?;
            }
            let mesh = &build.loaded.meshes[build.loaded.parts[placed.id.part].0].mesh;
            let posed: Vec<[f64; 3]> =
                mesh.vertices.iter().map(|v| placed.posed.pose.apply(*v)).collect();
            stack.finish(&posed, &mesh.triangles).map_err(slices)?;
        }
        writer.finish().map_err(slices)?;
        Ok(())
    })
}
