//! Opening the window, or saying why there is none.

use super::App;
use super::start::Start;
use egui::ViewportBuilder;
use std::path::PathBuf;

/// Why there is no window.
#[derive(Debug, thiserror::Error)]
#[error(
    "there is no window: {reason}. Without a display and a graphics adapter, use the headless \
     verbs: hatchwright write JOB.ron (hatchwright --help lists them all)"
)]
pub struct OpenError {
    reason: String,
}

/// Opens the window and returns when it is closed.
///
/// # Errors
/// If there is no display, or no graphics adapter that can draw.
pub fn open(start: Start) -> Result<(), OpenError> {
    if cfg!(target_os = "linux") {
        let set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
        if !set("DISPLAY") && !set("WAYLAND_DISPLAY") && !set("WAYLAND_SOCKET") {
            return Err(OpenError {
                reason: "no display is set (DISPLAY, WAYLAND_DISPLAY)".into(),
            });
        }
    }
    let options = eframe::NativeOptions {
        viewport: ViewportBuilder::default()
            .with_title("Hatchwright")
            .with_app_id("hatchwright")
            .with_icon(icon())
            .with_inner_size([1440.0, 900.0])
            .with_min_inner_size([960.0, 600.0])
            .with_drag_and_drop(true),
        renderer: eframe::Renderer::Wgpu,
        ..eframe::NativeOptions::default()
    };
    // The window library panics where it finds no display server behind the variables.
    let run = || {
        eframe::run_native("hatchwright", options, Box::new(|cc| Ok(Box::new(App::new(cc, start)))))
    };
    run().map_err(|error| OpenError { reason: error.to_string() })
}

/// Where settings and unsaved work are kept on this system.
pub fn state_folder() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "hatchwright").map(|dirs| dirs.data_local_dir().into())
}

/// Where a person's own machines and recipes are kept on this system.
pub fn library_folder() -> Option<PathBuf> {
    state_folder().map(|folder| folder.join("library"))
}

/// The program's mark: hatch lines at 45° in a contour, ink on paper.
fn icon() -> egui::IconData {
    const SIZE: i32 = 64;
    let mut rgba = Vec::new();
    for y in 0..SIZE {
        for x in 0..SIZE {
            let (dx, dy) = (x - SIZE / 2, y - SIZE / 2);
            let r = f64::from(dx * dx + dy * dy).sqrt();
            let contour = (r - 26.0).abs() < 2.5;
            let hatch = r < 21.0 && (x + y).rem_euclid(9) < 3;
            let pixel: [u8; 4] = match (contour || hatch, r < 31.0) {
                (true, _) => [32, 43, 54, 255],
                (false, true) => [250, 246, 236, 255],
                (false, false) => [0; 4],
            };
            rgba.extend(pixel);
        }
    }
    egui::IconData { rgba, width: SIZE.unsigned_abs(), height: SIZE.unsigned_abs() }
}
