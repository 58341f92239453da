//! Where nanometres lie on the screen; rulers and grid.

use crate::widgets::theme::{CAPTION, Ink};
use crate::widgets::ticks::nice_step;
use egui::{Align2, FontId, Painter, Pos2, Rect, Stroke, Ui, epaint::TextShape, pos2, vec2};
use render::plan::PlanView;

/// Width of a ruler, points.
pub(super) const RULER: f32 = 18.0;
const NM_PER_MM: f64 = 1e6;

/// A part of the screen that shows a part of the plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Canvas {
    /// Points of the screen.
    pub(super) rect: Rect,
    /// What it shows; in pixels of the device.
    pub(super) view: PlanView,
    origin_px: [f64; 2],
    size_px: [f64; 2],
    px_per_point: f64,
}

impl Canvas {
    pub(super) fn new(ui: &Ui, rect: Rect, view: PlanView) -> Self {
        let scale = ui.pixels_per_point();
        // as the window's renderer rounds a viewport
        let round = |points: f32| f64::from((points * scale).round());
        let origin_px = [round(rect.left()), round(rect.top())];
        let size_px = [
            (round(rect.right()) - origin_px[0]).max(1.0),
            (round(rect.bottom()) - origin_px[1]).max(1.0),
        ];
        Self { rect, view, origin_px, size_px, px_per_point: f64::from(scale) }
    }

    /// Pixels in a point.
    pub(super) fn px_per_point(&self) -> f64 {
        self.px_per_point
    }

    /// Size, px.
    pub(super) fn size_px(&self) -> [f64; 2] {
        self.size_px
    }

    /// The same, as a picture has it.
    pub(super) fn whole_px(&self) -> [u32; 2] {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixels")]
        let whole = self.size_px.map(|size| size as u32);
        whole
    }

    /// A position on the screen as pixels within the canvas.
    pub(super) fn px(&self, at: Pos2) -> [f64; 2] {
        [
            f64::from(at.x) * self.px_per_point - self.origin_px[0],
            f64::from(at.y) * self.px_per_point - self.origin_px[1],
        ]
    }

    /// Where a point (nm) lies on the screen; what is far outside is drawn to its surroundings.
    pub(super) fn at(&self, nm: [f64; 2]) -> Pos2 {
        let [x, y] = self.view.px_of(nm, self.size_px);
        let point = |px: f64, axis: usize| {
            #[expect(clippy::cast_possible_truncation, reason = "points of the screen")]
            let point = ((px + self.origin_px[axis]) / self.px_per_point).clamp(-1e5, 1e5) as f32;
            point
        };
        pos2(point(x, 0), point(y, 1))
    }

    /// Which point (nm) lies at a position of the screen.
    pub(super) fn nm(&self, at: Pos2) -> [f64; 2] {
        self.view.nm_at(self.px(at), self.size_px)
    }

    /// Nanometres in so many points of the screen.
    pub(super) fn reach_nm(&self, points: f64) -> f64 {
        points * self.px_per_point / self.view.px_per_nm()
    }
}

/// A step of the grid and its lines, mm.
struct Ticks {
    step: f64,
    first: f64,
    count: usize,
    decimals: usize,
}

impl Ticks {
    /// The ticks between two ends, at least `apart_mm` apart.
    fn new(from_mm: f64, to_mm: f64, apart_mm: f64) -> Self {
        let step = nice_step(apart_mm);
        let first = (from_mm / step).ceil();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few dozen")]
        let count = ((to_mm / step).floor() - first + 1.0).clamp(0.0, 10_000.0) as usize;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 6")]
        let decimals = (-(step * 1.000_001).log10().floor()).clamp(0.0, 6.0) as usize;
        Self { step, first, count, decimals }
    }

    fn iter(&self) -> impl Iterator<Item = f64> {
        (0..self.count).map(|k| (self.first + k as f64) * self.step)
    }

    fn label(&self, mm: f64) -> String {
        let mm = if mm.abs() < self.step * 0.5 { 0.0 } else { mm }; // no "-0"
        format!("{mm:.*}", self.decimals).replace('-', "−")
    }
}

