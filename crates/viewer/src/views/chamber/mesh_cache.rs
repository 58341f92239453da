//! Meshes made ready for drawing and picking, on a thread of their own.

use super::clearance::{Clearance, ClearanceQuery};
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::widgets::thumbnails::DrawableMesh;
use nesting::Solid;
use pipeline::LoadedMesh;
use render::chamber::{MeshId, PreparedMesh, prepare_mesh};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

/// A mesh as the chamber needs it.
pub(super) struct CachedMesh {
    /// Under which the renderer keeps it.
    pub(super) id: MeshId,
    /// For the renderer.
    pub(super) drawn: Arc<PreparedMesh>,
    /// For picking and distances.
    pub(super) solid: Arc<Solid>,
}

enum Order {
    Prepare(MeshId, Arc<LoadedMesh>),
    Measure(Box<ClearanceQuery>),
}

enum Delivery {
    Prepared(MeshId, Arc<PreparedMesh>, Arc<Solid>),
    Measured(Box<Clearance>),
}

/// One mesh that was asked for. Holding the mesh keeps its address from being used again.
struct Entry {
    loaded: Arc<LoadedMesh>,
    id: MeshId,
    cached: Option<CachedMesh>,
}

/// Everything that was made ready, and the thread that does it.
pub(super) struct MeshCache {
    entries: Vec<Entry>,
    next: u64,
    orders: Option<SyncSender<Order>>,
    waiting: Vec<Order>,
    deliveries: Receiver<Delivery>,
    closing: Arc<AtomicBool>,
    pub(super) clearance: Option<Clearance>,
}

impl Drop for MeshCache {
    fn drop(&mut self) {
        self.closing.store(true, Relaxed);
    }
}

impl MeshCache {
    /// Starts the thread; `wake` is called when something is ready.
    pub(super) fn new(wake: impl Fn() + Send + 'static) -> Self {
        let (orders, to_do) = sync_channel::<Order>(1);
        let (done, deliveries) = sync_channel::<Delivery>(64);
        let closing = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&closing);
        let work = move || {
            while let Ok(order) = to_do.recv() {
                // A mesh that makes a bug show must not take the others with it.
                let delivery = catch_unwind(AssertUnwindSafe(|| carry_out(order, &stop)));
                if let Ok(Some(delivery)) = delivery
                    && done.send(delivery).is_err()
                {
                    return;
                }
                wake();
            }
        };
        let thread = std::thread::Builder::new().name("chamber meshes".to_owned()).spawn(work);
        Self {
            entries: Vec::new(),
            next: 0,
            orders: thread.is_ok().then_some(orders),
            waiting: Vec::new(),
            deliveries,
            closing,
            clearance: None,
        }
    }

    /// Takes what is done, orders what the job has newly got, forgets what it has no more.
    pub(super) fn keep_up(&mut self, model: &Model) {
        while let Ok(delivery) = self.deliveries.try_recv() {
            match delivery {
                Delivery::Prepared(id, drawn, solid) => {
                    if let Some(entry) = self.entries.iter_mut().find(|entry| entry.id == id) {
                        entry.cached = Some(CachedMesh { id, drawn, solid });
                    }
                }
                Delivery::Measured(clearance) => self.clearance = Some(*clearance),
            }
        }
        let wanted: Vec<&Arc<LoadedMesh>> =
            model.results.meshes.values().filter_map(MeshState::ready).collect();
        self.entries.retain(|entry| wanted.iter().any(|mesh| Arc::ptr_eq(mesh, &entry.loaded)));
        for mesh in wanted {
            if self.entry(mesh).is_none() {
                let id = MeshId(self.next);
                self.next += 1;
                self.entries.push(Entry { loaded: Arc::clone(mesh), id, cached: None });
                self.waiting.push(Order::Prepare(id, Arc::clone(mesh)));
            }
        }
        self.hand_out();
    }

    /// Asks for a distance; an older one that still waits is dropped.
    pub(super) fn measure(&mut self, query: ClearanceQuery) {
        self.waiting.retain(|order| match order {
            Order::Prepare(..) => true,
            Order::Measure(_) => false,
        });
        self.waiting.insert(0, Order::Measure(Box::new(query)));
        self.hand_out();
    }

    fn hand_out(&mut self) {
        let Some(orders) = &self.orders else { return };
        while !self.waiting.is_empty() {
            let order = self.waiting.remove(0);
            if let Err(std::sync::mpsc::TrySendError::Full(order)) = orders.try_send(order) {
                self.waiting.insert(0, order);
                return;
            }
        }
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
        self.entries.iter().filter(|entry| entry.cached.is_none()).count()
    }
}

fn carry_out(order: Order, stop: &AtomicBool) -> Option<Delivery> {
    match order {
        Order::Prepare(id, loaded) => {
            let mesh = &loaded.mesh;
            let drawn = prepare_mesh(&mesh.vertices, &mesh.triangles, &|| stop.load(Relaxed))?;
            Some(Delivery::Prepared(id, Arc::new(drawn), loaded.solid()))
        }
        Order::Measure(query) => query.answer().map(Box::new).map(Delivery::Measured),
    }
}
