//! The strip above the drawing that tells how far the predicted outline lies from the section.

#![expect(clippy::cast_possible_truncation, reason = "f64 mm become f32 points of the screen")]

use super::melt::{BIN_MM, BINS, Predicted, Summary, edges_mm};
use crate::widgets::theme::{CAPTION, Ink};
use egui::{Align2, FontId, Painter, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Height of the strip, points.
pub(crate) const HEIGHT: f32 = 48.0;
/// Width of the words, and the least of the histogram.
const WORDS: f32 = 308.0;
const LEAST: f32 = 90.0;
const LINE: f32 = 14.0;
/// Height of the numbers below the histogram.
const NUMBERS: f32 = 12.0;

/// Shows it; pale where it is out of date.
pub(crate) fn show(
    ui: &mut Ui,
    rect: Rect,
    predicted: Option<&Predicted>,
    is_stale: bool,
    ink: &Ink,
) {
    let lines = words(predicted);
    let id = ui.scope_id().with("predicted outline");
    let response = ui.interact(rect, id, Sense::hover());
    let all = format!("Predicted outline {}", lines.join("; "));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &all));
    response.on_hover_text(
        "How far the line along which the powder melts lies from the section, at places along all \
         of it; positive outside, where the part gets too large. First for powder as deep as one \
         layer, which counts and histogram are of, too; then for powder as deep as it lies on fused \
         layers once a build is under way. Heat does not flow in this prediction.",
    );
    let painter = ui.painter().with_clip_rect(rect);
    let strength = if is_stale { 0.45 } else { 1.0 };
    let font = FontId::proportional(CAPTION);
    for (line, y) in lines.iter().zip([0.0, 1.0, 2.0]) {
        let at = rect.left_top() + vec2(1.0, 2.0 + y * LINE);
        let colour = ink.ink.gamma_multiply(strength);
        painter.text(at, Align2::LEFT_TOP, line, font.clone(), colour);
    }
    if let Some(predicted) = predicted.filter(|_| rect.width() >= WORDS + LEAST) {
        let bars = Rect::from_min_max(
            rect.left_top() + vec2(WORDS, 2.0),
            rect.right_bottom() - vec2(2.0, 2.0 + NUMBERS),
        );
        histogram(&painter, bars, &predicted.nominal.bins, strength, ink);
        scale(&painter, bars, ink);
    }
}

/// What is said of an outline, in lines.
fn words(predicted: Option<&Predicted>) -> Vec<String> {
    let Some(predicted) = predicted else {
        return vec!["is being worked out …".to_owned()];
    };
    let steady = match &predicted.steady {
        Some(steady) => distances(steady),
        None => "being worked out …".to_owned(),
    };
    vec![
        format!("off the section: {}", distances(&predicted.nominal)),
        format!("over steady depth: {steady}"),
        changes(&predicted.nominal),
    ]
}

/// The ends and the middle of the histogram, in mm.
fn scale(painter: &Painter, bars: Rect, ink: &Ink) {
    let font = FontId::proportional(CAPTION - 1.0);
    let end = 0.5 * f64::from(BINS) * BIN_MM;
    let labelled = f64::from(BINS / 2) * BIN_MM;
    for mm in [-labelled, 0.0, labelled] {
        let x = bars.left() + bars.width() * (0.5 + mm / (2.0 * end)) as f32;
        let label = if mm.abs() < BIN_MM { "0 mm".to_owned() } else { signed(mm, 1) };
        let at = pos2(x, bars.bottom() + 1.0);
        painter.text(at, Align2::CENTER_TOP, label, font.clone(), ink.soft);
    }
}

/// One bar a bin, the line at zero through the middle of the middle one.
fn histogram(painter: &Painter, rect: Rect, bins: &[usize], strength: f32, ink: &Ink) {
    let most = bins.iter().copied().max().unwrap_or(0).max(1) as f32;
    let edges = edges_mm();
    let (first, last) = (edges[0], edges[edges.len() - 1]);
    let x = |mm: f64| rect.left() + rect.width() * ((mm - first) / (last - first)) as f32;
    for (bin, ends) in bins.iter().zip(edges.windows(2)) {
        let height = (rect.height() - 2.0) * *bin as f32 / most;
        if *bin > 0 {
            let bar = Rect::from_min_max(
                pos2(x(ends[0]) + 0.5, rect.bottom() - height.max(1.0)),
                pos2(x(ends[1]) - 0.5, rect.bottom()),
            );
            painter.rect_filled(bar, 0.0, ink.soft.gamma_multiply(strength));
        }
    }
    let line = Stroke::new(1.0, ink.soft.gamma_multiply(strength));
    painter.hline(rect.x_range(), rect.bottom(), line);
    painter.vline(rect.center().x, rect.y_range(), Stroke::new(1.0, ink.ink));
}

/// "mean +0.012 mm, 95 % within 0.034 mm".
fn distances(summary: &Summary) -> String {
    match (summary.mean_mm, summary.p95_mm) {
        (Some(mean), Some(p95)) => {
            format!("mean {} mm, 95 % within {p95:.3} mm", signed(mean, 3))
        }
        (None, _) | (_, None) => "nothing melts".to_owned(),
    }
}

/// What becomes of islands and holes.
fn changes(summary: &Summary) -> String {
    let &Summary { vanished, filled, merged, .. } = summary;
    if vanished + filled + merged == 0 {
        return "every island and every hole comes out".to_owned();
    }
    let of = |count: usize, one: &str, many: &str| {
        format!("{count} {}", if count == 1 { one } else { many })
    };
    format!(
        "{}, {}, {}",
        of(vanished, "island vanishes", "islands vanish"),
        of(filled, "hole fills", "holes fill"),
        of(merged, "pair merges", "pairs merge"),
    )
}

/// A number with its sign.
fn signed(value: f64, decimals: usize) -> String {
    format!("{value:+.decimals$}").replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn summary(mean_mm: Option<f64>, [vanished, filled, merged]: [usize; 3]) -> Summary {
        Summary { mean_mm, p95_mm: mean_mm.map(f64::abs), vanished, filled, merged, bins: vec![] }
    }

    #[test]
    fn distances_have_signs_and_counts_have_numbers() {
        assert_eq!(
            distances(&summary(Some(-0.0125), [0; 3])),
            "mean −0.013 mm, 95 % within 0.013 mm"
        );
        assert_eq!(distances(&summary(None, [0; 3])), "nothing melts");
        assert_eq!(
            changes(&summary(None, [1, 2, 1])),
            "1 island vanishes, 2 holes fill, 1 pair merges"
        );
        assert_eq!(changes(&summary(None, [0; 3])), "every island and every hole comes out");
    }

    #[test]
    fn the_middle_bin_lies_about_zero() {
        let edges = edges_mm();
        assert_eq!(edges.len(), usize::from(BINS) + 1);
        let middle = usize::from(BINS / 2);
        assert!((edges[middle] + edges[middle + 1]).abs() < 1e-12, "{edges:?}");
    }
}
