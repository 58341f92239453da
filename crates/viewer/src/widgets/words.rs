//! Words over a drawing that never lie on each other: what finds no room is counted instead.

use crate::widgets::theme::{CAPTION, Ink};
use egui::{Color32, FontId, Painter, Rect, pos2, vec2};

/// The words of one drawing, as far as they are placed.
#[derive(Default)]
pub(crate) struct Words {
    taken: Vec<Rect>,
    /// How many found no room, or are left out for being too many.
    left_out: usize,
}

impl Words {
    /// Keeps others off this place.
    pub(crate) fn keep_off(&mut self, place: Rect) {
        self.taken.push(place);
    }

    /// Counts what is not even tried.
    pub(crate) fn leave_out(&mut self, count: usize) {
        self.left_out += count;
    }

    /// How many were left out so far.
    pub(crate) fn left_out(&self) -> usize {
        self.left_out
    }

    /// A place of this size within `area`, where it is wanted or a step or two from there; `None`, and one more
    /// left out, where all of that is taken.
    fn place(&mut self, wanted: Rect, area: Rect) -> Option<Rect> {
        // Below and above before beside; in steps of the words' own size.
        const STEPS: [(f32, f32); 11] = [
            (0.0, 0.0),
            (0.0, 1.0),
            (0.0, -1.0),
            (0.0, 2.0),
            (0.0, -2.0),
            (1.0, 0.0),
            (-1.0, 0.0),
            (1.0, 1.0),
            (-1.0, 1.0),
            (1.0, -1.0),
            (-1.0, -1.0),
        ];
        let step = wanted.size() + vec2(8.0, 4.0);
        let places = STEPS.iter().map(|(x, y)| wanted.translate(vec2(x * step.x, y * step.y)));
        let is_free = |place: &Rect| {
            let around = place.expand2(vec2(4.0, 2.0));
            area.contains_rect(around) && !self.taken.iter().any(|other| other.intersects(around))
        };
        let found = places.into_iter().find(is_free);
        match found {
            Some(place) => self.taken.push(place),
            None => self.left_out += 1,
        }
        found
    }

    /// Writes words on a bit of sheet, so that lines behind do not cross them, where there is room for them.
    pub(crate) fn write(
        &mut self,
        painter: &Painter,
        ink: &Ink,
        wanted: impl FnOnce(egui::Vec2) -> Rect,
        text: String,
        colour: Color32,
    ) {
        let galley = painter.layout_no_wrap(text, FontId::proportional(CAPTION), colour);
        let wanted = wanted(galley.size());
        if !painter.clip_rect().intersects(wanted) {
            return; // what is not in sight is not missed
        }
        if let Some(place) = self.place(wanted, painter.clip_rect()) {
            let sheet = ink.sheet.gamma_multiply(0.85);
            painter.rect_filled(place.expand2(vec2(3.0, 1.0)), 2.0, sheet);
            painter.galley(place.min, galley, colour);
        }
    }

    /// Says at the right edge, from `top` on, how many were left out.
    pub(crate) fn write_count(&self, painter: &Painter, ink: &Ink, top: f32) {
        if self.left_out == 0 {
            return;
        }
        let text = format!("and {} more", self.left_out);
        let galley = painter.layout_no_wrap(text, FontId::proportional(CAPTION), ink.ink);
        let at = pos2(painter.clip_rect().right() - 10.0 - galley.size().x, top);
        let place = Rect::from_min_size(at, galley.size());
        painter.rect_filled(place.expand2(vec2(3.0, 1.0)), 2.0, ink.sheet);
        painter.galley(place.min, galley, ink.ink);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_never_lie_on_each_other_and_all_are_placed_or_counted() {
        let area = Rect::from_min_size(pos2(5.0, 5.0), vec2(300.0, 120.0));
        let mut words = Words::default();
        let kept = Rect::from_min_size(pos2(150.0, 40.0), vec2(60.0, 20.0));
        words.keep_off(kept);
        let mut placed = vec![kept];
        for number in 0..100_u8 {
            let at = pos2(f32::from(number % 10) * 30.0, f32::from(number / 10) * 9.0);
            let wanted = Rect::from_min_size(at, vec2(42.0, 12.0));
            placed.extend(words.place(wanted, area));
        }
        assert!(placed.len() > 10, "{}", placed.len());
        assert_eq!(words.left_out() + placed.len(), 101);
        for (number, one) in placed.iter().enumerate() {
            assert!(area.contains_rect(*one));
            assert!(placed[..number].iter().all(|other| !other.intersects(*one)));
        }
    }
}
