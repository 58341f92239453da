//! Meshes made ready for drawing and picking, in the background.

use super::clearance::{Clearance, ClearanceQuery};
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::widgets::drawable::DrawableMesh;
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use nesting::Solid;
use pipeline::LoadedMesh;
use render::chamber::{MeshId, PreparedMesh, prepare_mesh};
use std::sync::Arc;

/// A mesh as the chamber needs it.
pub(super) struct CachedMesh {
    /// Under which the renderer keeps it.
    pub(super) id: MeshId,
    /// For the renderer.
    pub(super) drawn: Arc<PreparedMesh>,
    /// For picking and distances.
    pub(super) solid: Arc<Solid>,
}

/// A mesh that was made ready.
type Made = (MeshId, Arc<PreparedMesh>, Arc<Solid>);

/// One mesh that was asked for. Holding the mesh keeps its address from being used again.
struct Entry {
    loaded: Arc<LoadedMesh>,
    id: MeshId,
    cached: Option<CachedMesh>,
    /// Making it ready crashed: it is not tried again.
    has_failed: bool,
}

/// Everything that was made ready, and what makes it.
pub(super) struct MeshCache {
    entries: Vec<Entry>,
    next: u64,
    meshes: Latest<Made>,
    /// The mesh that is being made ready.
    making: Option<MeshId>,
    distances: Latest<Clearance>,
    pub(super) clearance: Option<Clearance>,
}

impl MeshCache {
    pub(super) fn new(threads: &Threads) -> Self {
        Self {
            entries: Vec::new(),
            next: 0,
            meshes: Latest::new(threads, "Preparing a mesh", Priority::Normal),
            making: None,
            distances: Latest::new(threads, "Measuring a distance", Priority::Normal),
            clearance: None,
        }
    }

    /// Takes what is done, asks for what the job has newly got, forgets what it has no more.
    pub(super) fn keep_up(&mut self, model: &Model) {
        while let Some(made) = self.meshes.take() {
            let making = self.making.take();
            let entry = self.entries.iter_mut().find(|entry| Some(entry.id) == making);
            match (entry, made) {
                (Some(entry), Ok((id, drawn, solid))) => {
                    entry.cached = Some(CachedMesh { id, drawn, solid });
                }
                (Some(entry), Err(_)) => entry.has_failed = true,
                (None, _) => {}
            }
        }
        while let Some(clearance) = self.distances.take() {
            self.clearance = clearance.ok();
        }
        let wanted: Vec<&Arc<LoadedMesh>> =
            model.results.meshes.values().filter_map(MeshState::ready).collect();
        self.entries.retain(|entry| wanted.iter().any(|mesh| Arc::ptr_eq(mesh, &entry.loaded)));
        for mesh in wanted {
            if self.entry(mesh).is_none() {
                let (loaded, id) = (Arc::clone(mesh), MeshId(self.next));
                self.next += 1;
                self.entries.push(Entry { loaded, id, cached: None, has_failed: false });
            }
        }
        let next = self.entries.iter().find(|entry| entry.is_pending());
        if let (Some(entry), None) = (next, self.making) {
            let (id, loaded) = (entry.id, Arc::clone(&entry.loaded));
            self.making = Some(id);
            self.meshes.ask(move |background| {
                let (mesh, stop) = (&loaded.mesh, || background.progress.check().is_err());
                let drawn = prepare_mesh(&mesh.vertices, &mesh.triangles, &stop)?;
                Some((id, Arc::new(drawn), loaded.solid()))
            });
        }
    }

    /// Asks for a distance; an older one that still waits is dropped.
    pub(super) fn measure(&self, query: ClearanceQuery) {
        self.distances.ask(move |background| query.answer(&background.progress));
    }

    fn entry(&self, mesh: &Arc<LoadedMesh>) -> Option<&Entry> {
        self.entries.iter().find(|entry| Arc::ptr_eq(&entry.loaded, mesh))
    }

    /// A mesh made ready, once it is.
    pub(super) fn cached(&self, mesh: &Arc<LoadedMesh>) -> Option<&CachedMesh> {
        self.entry(mesh)?.cached.as_ref()
    }

    /// All that is ready.
    pub(super) fn all_cached(&self) -> impl Iterator<Item = &CachedMesh> {
        self.entries.iter().filter_map(|entry| entry.cached.as_ref())
    }

    /// All that is ready, with the meshes that it was made from.
    pub(super) fn drawable(&self) -> impl Iterator<Item = DrawableMesh> {
        self.entries.iter().filter_map(|entry| {
            let CachedMesh { id, drawn, solid: _ } = entry.cached.as_ref()?;
            let loaded = Arc::clone(&entry.loaded);
            Some(DrawableMesh { loaded, id: *id, drawn: Arc::clone(drawn) })
        })
    }

    /// How many meshes are not ready yet.
    pub(super) fn pending(&self) -> usize {
        self.entries.iter().filter(|entry| entry.is_pending()).count()
    }

    /// Whether something is being made or measured.
    pub(super) fn is_busy(&self) -> bool {
        self.pending() > 0 || self.distances.is_busy()
    }
}

impl Entry {
    fn is_pending(&self) -> bool {
        self.cached.is_none() && !self.has_failed
    }
}
