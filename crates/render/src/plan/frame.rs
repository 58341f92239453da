//! What is to be seen of a plan.

use super::fill::FillSet;
use super::lines::LineLayer;
use super::pipelines::ViewUniform;
use super::scale::ColourScale;
use super::view::PlanView;
use std::sync::Arc;

/// A region in one flat tint.
#[derive(Clone, Debug)]
pub struct FillLayer {
    /// The region.
    pub fill: Arc<FillSet>,
    /// Red, green, blue, opacity, 0 to 1, as shown on the screen, not premultiplied.
    pub colour: [f32; 4],
}

impl PartialEq for FillLayer {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.fill, &other.fill) && self.colour == other.colour
    }
}

/// What is to be seen.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanFrame {
    /// Where and how large.
    pub view: PlanView,
    /// Size of the picture, px.
    pub size_px: [u32; 2],
    /// Regions, lowest first; all lie below the lines.
    pub fills: Vec<FillLayer>,
    /// Lines, lowest first.
    pub lines: Vec<LineLayer>,
    /// The colour scale that lines refer to.
    pub scale: Arc<ColourScale>,
    /// Most segments of one set that may be drawn: on a slow machine, a picture in motion can be
    /// thinned. `usize::MAX` draws all.
    pub budget: usize,
}

/// The budget for a graphics card: more segments than this on one screen cannot be told apart, and
/// a frame stays within 8 ms on a large card.
pub const BUDGET: usize = 600_000;

/// The rectangle (nm) that a frame shows, with so many pixels around.
pub(super) fn seen(frame: &PlanFrame, margin_px: f64) -> ([f64; 2], [f64; 2]) {
    let [width, height] = frame.size_px.map(f64::from);
    let size = [width, height];
    let low = frame.view.nm_at([-margin_px, height + margin_px], size);
    let high = frame.view.nm_at([width + margin_px, -margin_px], size);
    (low, high)
}

pub(super) fn view_uniform(frame: &PlanFrame) -> ViewUniform {
    let whole = frame.view.centre_nm.map(f64::round);
    let scale = frame.view.px_per_nm();
    #[expect(clippy::cast_possible_truncation, reason = "limited to the grid")]
    let centre_nm = whole.map(|c| c as i32);
    #[expect(clippy::cast_possible_truncation, reason = "a fraction of a nanometre")]
    let offset_px = [0, 1].map(|i| ((whole[i] - frame.view.centre_nm[i]) * scale) as f32);
    let half_size_px = frame.size_px.map(|size| size as f32 / 2.0);
    #[expect(clippy::cast_possible_truncation, reason = "single precision suffices for a scale")]
    ViewUniform { centre_nm, offset_px, half_size_px, px_per_nm: scale as f32, padding: 0.0 }
}
