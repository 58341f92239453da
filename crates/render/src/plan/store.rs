//! Lines, shades and fills on the graphics card, kept as long as the picture shows them.

use super::fill::FillSet;
use super::lines::{CHUNK, LineSet, Shade};
use std::ops::Range;
use std::sync::Arc;
use wgpu::util::DeviceExt as _;

/// Segments in one buffer: 16 MiB of places. A whole number of chunks.
pub(super) const PAGE: usize = 1 << 20;
const _: () = assert!(PAGE.is_multiple_of(CHUNK));

struct Entry<K, V> {
    key: Arc<K>,
    value: V,
    is_used: bool,
}

/// What was uploaded for each value that the last picture showed.
struct Shelf<K, V>(Vec<Entry<K, V>>);

impl<K, V> Shelf<K, V> {
    fn fetch(&mut self, key: &Arc<K>, upload: impl FnOnce(&K) -> V) {
        if let Some(entry) = self.0.iter_mut().find(|entry| Arc::ptr_eq(&entry.key, key)) {
            entry.is_used = true;
        } else {
            let value = upload(key);
            self.0.push(Entry { key: Arc::clone(key), value, is_used: true });
        }
    }

    fn get(&self, key: &Arc<K>) -> Option<&V> {
        let entry = self.0.iter().find(|entry| Arc::ptr_eq(&entry.key, key));
        entry.map(|entry| &entry.value)
    }

    fn drop_unused(&mut self) {
        self.0.retain_mut(|entry| std::mem::take(&mut entry.is_used));
    }
}

/// Corners and triangles of a fill.
pub(super) struct Fan {
    pub points: wgpu::Buffer,
    pub indices: wgpu::Buffer,
    pub index_count: u32,
}

pub(super) struct Store {
    lines: Shelf<LineSet, Vec<wgpu::Buffer>>,
    shades: Shelf<Vec<Shade>, Vec<wgpu::Buffer>>,
    fills: Shelf<FillSet, Fan>,
    /// Shades for lines without.
    zeros: Option<wgpu::Buffer>,
}

impl Store {
    pub(super) fn new() -> Self {
        Self { lines: Shelf(vec![]), shades: Shelf(vec![]), fills: Shelf(vec![]), zeros: None }
    }

    /// Makes sure that lines, and their shades if there are as many, are uploaded.
    pub(super) fn fetch_lines(
        &mut self,
        device: &wgpu::Device,
        lines: &Arc<LineSet>,
        shades: Option<&Arc<Vec<Shade>>>,
    ) {
        self.lines.fetch(lines, |lines| pages(device, lines.segments()));
        match shades.filter(|shades| shades.len() == lines.segments().len()) {
            Some(shades) => self.shades.fetch(shades, |shades| pages(device, shades)),
            None if self.zeros.is_none() => {
                self.zeros = Some(vertices(device, &vec![Shade::default(); PAGE]));
            }
            None => {}
        }
    }

    pub(super) fn fetch_fill(&mut self, device: &wgpu::Device, fill: &Arc<FillSet>) {
        self.fills.fetch(fill, |fill| Self::fan(device, fill));
    }

    pub(super) fn fill(&self, fill: &Arc<FillSet>) -> Option<&Fan> {
        self.fills.get(fill)
    }

    /// Uploads a fill that is used once.
    pub(super) fn fan(device: &wgpu::Device, fill: &FillSet) -> Fan {
        let indices = device.create_buffer_init(&wgpu::util::BufferInitDescriptor {
            label: Some("plan fill"),
            contents: bytemuck::cast_slice(&fill.indices),
            usage: wgpu::BufferUsages::INDEX,
        });
        #[expect(clippy::cast_possible_truncation, reason = "points are fewer than 2³²")]
        let index_count = fill.indices.len() as u32;
        Fan { points: vertices(device, &fill.points), indices, index_count }
    }

    /// Draws every `stride`-th segment of a run.
    pub(super) fn draw_lines(
        &self,
        pass: &mut wgpu::RenderPass<'_>,
        lines: &Arc<LineSet>,
        shades: Option<&Arc<Vec<Shade>>>,
        run: Range<usize>,
        stride: usize,
    ) {
        let Some(places) = self.lines.get(lines) else { return };
        let shades = shades.and_then(|shades| self.shades.get(shades));
        for page in run.start / PAGE..run.end.div_ceil(PAGE) {
            let start = run.start.max(page * PAGE) - page * PAGE;
            let end = run.end.min((page + 1) * PAGE) - page * PAGE;
            let shade = shades.map_or(self.zeros.as_ref(), |pages| pages.get(page));
            let (Some(place), Some(shade)) = (places.get(page), shade) else { return };
            // with a stride, the last instance may begin less than a stride before the end
            #[expect(clippy::cast_possible_truncation, reason = "a page has 2²⁰ segments")]
            let count = (end.saturating_sub(start) / stride) as u32;
            if count > 0 {
                pass.set_vertex_buffer(0, place.slice(start as u64 * 16..));
                pass.set_vertex_buffer(1, shade.slice(start as u64 * 4..));
                pass.draw(0..4, 0..count);
            }
        }
    }

    /// Forgets what was not fetched since the last call.
    pub(super) fn drop_unused(&mut self) {
        self.lines.drop_unused();
        self.shades.drop_unused();
        self.fills.drop_unused();
    }
}

fn pages<T: bytemuck::Pod>(device: &wgpu::Device, items: &[T]) -> Vec<wgpu::Buffer> {
    items.chunks(PAGE).map(|page| vertices(device, page)).collect()
}

fn vertices<T: bytemuck::Pod>(device: &wgpu::Device, items: &[T]) -> wgpu::Buffer {
    device.create_buffer_init(&wgpu::util::BufferInitDescriptor {
        label: Some("plan"),
        contents: bytemuck::cast_slice(items),
        usage: wgpu::BufferUsages::VERTEX,
    })
}
