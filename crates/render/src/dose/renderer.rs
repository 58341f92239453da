//! Sums up the dose on the graphics card, and colours it.

use super::colours::{DoseColours, Outside};
use super::error::DoseError;
use super::pipelines::{BandUniform, DOSE, Pipelines, ShowUniform};
use super::tiles::{Band, DoseTiles, TILE_PX};
use crate::blit::{Blit, COLOUR};
use crate::picture::{read_back, texture, view_of};
use crate::plan::PlanView;
use std::sync::Arc;

/// How the dose is to be seen.
#[derive(Clone, Debug, PartialEq)]
pub struct DoseShow {
    /// What the window shows; the picture of the dose is put where it belongs.
    pub view: PlanView,
    /// Size of what the window shows, px.
    pub size_px: [u32; 2],
    /// Colours.
    pub colours: Arc<DoseColours>,
    /// Opacity of the whole, a factor.
    pub opacity: f32,
}

/// The dose of each pixel, and what it was made from.
struct Dose {
    tiles: Arc<DoseTiles>,
    texture: wgpu::Texture,
    show: wgpu::BindGroup,
}

/// Where a band of strokes is uploaded to.
struct BandBuffers {
    uniform: wgpu::Buffer,
    starts: wgpu::Buffer,
    strokes: wgpu::Buffer,
}

impl BandBuffers {
    /// Of at least the sizes of a band's lists, bytes.
    fn new(device: &wgpu::Device, starts: u64, strokes: u64) -> Self {
        let buffer = |size, usage| {
            device.create_buffer(&wgpu::BufferDescriptor {
                label: Some("dose"),
                size,
                usage: usage | wgpu::BufferUsages::COPY_DST,
                mapped_at_creation: false,
            })
        };
        Self {
            uniform: buffer(size_of::<BandUniform>() as u64, wgpu::BufferUsages::UNIFORM),
            starts: buffer(starts, wgpu::BufferUsages::STORAGE),
            strokes: buffer(strokes, wgpu::BufferUsages::STORAGE),
        }
    }
}

/// The dose in colours, and what it shows.
struct Picture {
    tiles: Arc<DoseTiles>,
    show: DoseShow,
    colour: wgpu::TextureView,
    blit: wgpu::BindGroup,
}

/// Draws dose. Holds what is on the graphics card.
pub struct DoseRenderer {
    pipelines: Pipelines,
    blit: Blit,
    show: wgpu::Buffer,
    /// What bands were uploaded to: a layer may have 130 MB of strokes, and new buffers are zeroed first.
    bands: Vec<BandBuffers>,
    dose: Option<Dose>,
    picture: Option<Picture>,
}

impl DoseRenderer {
    /// Prepares for a window whose colours have the format `target`, without multisampling or
    /// depth.
    ///
    /// # Errors
    /// [`DoseError::NoCompute`] if the device runs no compute shaders, or was asked for none.
    pub fn new(device: &wgpu::Device, target: wgpu::TextureFormat) -> Result<Self, DoseError> {
        let limits = device.limits();
        let can_compute = limits.max_compute_invocations_per_workgroup >= 2 * TILE_PX
            && limits.max_storage_buffers_per_shader_stage >= 2
            && limits.max_storage_textures_per_shader_stage >= 1;
        if !can_compute {
            return Err(DoseError::NoCompute);
        }
        let show = device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("dose colours"),
            size: size_of::<ShowUniform>() as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let (pipelines, blit) = (Pipelines::new(device), Blit::new(device, target));
        Ok(Self { pipelines, blit, show, bands: Vec::new(), dose: None, picture: None })
    }

