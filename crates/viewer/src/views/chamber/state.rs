//! What the chamber keeps from frame to frame: the camera, what is under the pointer, the drag
//! under way, the meshes.

use super::handles::HandleDrag;
use super::mesh_cache::MeshCache;
use super::picking::Picked;
use crate::work::threads::Threads;
use base::{Affine, PlacementId};
use eframe::egui_wgpu::RenderState;
use egui::{Pos2, Rect};
use glam::Vec3;
use render::Camera;
use render::chamber::{ChamberRenderer, Scene};
use std::sync::Arc;

/// The camera on its way to another view.
pub(super) struct Flight {
    pub(super) from: Camera,
    pub(super) to: Camera,
    /// Time of the window at which it began, s.
    pub(super) began_s: f64,
}

/// Something that began when a button went down and ends when it comes up.
pub(super) enum Gesture {
    /// Rotating the view about a point.
    Orbit { about: Vec3 },
    /// Shifting the view with a point.
    Pan { point: Vec3 },
    /// A frame is drawn from here to there, in points.
    Box { from: Pos2, to: Pos2 },
    /// Placements are moved or rotated.
    Drag { start: HandleDrag },
    /// A drag that was cancelled; waits for the button to come up.
    Cancelled,
}

/// The build in 3D.
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own")]
pub(crate) struct ChamberView {
    pub(super) has_gpu: bool,
    /// Whether a processor does the drawing: then moving pictures are drawn at half the size.
    pub(super) is_software: bool,
    pub(super) meshes: MeshCache,
    pub(super) camera: Camera,
    pub(super) flight: Option<Flight>,
    /// Asked for from outside: shown at the next frame.
    pub(super) fit_wanted: bool,
    /// Build space that was last fitted: another machine is fitted anew.
    pub(super) fitted_mm: [f64; 3],
    pub(super) had_parts: bool,
    /// What was fitted while meshes were still being read: fitted again when all are there, unless
    /// the person has moved the camera meanwhile.
    pub(super) early: Option<Camera>,
    pub(super) attention: Option<Vec3>,
    pub(super) cut: bool,
    pub(super) hovered: Option<Picked>,
    pub(super) gesture: Option<Gesture>,
    /// What the menu of the right button was opened on.
    pub(super) menu_on: Option<Picked>,
    pub(super) scene: Option<Arc<Scene>>,
    /// The pair whose clearance was last asked for.
    pub(super) asked: Option<[(PlacementId, Affine); 2]>,
    /// How many words found no room when it was last drawn.
    pub(super) words_left_out: usize,
    /// Where it was last drawn, and how many pixels a point had.
    pub(super) drawn_in: Option<(Rect, f32)>,
}

impl ChamberView {
    /// A view that draws with this graphics device; without one it says so.
    pub(crate) fn new(gpu: Option<&RenderState>, threads: &Threads) -> Self {
        if let Some(gpu) = gpu {
            let renderer = ChamberRenderer::new(&gpu.device, gpu.target_format);
            gpu.renderer.write().callback_resources.insert(renderer);
        }
        Self {
            has_gpu: gpu.is_some(),
            is_software: gpu
                .is_some_and(|gpu| gpu.adapter.get_info().device_type == wgpu::DeviceType::Cpu),
            meshes: MeshCache::new(threads),
            camera: Camera::default(),
            flight: None,
            fit_wanted: false,
            fitted_mm: [0.0; 3],
            had_parts: false,
            early: None,
            attention: None,
            cut: false,
            hovered: None,
            gesture: None,
            menu_on: None,
            scene: None,
            asked: None,
            words_left_out: 0,
            drawn_in: None,
        }
    }

    /// Whether a gesture draws a frame.
    pub(super) fn draws_frame(&self) -> bool {
        match self.gesture {
            Some(Gesture::Box { .. }) => true,
            Some(
                Gesture::Orbit { .. }
                | Gesture::Pan { .. }
                | Gesture::Drag { .. }
                | Gesture::Cancelled,
            )
            | None => false,
        }
    }
}
