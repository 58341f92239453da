//! Which stretch of the plane a plan shows, and how large.

/// Position and scale of a plan: Y points up on the screen, pixels are those of the device.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanView {
    /// What lies in the middle of the picture, nm.
    pub centre_nm: [f64; 2],
    /// Pixels in a millimetre.
    pub px_per_mm: f64,
}

/// Largest magnitude of a centre, nm: coordinate differences must fit 32 bits.
const CENTRE_LIMIT_NM: f64 = 1_073_741_823.0;
/// One pixel is a nanometre: nothing smaller exists on the grid.
const MOST_PX_PER_MM: f64 = 1e6;
/// A build space of a metre is then 50 pixels wide.
const LEAST_PX_PER_MM: f64 = 0.05;
const NM_PER_MM: f64 = 1e6;

impl Default for PlanView {
    /// One pixel to the millimetre, about the origin.
    fn default() -> Self {
        Self { centre_nm: [0.0; 2], px_per_mm: 1.0 }
    }
}

impl PlanView {
    /// Shows a rectangle (smallest and largest corner, nm) in a picture of `size_px` pixels, with
    /// `margin_px` left free all around. An empty rectangle is shown at 100 pixels to the mm.
    pub fn fit(low_nm: [f64; 2], high_nm: [f64; 2], size_px: [f64; 2], margin_px: f64) -> Self {
        let scale = |axis: usize| {
            let free_px = (size_px[axis] - 2.0 * margin_px).max(1.0);
            let extent_mm = (high_nm[axis] - low_nm[axis]).abs() / NM_PER_MM;
            if extent_mm > 0.0 { free_px / extent_mm } else { f64::INFINITY }
        };
        let px_per_mm = scale(0).min(scale(1));
        let px_per_mm = if px_per_mm.is_finite() { px_per_mm } else { 100.0 };
        let centre_nm = [0, 1].map(|axis| f64::midpoint(low_nm[axis], high_nm[axis]));
        Self { centre_nm, px_per_mm }.limited()
    }

    /// The same with numbers that the renderer can draw: finite, and within the grid.
    #[must_use]
    pub fn limited(self) -> Self {
        let scale = if self.px_per_mm.is_finite() { self.px_per_mm } else { 1.0 };
        let centre = |c: f64| {
            if c.is_finite() { c.clamp(-CENTRE_LIMIT_NM, CENTRE_LIMIT_NM) } else { 0.0 }
        };
        Self {
            centre_nm: self.centre_nm.map(centre),
            px_per_mm: scale.clamp(LEAST_PX_PER_MM, MOST_PX_PER_MM),
        }
    }

    /// Pixels in a nanometre.
    pub fn px_per_nm(&self) -> f64 {
        self.px_per_mm / NM_PER_MM
    }

    /// Where a point (nm) lies in a picture of `size_px`: pixels right of and below its upper
    /// left corner.
    pub fn px_of(&self, point_nm: [f64; 2], size_px: [f64; 2]) -> [f64; 2] {
        let scale = self.px_per_nm();
        [
            size_px[0] / 2.0 + (point_nm[0] - self.centre_nm[0]) * scale,
            size_px[1] / 2.0 - (point_nm[1] - self.centre_nm[1]) * scale,
        ]
    }

    /// Which point (nm) lies at a pixel; the inverse of [`Self::px_of`].
    pub fn nm_at(&self, px: [f64; 2], size_px: [f64; 2]) -> [f64; 2] {
        let scale = self.px_per_nm();
        [
            self.centre_nm[0] + (px[0] - size_px[0] / 2.0) / scale,
            self.centre_nm[1] - (px[1] - size_px[1] / 2.0) / scale,
        ]
    }

    /// Moves what is seen by pixels to the right and down.
    #[must_use]
    pub fn panned(self, by_px: [f64; 2]) -> Self {
        let scale = self.px_per_nm();
        let [x, y] = self.centre_nm;
        Self { centre_nm: [x - by_px[0] / scale, y + by_px[1] / scale], ..self }.limited()
    }

    /// Makes what is seen `factor` times as large; what lies at the pixel `about` stays there.
    #[must_use]
    pub fn zoomed(self, factor: f64, about: [f64; 2], size_px: [f64; 2]) -> Self {
        let held = self.nm_at(about, size_px);
        let scaled = Self { px_per_mm: self.px_per_mm * factor, ..self }.limited();
        let now = scaled.nm_at(about, size_px);
        let [x, y] = scaled.centre_nm;
        Self { centre_nm: [x + held[0] - now[0], y + held[1] - now[1]], ..scaled }.limited()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: [f64; 2] = [800.0, 600.0];

    #[track_caller]
    fn near(found: [f64; 2], wanted: [f64; 2], within: f64) {
        let off = (found[0] - wanted[0]).hypot(found[1] - wanted[1]);
        assert!(off <= within, "{found:?} is not {wanted:?}");
    }

    #[test]
    fn a_fitted_rectangle_fills_the_picture_less_the_margin() {
        let view = PlanView::fit([-10e6, -5e6], [30e6, 5e6], SIZE, 40.0);
        near(view.px_of([-10e6, 0.0], SIZE), [40.0, 300.0], 1e-9);
        near(view.px_of([30e6, 5e6], SIZE), [760.0, 210.0], 1e-9); // 18 px/mm, Y up
        let point = PlanView::fit([1e6; 2], [1e6; 2], SIZE, 0.0);
        assert!((point.px_per_mm - 100.0).abs() < 1e-9);
    }

    #[test]
    fn zooming_holds_the_point_under_the_pointer_down_to_a_nanometre_a_pixel() {
        let about = [123.0, 456.0];
        let mut view = PlanView::fit([-150e6; 2], [150e6; 2], SIZE, 0.0);
        let held = view.nm_at(about, SIZE);
        for _ in 0..200 {
            view = view.zoomed(1.2, about, SIZE);
            near(view.px_of(held, SIZE), about, 1e-3);
        }
        assert!((view.px_per_mm - MOST_PX_PER_MM).abs() < 1e-9);
    }

    #[test]
    fn panning_moves_by_pixels_and_nothing_leaves_the_grid() {
        let view = PlanView { centre_nm: [5e6, -7e6], px_per_mm: 12.5 };
        let before = view.px_of([1e6, 2e6], SIZE);
        let after = view.panned([10.0, -4.0]).px_of([1e6, 2e6], SIZE);
        near(after, [before[0] + 10.0, before[1] - 4.0], 1e-9);
        let wild = PlanView { centre_nm: [f64::NAN, 1e300], px_per_mm: f64::INFINITY }.limited();
        assert_eq!(wild, PlanView { centre_nm: [0.0, CENTRE_LIMIT_NM], px_per_mm: 1.0 });
    }
}