    /// Sums up the dose of each pixel, unless that was done already. Returns whether anything was
    /// done. The work is over when the device has done what the encoder holds.
    ///
    /// # Errors
    /// [`DoseError::Device`] if the device cannot hold the picture or the strokes; the picture
    /// stays what it was.
    pub fn prepare(
        &mut self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        encoder: &mut wgpu::CommandEncoder,
        tiles: &Arc<DoseTiles>,
    ) -> Result<bool, DoseError> {
        if self.dose.as_ref().is_some_and(|dose| Arc::ptr_eq(&dose.tiles, tiles)) {
            return Ok(false);
        }
        check(&device.limits(), tiles)?;
        let size_px = tiles.frame().size_px;
        let texture = match self.dose.take() {
            Some(dose) if dose.tiles.frame().size_px == size_px => dose.texture,
            _ => {
                let usage = wgpu::TextureUsages::STORAGE_BINDING
                    | wgpu::TextureUsages::TEXTURE_BINDING
                    | wgpu::TextureUsages::COPY_SRC;
                texture(device, "dose", size_px, DOSE, 1, usage)
            }
        };
        let view = view_of(&texture);
        self.upload(device, queue, tiles);
        let groups: Vec<_> =
            self.bands.iter().map(|band| self.band_group(device, band, &view)).collect();
        {
            let mut pass = encoder.begin_compute_pass(&wgpu::ComputePassDescriptor::default());
            pass.set_pipeline(&self.pipelines.sum);
            for (band, group) in tiles.bands().iter().zip(&groups) {
                pass.set_bind_group(0, group, &[]);
                pass.dispatch_workgroups(tiles.columns(), band.rows, 1);
            }
        }
        let show = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("dose colours"),
            layout: &self.pipelines.show_layout,
            entries: &[entry(0, self.show.as_entire_binding()), entry(1, whole(&view))],
        });
        self.dose = Some(Dose { tiles: Arc::clone(tiles), texture, show });
        Ok(true)
    }

    /// Colours the dose, in the picture that is painted, unless the picture shows that already.
    /// Returns whether anything was drawn. Far cheaper than [`Self::prepare`], which comes first.
    /// The size is limited to what the device can do.
    pub fn show(
        &mut self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        encoder: &mut wgpu::CommandEncoder,
        mut show: DoseShow,
    ) -> bool {
        let Some(dose) = &self.dose else { return false };
        let most = device.limits().max_texture_dimension_2d;
        show.size_px = show.size_px.map(|size| size.clamp(1, most));
        let is_shown =
            |picture: &Picture| Arc::ptr_eq(&picture.tiles, &dose.tiles) && picture.show == show;
        if self.picture.as_ref().is_some_and(is_shown) {
            return false;
        }
        let uniform = show_uniform(&show, &dose.tiles);
        queue.write_buffer(&self.show, 0, bytemuck::bytes_of(&uniform));
        let (colour, blit) = match self.picture.take() {
            Some(picture) if picture.show.size_px == show.size_px => (picture.colour, picture.blit),
            _ => {
                let usage =
                    wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::TEXTURE_BINDING;
                let size_px = show.size_px;
                let colour = view_of(&texture(device, "dose colours", size_px, COLOUR, 1, usage));
                let blit = self.blit.bind(device, &colour);
                (colour, blit)
            }
        };
        {
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("dose colours"),
                color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                    view: &colour,
                    depth_slice: None,
                    resolve_target: None,
                    ops: wgpu::Operations {
                        load: wgpu::LoadOp::Clear(wgpu::Color::TRANSPARENT),
                        store: wgpu::StoreOp::Store,
                    },
                })],
                ..Default::default()
            });
            pass.set_pipeline(&self.pipelines.show);
            pass.set_bind_group(0, &dose.show, &[]);
            pass.draw(0..3, 0..1);
        }
        self.picture = Some(Picture { tiles: Arc::clone(&dose.tiles), show, colour, blit });
        true
    }

    /// Puts the coloured dose onto the viewport of a render pass, over what is there.
    pub fn paint(&self, pass: &mut wgpu::RenderPass<'_>) {
        if let Some(picture) = &self.picture {
            self.blit.paint(pass, &picture.blit);
        }
    }

    /// What the picture was made from, if there is one.
    pub fn tiles(&self) -> Option<&Arc<DoseTiles>> {
        self.dose.as_ref().map(|dose| &dose.tiles)
    }

    /// The dose of each pixel, J/mm², line by line from the top; nothing before the first
    /// [`Self::prepare`]. Waits for the device: not for a window's thread.
    ///
    /// # Errors
    /// [`DoseError::ReadBack`].
    pub fn dose(&self, device: &wgpu::Device, queue: &wgpu::Queue) -> Result<Vec<f32>, DoseError> {
        let Some(dose) = &self.dose else { return Ok(Vec::new()) };
        let bytes = read_back(device, queue, &dose.texture)?;
        Ok(bytes.as_chunks::<4>().0.iter().map(|pixel| f32::from_ne_bytes(*pixel)).collect())
    }

    /// Uploads all bands, to the buffers of the picture before where they are large enough.
    fn upload(&mut self, device: &wgpu::Device, queue: &wgpu::Queue, tiles: &DoseTiles) {
        self.bands.truncate(tiles.bands().len());
        let size_px = tiles.frame().size_px;
        for (number, band) in tiles.bands().iter().enumerate() {
            let uniform =
                BandUniform { size_px, columns: tiles.columns(), first_row: band.first_row };
            // a binding must not be empty
            let none = [[0.0; 6]];
            let strokes = if band.strokes.is_empty() { &none[..] } else { &band.strokes };
            let [starts, strokes]: [&[u8]; 2] =
                [bytemuck::cast_slice(&band.starts), bytemuck::cast_slice(strokes)];
            let sizes = [starts.len() as u64, strokes.len() as u64];
            let is_enough = |buffers: &BandBuffers| {
                buffers.starts.size() >= sizes[0] && buffers.strokes.size() >= sizes[1]
            };
            if !self.bands.get(number).is_some_and(is_enough) {
                self.bands.truncate(number);
                self.bands.push(BandBuffers::new(device, sizes[0], sizes[1]));
            }
            let buffers = &self.bands[number];
            queue.write_buffer(&buffers.uniform, 0, bytemuck::bytes_of(&uniform));
            queue.write_buffer(&buffers.starts, 0, starts);
            queue.write_buffer(&buffers.strokes, 0, strokes);
        }
    }

    fn band_group(
        &self,
        device: &wgpu::Device,
        band: &BandBuffers,
        dose: &wgpu::TextureView,
    ) -> wgpu::BindGroup {
        device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("dose"),
            layout: &self.pipelines.sum_layout,
            entries: &[
                entry(0, band.uniform.as_entire_binding()),
                entry(1, band.starts.as_entire_binding()),
                entry(2, band.strokes.as_entire_binding()),
                entry(3, whole(dose)),
            ],
        })
    }
}

