//! The dose's row above the drawing: its colours with the doses that matter, and the switch of the
//! predicted outline.

use super::colours::of_dose;
use super::exposed::Levels;
use crate::widgets::format::number;
use crate::widgets::theme::{CAPTION, Ink};
use egui::{
    Align2, Color32, FontId, Painter, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use render::plan::ColourScale;

/// Height of the bar of colours, points.
const BAR: f32 = 9.0;
/// Room between two words, points.
const APART: f32 = 8.0;

/// A dose with a meaning: J/mm², in a word or two, and in full.
type Mark = (f64, &'static str, &'static str);

impl Levels {
    /// The doses to mark, the most important first.
    fn marks(&self) -> Vec<Mark> {
        let mut marks = vec![
            (self.nominal, "melts", "melts powder as deep as one layer"),
            (
                self.steady,
                "steady depth",
                "melts powder as deep as it lies on fused layers once a build is under way",
            ),
        ];
        marks.extend(self.hatch.map(|mean| (mean, "hatch", "mean of the core's hatch")));
        marks
    }

    /// All of it, said.
    fn words(&self) -> String {
        let ends = format!("Legend: dose from 0 to {} J/mm²", number(self.most));
        let marks = self.marks().into_iter();
        let marks = marks.map(|(dose, _, meaning)| format!("{} J/mm²: {meaning}", number(dose)));
        let end = "Above the end of the scale, the last colour stays.".to_owned();
        let lines: Vec<String> = std::iter::once(ends).chain(marks).chain([end]).collect();
        lines.join("\n")
    }
}

/// Draws the legend over the whole width.
pub(crate) fn row(ui: &mut Ui, levels: &Levels, scale: &ColourScale, ink: &Ink) {
    let size = vec2(ui.available_width(), ui.available_height());
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let says = levels.words();
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &says));
    response.on_hover_text(&says);
    let painter = ui.painter();
    let font = FontId::proportional(CAPTION - 1.0);
    let unit = painter.layout_no_wrap("J/mm²".to_owned(), font.clone(), ink.soft);
    let bar = Rect::from_min_max(
        pos2(rect.left() + 1.0, rect.top() + 3.0),
        pos2(rect.right() - unit.size().x - 5.0, rect.top() + 3.0 + BAR),
    );
    colour_bar(painter, bar, scale, levels.most, ink);
    let middle = bar.center().y - unit.size().y / 2.0;
    painter.galley(pos2(bar.right() + 4.0, middle), unit, ink.soft);

    let mut taken: Vec<[f32; 2]> = Vec::new();
    // the first of some texts for which there is room
    let mut write = |x: f32, texts: &[(Align2, String)]| {
        for (align, text) in texts {
            let galley = painter.layout_no_wrap(text.clone(), font.clone(), ink.ink);
            let place = align.anchor_size(pos2(x, bar.bottom() + 3.0), galley.size());
            let span = [place.left(), place.right()];
            let is_free = taken
                .iter()
                .all(|other| span[1] + APART <= other[0] || span[0] >= other[1] + APART);
            if is_free && place.left() >= rect.left() - 1.0 && place.right() <= rect.right() {
                painter.galley(place.min, galley, ink.ink);
                taken.push(span);
                return;
            }
        }
    };
    write(bar.left(), &[(Align2::LEFT_TOP, "0".to_owned())]);
    for (dose, word, _) in levels.marks() {
        #[expect(clippy::cast_possible_truncation, reason = "a place on the screen")]
        let share = (dose / levels.most) as f32;
        if !(0.0..=1.0).contains(&share) {
            continue;
        }
        let x = bar.left() + share * bar.width();
        for (width, colour) in [(3.0, ink.sheet), (1.25, ink.ink)] {
            painter.vline(x, bar.top() - 1.0..=bar.bottom() + 3.0, Stroke::new(width, colour));
        }
        let value = number(dose);
        let whole = format!("{value} {word}");
        let texts = [
            (Align2::CENTER_TOP, whole.clone()),
            (Align2::LEFT_TOP, whole),
            (Align2::CENTER_TOP, value),
        ];
        write(x, &texts);
    }
    write(bar.right(), &[(Align2::RIGHT_TOP, number(levels.most))]);
}

/// The colours as they are in the drawing.
fn colour_bar(painter: &Painter, bar: Rect, scale: &ColourScale, most: f64, ink: &Ink) {
    const STRIPS: usize = 160;
    let Ok(colours) = of_dose(scale, most) else { return };
    let last = (colours.colours().len() - 1) as f32;
    for strip in 0..STRIPS {
        let (from, to) = (strip as f32 / STRIPS as f32, (strip + 1) as f32 / STRIPS as f32);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
        let [r, g, b, a] = colours.colours()[(f32::midpoint(from, to) * last) as usize];
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a byte")]
        let [r, g, b, a] = [r, g, b, a].map(|c| (c * 255.0).round() as u8);
        let x = [from, to].map(|share| bar.left() + share * bar.width());
        let part = Rect::from_x_y_ranges(x[0]..=x[1], bar.y_range());
        painter.rect_filled(part, 0.0, Color32::from_rgba_unmultiplied(r, g, b, a));
    }
    painter.rect_stroke(bar, 0.0, Stroke::new(0.75, ink.soft), egui::StrokeKind::Outside);
}