/// Grid lines, fine and less fine, and the border of the build space.
pub(super) fn grid(painter: &Painter, canvas: &Canvas, build_space_mm: [f64; 3], ink: &Ink) {
    let (low, high) = (canvas.nm(canvas.rect.left_bottom()), canvas.nm(canvas.rect.right_top()));
    let apart = canvas.reach_nm(84.0) / NM_PER_MM;
    for (apart, strength) in [(apart / 5.0, 0.45), (apart, 1.0)] {
        let line = Stroke::new(1.0, ink.grid.gamma_multiply(strength));
        for mm in Ticks::new(low[0] / NM_PER_MM, high[0] / NM_PER_MM, apart).iter() {
            painter.vline(canvas.at([mm * NM_PER_MM, 0.0]).x, canvas.rect.y_range(), line);
        }
        for mm in Ticks::new(low[1] / NM_PER_MM, high[1] / NM_PER_MM, apart).iter() {
            painter.hline(canvas.rect.x_range(), canvas.at([0.0, mm * NM_PER_MM]).y, line);
        }
    }
    let half = [build_space_mm[0], build_space_mm[1]].map(|size| size / 2.0 * NM_PER_MM);
    let space = Rect::from_two_pos(canvas.at([-half[0], -half[1]]), canvas.at(half));
    let seen = space.intersect(canvas.rect.expand(20.0));
    if seen.is_positive() {
        painter.rect_stroke(seen, 0.0, Stroke::new(1.0, ink.soft), egui::StrokeKind::Middle);
        let cross = Stroke::new(1.0, ink.faint);
        let centre = canvas.at([0.0; 2]);
        if canvas.rect.contains(centre) {
            painter.line_segment([centre - vec2(6.0, 0.0), centre + vec2(6.0, 0.0)], cross);
            painter.line_segment([centre - vec2(0.0, 6.0), centre + vec2(0.0, 6.0)], cross);
        }
    }
}

/// Rulers in mm along the upper and the left edge, with a mark where the pointer is.
pub(super) fn rulers(painter: &Painter, whole: Rect, canvas: &Canvas, at: Option<Pos2>, ink: &Ink) {
    let (low, high) = (canvas.nm(canvas.rect.left_bottom()), canvas.nm(canvas.rect.right_top()));
    let apart = canvas.reach_nm(84.0) / NM_PER_MM;
    let top = Rect::from_min_max(whole.min, pos2(whole.right(), canvas.rect.top()));
    let left = Rect::from_min_max(whole.min, pos2(canvas.rect.left(), whole.bottom()));
    let border = Stroke::new(1.0, ink.faint);
    for strip in [top, left] {
        painter.rect_filled(strip, 0.0, ink.sheet);
    }
    painter.hline(whole.x_range(), canvas.rect.top(), border);
    painter.vline(canvas.rect.left(), whole.y_range(), border);
    let font = FontId::proportional(CAPTION - 1.0);
    let tick = Stroke::new(1.0, ink.soft);

    let along =
        painter.with_clip_rect(top.with_min_x(canvas.rect.left()).intersect(painter.clip_rect()));
    for (apart, length) in [(apart / 5.0, 3.0), (apart, 7.0)] {
        let ticks = Ticks::new(low[0] / NM_PER_MM, high[0] / NM_PER_MM, apart);
        for mm in ticks.iter() {
            let x = canvas.at([mm * NM_PER_MM, 0.0]).x;
            along.vline(x, top.bottom() - length..=top.bottom(), tick);
            if length > 5.0 {
                let place = pos2(x + 3.0, top.top() + 1.0);
                along.text(place, Align2::LEFT_TOP, ticks.label(mm), font.clone(), ink.soft);
            }
        }
    }
    let along =
        painter.with_clip_rect(left.with_min_y(canvas.rect.top()).intersect(painter.clip_rect()));
    for (apart, length) in [(apart / 5.0, 3.0), (apart, 7.0)] {
        let ticks = Ticks::new(low[1] / NM_PER_MM, high[1] / NM_PER_MM, apart);
        for mm in ticks.iter() {
            let y = canvas.at([0.0, mm * NM_PER_MM]).y;
            along.hline(left.right() - length..=left.right(), y, tick);
            if length > 5.0 {
                let galley = along.layout_no_wrap(ticks.label(mm), font.clone(), ink.soft);
                let text = TextShape::new(pos2(left.left() + 1.0, y - 3.0), galley, ink.soft);
                along.add(text.with_angle(-std::f32::consts::FRAC_PI_2));
            }
        }
    }
    painter.text(
        whole.min + vec2(2.0, 2.0),
        Align2::LEFT_TOP,
        "mm",
        FontId::proportional(8.0),
        ink.soft,
    );
    if let Some(at) = at.filter(|at| canvas.rect.contains(*at)) {
        let mark = Stroke::new(1.0, ink.accent);
        painter.vline(at.x, top.y_range(), mark);
        painter.hline(left.x_range(), at.y, mark);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_have_as_many_decimals_as_the_step_needs_and_no_negative_zero() {
        let labels = |from, to, apart| {
            let ticks = Ticks::new(from, to, apart);
            ticks.iter().map(|mm| ticks.label(mm)).collect::<Vec<_>>()
        };
        assert_eq!(labels(-0.5, 2.1, 0.9), ["0", "1", "2"]);
        assert_eq!(labels(-0.11, 0.1, 0.05), ["−0.10", "−0.05", "0.00", "0.05", "0.10"]);
        assert_eq!(labels(9.999_998, 10.000_002, 1.9e-6), ["9.999998", "10.000000", "10.000002"]);
        assert_eq!(labels(120.0, 340.0, 60.0), ["200", "300"]);
    }
}