fn entry(binding: u32, resource: wgpu::BindingResource<'_>) -> wgpu::BindGroupEntry<'_> {
    wgpu::BindGroupEntry { binding, resource }
}

fn whole(view: &wgpu::TextureView) -> wgpu::BindingResource<'_> {
    wgpu::BindingResource::TextureView(view)
}

/// Whether the device can hold the picture and each band.
fn check(limits: &wgpu::Limits, tiles: &DoseTiles) -> Result<(), DoseError> {
    let within = |what, needed: u64, most: u64| {
        if needed <= most { Ok(()) } else { Err(DoseError::Device { what, needed, most }) }
    };
    let edge = tiles.frame().size_px.into_iter().max().unwrap_or(0);
    within("pixels along an edge", edge.into(), limits.max_texture_dimension_2d.into())?;
    let most = limits.max_storage_buffer_binding_size.min(limits.max_buffer_size);
    let needed = tiles.bands().iter().map(Band::bytes).max().unwrap_or(0);
    within("bytes in a buffer", needed, most)
}

#[expect(clippy::cast_possible_truncation, reason = "single precision suffices for a picture")]
fn show_uniform(show: &DoseShow, tiles: &DoseTiles) -> ShowUniform {
    let (frame, view) = (tiles.frame(), show.view.limited());
    let [low, high] = show.colours.range_j_mm2();
    let colours = show.colours.colours();
    let last_colour = (colours.len() - 1) as f64;
    let corner_nm = view.nm_at([0.0; 2], show.size_px.map(f64::from));
    let origin_px = frame.view.px_of(corner_nm, frame.size_px.map(f64::from));
    let clears_below = show.colours.outside() == Outside::Transparent;
    let mut uniform = ShowUniform {
        origin_px: origin_px.map(|c| c as f32),
        step: (frame.view.px_per_mm / view.px_per_mm) as f32,
        low_j_mm2: low as f32,
        colours_per_j_mm2: (last_colour / (high - low)) as f32,
        last_colour: last_colour as f32,
        opacity: show.opacity,
        clears_below: f32::from(u8::from(clears_below)),
        colours: [[0.0; 4]; DoseColours::MOST],
    };
    uniform.colours[..colours.len()].copy_from_slice(colours);
    uniform
}
