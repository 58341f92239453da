//! What lies on the adapter: meshes by their id, and buffers that grow.

use super::prepare::{PreparedMesh, Vertex};
use super::scene::Line3;
use super::select::Outline;
use std::ops::Range;
use wgpu::util::DeviceExt as _;
use wgpu::{Buffer, BufferUsages, Device, Queue};

/// Where one level of detail lies in the buffers of its mesh.
pub(super) struct LevelPlace {
    pub faces: Range<u32>,
    pub edges: Range<u32>,
    pub base_vertex: i32,
}

/// A mesh on the adapter.
pub(super) struct StoredMesh {
    pub vertices: Buffer,
    pub indices: Buffer,
    pub levels: Vec<LevelPlace>,
}

/// Puts all levels of a mesh into one pair of buffers; `None` if there is nothing to draw, or more
/// than one buffer of this device may hold.
pub(super) fn store(device: &Device, mesh: &PreparedMesh) -> Option<(StoredMesh, Outline)> {
    let mut outline = Outline::from(mesh);
    let mut vertices: Vec<Vertex> = Vec::new();
    let mut indices: Vec<u32> = Vec::new();
    let mut levels = Vec::new();
    let largest = usize::try_from(device.limits().max_buffer_size).unwrap_or(usize::MAX);
    for (nr, level) in mesh.levels.iter().enumerate() {
        let shaded = &level.shaded;
        let count = shaded.faces.len() + shaded.edges.len();
        if shaded.vertices.len() * size_of::<Vertex>() > largest / 2 || count > largest / 8 {
            outline.levels.remove(0); // too large for this device: coarser levels stand for it
            debug_assert!(nr == 0 || levels.is_empty());
            continue;
        }
        let at = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let base_vertex = i32::try_from(vertices.len()).ok()?;
        let start = indices.len();
        vertices.extend(&shaded.vertices);
        indices.extend(&shaded.faces);
        let middle = indices.len();
        indices.extend(&shaded.edges);
        let end = indices.len();
        levels.push(LevelPlace {
            faces: at(start)..at(middle),
            edges: at(middle)..at(end),
            base_vertex,
        });
    }
    if levels.is_empty() {
        return None;
    }
    let buffer = |label, contents, usage| {
        device.create_buffer_init(&wgpu::util::BufferInitDescriptor {
            label: Some(label),
            contents,
            usage,
        })
    };
    let vertices = buffer("mesh vertices", bytemuck::cast_slice(&vertices), BufferUsages::VERTEX);
    let indices = buffer("mesh indices", bytemuck::cast_slice(&indices), BufferUsages::INDEX);
    Some((StoredMesh { vertices, indices, levels }, outline))
}

/// A line as the adapter gets it: 32 bytes.
#[repr(C)]
#[derive(Clone, Copy, Debug, bytemuck::Pod, bytemuck::Zeroable)]
pub(super) struct Stroke {
    a: [f32; 3],
    b: [f32; 3],
    colour: [u8; 4],
    width: f32,
}

impl From<&Line3> for Stroke {
    fn from(line: &Line3) -> Self {
        Self { a: line.a, b: line.b, colour: line.colour, width: line.width }
    }
}

/// A buffer of instances that is replaced by a larger one when it is too small.
pub(super) struct Growing {
    pub buffer: Buffer,
    label: &'static str,
}

impl Growing {
    pub(super) fn new(device: &Device, label: &'static str) -> Self {
        Self { buffer: Self::make(device, label, 1024), label }
    }

    fn make(device: &Device, label: &str, size: u64) -> Buffer {
        device.create_buffer(&wgpu::BufferDescriptor {
            label: Some(label),
            size,
            usage: BufferUsages::VERTEX | BufferUsages::COPY_DST,
            mapped_at_creation: false,
        })
    }

    pub(super) fn write<T: bytemuck::Pod>(&mut self, device: &Device, queue: &Queue, items: &[T]) {
        let bytes: &[u8] = bytemuck::cast_slice(items);
        let needed = bytes.len() as u64;
        if needed > self.buffer.size() {
            self.buffer = Self::make(device, self.label, needed.next_power_of_two());
        }
        if !bytes.is_empty() {
            queue.write_buffer(&self.buffer, 0, bytes);
        }
    }
}
