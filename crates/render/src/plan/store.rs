//! Lines, shades and fills on the graphics card, kept as long as the picture shows them.

use super::fill::FillSet;
use super::lines::{CHUNK, LineSet, Shade};
use super::tone::pick;
use std::ops::Range;
use std::sync::Arc;
use wgpu::util::DeviceExt as _;

/// Segments in one buffer: 16 MiB of places. A whole number of chunks.
pub(super) const PAGE: usize = 1 << 20;
const _: () = assert!(PAGE.is_multiple_of(CHUNK));

struct Entry<K, V> {
    key: Arc<K>,
    level: usize,
    value: V,
    is_used: bool,
}

/// What was uploaded for each value that the last picture showed.
struct Shelf<K, V>(Vec<Entry<K, V>>);

impl<K, V> Shelf<K, V> {
    fn fetch(&mut self, key: &Arc<K>, level: usize, upload: impl FnOnce(&K) -> V) {
        let is_it = |entry: &&mut Entry<K, V>| entry.level == level && Arc::ptr_eq(&entry.key, key);
        if let Some(entry) = self.0.iter_mut().find(is_it) {
            entry.is_used = true;
        } else {
            let value = upload(key);
            self.0.push(Entry { key: Arc::clone(key), level, value, is_used: true });
        }
    }

    fn get(&self, key: &Arc<K>, level: usize) -> Option<&V> {
        let is_it = |entry: &&Entry<K, V>| entry.level == level && Arc::ptr_eq(&entry.key, key);
        self.0.iter().find(is_it).map(|entry| &entry.value)
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

    /// Makes sure that one of 2ᵏ segments, for `level` k, is uploaded, with its shade if there are
    /// as many shades.
    pub(super) fn fetch_lines(
        &mut self,
        device: &wgpu::Device,
        lines: &Arc<LineSet>,
        shades: Option<&Arc<Vec<Shade>>>,
        level: usize,
    ) {
        self.lines.fetch(lines, level, |lines| pages(device, lines.segments(), level));
        match shades.filter(|shades| shades.len() == lines.segments().len()) {
            Some(shades) => self.shades.fetch(shades, level, |s| pages(device, s, level)),
            None if self.zeros.is_none() => {
                self.zeros = Some(vertices(device, &vec![Shade::default(); PAGE]));
            }
            None => {}
        }
    }

    pub(super) fn fetch_fill(&mut self, device: &wgpu::Device, fill: &Arc<FillSet>) {
        self.fills.fetch(fill, 0, |fill| Self::fan(device, fill));
    }

    pub(super) fn fill(&self, fill: &Arc<FillSet>) -> Option<&Fan> {
        self.fills.get(fill, 0)
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

    /// Draws the segments that stand for a run of groups of 2ᵏ, for `level` k.
    pub(super) fn draw_lines(
        &self,
        pass: &mut wgpu::RenderPass<'_>,
        lines: &Arc<LineSet>,
        shades: Option<&Arc<Vec<Shade>>>,
        groups: Range<usize>,
        level: usize,
    ) {
        let Some(places) = self.lines.get(lines, level) else { return };
        let shades = shades.and_then(|shades| self.shades.get(shades, level));
        for page in groups.start / PAGE..groups.end.div_ceil(PAGE) {
            let start = groups.start.max(page * PAGE) - page * PAGE;
            let end = groups.end.min((page + 1) * PAGE) - page * PAGE;
            let shade = shades.map_or(self.zeros.as_ref(), |pages| pages.get(page));
            let (Some(place), Some(shade)) = (places.get(page), shade) else { return };
            #[expect(clippy::cast_possible_truncation, reason = "a page has 2²⁰ segments")]
            let count = end.saturating_sub(start) as u32;
            pass.set_vertex_buffer(0, place.slice(start as u64 * 16..));
            pass.set_vertex_buffer(1, shade.slice(start as u64 * 4..));
            pass.draw(0..4, 0..count);
        }
    }

    /// Forgets what was not fetched since the last call.
    pub(super) fn drop_unused(&mut self) {
        self.lines.drop_unused();
        self.shades.drop_unused();
        self.fills.drop_unused();
    }
}

fn pages<T: bytemuck::Pod>(device: &wgpu::Device, items: &[T], level: usize) -> Vec<wgpu::Buffer> {
    if level == 0 {
        return items.chunks(PAGE).map(|page| vertices(device, page)).collect();
    }
    let groups = 0..items.len().div_ceil(1 << level);
    let of_group = |group| items.get(pick(group, level)).or(items.last()).copied();
    let picked: Vec<T> = groups.filter_map(of_group).collect();
    picked.chunks(PAGE).map(|page| vertices(device, page)).collect()
}

fn vertices<T: bytemuck::Pod>(device: &wgpu::Device, items: &[T]) -> wgpu::Buffer {
    device.create_buffer_init(&wgpu::util::BufferInitDescriptor {
        label: Some("plan"),
        contents: bytemuck::cast_slice(items),
        usage: wgpu::BufferUsages::VERTEX,
    })
}
