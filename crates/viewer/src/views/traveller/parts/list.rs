//! The list itself: rows drawn only where they are in sight, chosen alone, in ranges or one by one, and put
//! elsewhere by a drag.

use super::order::{self, Line, Sort, Wish};
use super::row;
use crate::state::actions::{Action, Edit, Selecting};
use crate::state::model::{Model, SortedKey};
use crate::views::part_menu;
use crate::views::traveller::thumbnails::Thumbnails;
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::CAPTION;
use base::PlacementId;
use egui::{
    Id, Modifiers, Rect, Response, RichText, ScrollArea, Sense, Stroke, Ui, UiBuilder, vec2,
};

/// Height of a part's row and of a heading, points.
const ROW: f32 = 40.0;
const HEADING: f32 = 24.0;
/// Share of the sheet's height that the list takes at most: what is said of the chosen parts stands below.
const SHARE: f32 = 0.5;
/// At least so many rows.
const LEAST_ROWS: f32 = 4.0;

/// What lines were made from: they are made anew when it changes.
#[derive(Clone, Debug, PartialEq)]
struct Seen {
    wish: Wish,
    revision: u64,
    /// Meshes that are there, for the sizes.
    meshes: usize,
    found: Option<SortedKey>,
}

impl Seen {
    fn of(model: &Model, wish: &Wish) -> Self {
        let results = &model.results;
        let is_there = |mesh: &&crate::state::results::MeshState| mesh.ready().is_some();
        let by_findings = wish.sort == Sort::Findings;
        let found = model.findings_key().filter(|_| by_findings).cloned();
        let meshes = results.meshes.values().filter(is_there).count();
        Self { wish: wish.clone(), revision: model.revision(), meshes, found }
    }
}

/// What the list remembers from frame to frame.
#[derive(Default)]
pub(super) struct PartsList {
    seen: Option<Seen>,
    lines: Vec<Line>,
    /// Where each line begins, points from the first, and where the last ends.
    tops: Vec<f32>,
    /// The part from which a range is chosen, by its name: its number may change.
    anchor: Option<String>,
    /// The first part that was chosen when the list was last drawn.
    chosen_first: Option<usize>,
    /// The part that is being dragged to another place.
    dragged: Option<usize>,
}

impl PartsList {
    /// Brings the lines up to what is wished and to what the job is.
    pub(super) fn keep_up(&mut self, model: &Model, wish: &Wish) {
        let now = Seen::of(model, wish);
        if self.seen.as_ref() == Some(&now) {
            return;
        }
        self.lines = order::lines(wish, &order::facts(model, wish.sort));
        let mut top = 0.0;
        self.tops.clear();
        for line in &self.lines {
            self.tops.push(top);
            top += if matches!(line, Line::Part(_)) { ROW } else { HEADING };
        }
        self.tops.push(top);
        self.seen = Some(now);
    }

    /// The parts that are shown, from the top.
    pub(super) fn parts(&self) -> impl Iterator<Item = usize> + '_ {
        self.lines.iter().filter_map(|line| match line {
            Line::Part(part) => Some(*part),
            Line::Heading(..) => None,
        })
    }

    /// The parts that a search has found, folded or not.
    pub(super) fn found(&self) -> Vec<usize> {
        let under = |line: &Line| match line {
            Line::Heading(_, parts) => parts.clone(),
            Line::Part(_) => Vec::new(),
        };
        let in_groups: Vec<usize> = self.lines.iter().flat_map(under).collect();
        if in_groups.is_empty() { self.parts().collect() } else { in_groups }
    }

    /// Draws it; long ones roll by themselves.
    pub(super) fn show(
        &mut self,
        ui: &mut Ui,
        model: &Model,
        thumbnails: &Thumbnails,
        wish: &mut Wish,
        actions: &mut Vec<Action>,
    ) {
        let height = self.tops.last().copied().unwrap_or_default();
        let most = (ui.clip_rect().height() * SHARE).max(LEAST_ROWS * ROW);
        if height <= most {
            let (rect, _) =
                ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::HOVER);
            return self.rows(ui, [rect, rect], model, thumbnails, wish, actions);
        }
        let area = ScrollArea::vertical().id_salt("parts").max_height(most).auto_shrink(false);
        area.show_viewport(ui, |ui, viewport| {
            let (rect, _) =
                ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::HOVER);
            self.follow_selection(ui, rect, model);
            let in_sight = viewport.translate(rect.min.to_vec2());
            self.rows(ui, [rect, in_sight], model, thumbnails, wish, actions);
        });
    }

    /// Rolls to the first part that is chosen once it is another, as by a click in a drawing.
    fn follow_selection(&mut self, ui: &Ui, rect: Rect, model: &Model) {
        let first = model.selection.first().map(|at| at.part);
        if std::mem::replace(&mut self.chosen_first, first) == first {
            return;
        }
        let line = first.and_then(|part| self.lines.iter().position(|l| *l == Line::Part(part)));
        if let Some(line) = line {
            ui.scroll_to_rect(self.place(rect, line), None);
        }
    }

    fn place(&self, all: Rect, line: usize) -> Rect {
        let (top, bottom) = (self.tops[line], self.tops[line + 1]);
        Rect::from_x_y_ranges(all.x_range(), all.top() + top..=all.top() + bottom)
    }

    /// Draws the rows of which something is in sight.
    fn rows(
        &mut self,
        ui: &mut Ui,
        [all, in_sight]: [Rect; 2],
        model: &Model,
        thumbnails: &Thumbnails,
        wish: &mut Wish,
        actions: &mut Vec<Action>,
    ) {
        let first = self.tops.partition_point(|top| all.top() + top < in_sight.top() - ROW);
        for line in first..self.lines.len() {
            let rect = self.place(all, line);
            if rect.top() > in_sight.bottom() {
                break;
            }
            match self.lines[line] {
                Line::Heading(..) => self.heading(ui, rect, line, model, wish, actions),
                Line::Part(part) => {
                    // What is typed or dragged in a row stays in it wherever the row goes.
                    let name = name_of(model, part).unwrap_or_default();
                    let inside = UiBuilder::new()
                        .scope_id(Id::unique(("row of part", name)))
                        .max_rect(rect)
                        .layout(egui::Layout::left_to_right(egui::Align::Center));
                    let row = ui.scope_builder(inside, |ui| {
                        row::show(ui, model, thumbnails, part, actions)
                    });
                    self.react(ui, &row.inner, part, model, actions);
                }
            }
        }
        self.drop_dragged(ui, all, in_sight, model, actions);
    }

    /// What the parts of a group have in common; a click chooses them all, the sign before it folds them.
    fn heading(
        &self,
        ui: &mut Ui,
        rect: Rect,
        line: usize,
        model: &Model,
        wish: &mut Wish,
        actions: &mut Vec<Action>,
    ) {
        let Line::Heading(title, parts) = &self.lines[line] else { return };
        let says = format!("{title} · {}", parts.len());
        let says = RichText::new(says).size(CAPTION).color(model.ink.soft);
        let is_folded = wish.folded.contains(title);
        let inside = UiBuilder::new()
            .scope_id(Id::unique(("heading of parts", title)))
            .max_rect(rect)
            .layout(egui::Layout::left_to_right(egui::Align::Center));
        let [sign, button] = ui
            .scope_builder(inside, |ui| {
                let does = if is_folded { "Unfold" } else { "Fold" };
                let icon = if is_folded { Icon::Folded } else { Icon::Unfolded };
                let sign = icons::button(ui, icon, &format!("{does} {title}"), true, &model.ink);
                let button = egui::Button::new(says).frame(false).truncate();
                [sign, ui.add(button).on_hover_text("Chooses all parts of this group")]
            })
            .inner;
        if sign.clicked() && !wish.folded.remove(title) {
            wish.folded.insert(title.clone());
        }
        if button.clicked() {
            let how =
                if ui.input(|i| i.modifiers.any()) { Selecting::Also } else { Selecting::Only };
            actions.push(Action::Select(how, copies(model, parts.iter().copied())));
        }
    }

    /// Clicks, the menu, and the begin of a drag.
    fn react(
        &mut self,
        ui: &Ui,
        row: &Response,
        part: usize,
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        if row.clicked() {
            actions.push(self.clicked(part, ui.input(|input| input.modifiers), model));
        }
        let is_chosen = model.selection.iter().any(|at| at.part == part);
        if row.secondary_clicked() && !is_chosen {
            self.anchor = name_of(model, part);
            actions.push(Action::Select(Selecting::Only, copies(model, [part])));
        }
        row.context_menu(|ui| {
            part_menu::show(ui, model, PlacementId { part, copy: 0 }, actions);
        });
        if row.drag_started() && self.seen.as_ref().is_some_and(|seen| seen.wish.is_as_listed()) {
            self.dragged = Some(part);
        }
    }

    /// What a click on a part chooses: it alone; with Shift all from the part clicked before to this one;
    /// with Ctrl it is taken in or out.
    fn clicked(&mut self, part: usize, modifiers: Modifiers, model: &Model) -> Action {
        let adds = modifiers.command;
        let chosen: Vec<PlacementId> =
            model.selection.iter().filter(|at| at.part == part).copied().collect();
        if modifiers.shift {
            let line = |part| self.parts().position(|shown| shown == part);
            let here = line(part).unwrap_or_default();
            let anchor = self.anchor.as_ref().and_then(|name| {
                self.parts().find(|part| name_of(model, *part).as_ref() == Some(name))
            });
            let from = anchor.and_then(line).unwrap_or(here);
            let range = self.parts().skip(from.min(here)).take(from.abs_diff(here) + 1);
            let how = if adds { Selecting::Also } else { Selecting::Only };
            return Action::Select(how, copies(model, range));
        }
        self.anchor = name_of(model, part);
        if adds && !chosen.is_empty() {
            return Action::Select(Selecting::Toggle, chosen);
        }
        let how = if adds { Selecting::Also } else { Selecting::Only };
        Action::Select(how, copies(model, [part]))
    }

    /// Shows where the part that is dragged would go, and puts it there when it is let go: it alone, or with
    /// all that are chosen if it is one of them.
    fn drop_dragged(
        &mut self,
        ui: &Ui,
        all: Rect,
        in_sight: Rect,
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        let Some(part) = self.dragged else { return };
        if ui.input(|input| input.key_pressed(egui::Key::Escape)) {
            self.dragged = None;
            return;
        }
        let Some(pointer) = ui.input(|input| input.pointer.latest_pos()) else { return };
        // Near an edge, the list rolls on.
        let beyond = (in_sight.top() + ROW - pointer.y).max(0.0)
            - (pointer.y - in_sight.bottom() + ROW).max(0.0);
        if beyond.abs() > 0.0 && in_sight.height() < all.height() {
            ui.scroll_with_delta(vec2(0.0, (beyond * 0.2).clamp(-12.0, 12.0)));
            ui.ctx().request_repaint();
        }
        let within = (pointer.y - all.top()) / ROW;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let to = (within.round().max(0.0) as usize).min(self.lines.len());
        let y = all.top() + to as f32 * ROW;
        ui.painter().hline(all.x_range(), y, Stroke::new(2.0, model.ink.accent));
        if ui.input(|input| input.pointer.any_released()) {
            self.dragged = None;
            actions.extend(put_before(model, part, to).map(Action::Edit));
        }
    }
}

/// Puts a part, or all that are chosen if it is one of them, before the part `to`.
fn put_before(model: &Model, part: usize, to: usize) -> Option<Edit> {
    let parts = &model.content()?.job.parts;
    let mut moved: Vec<usize> = model.selection.iter().map(|at| at.part).collect();
    moved.dedup(); // in order of parts
    if !moved.contains(&part) {
        moved = vec![part];
    }
    let order = order::reordered(parts.len(), &moved, to);
    let label = match moved[..] {
        [only] => format!("list {} elsewhere", parts.get(only)?.name),
        ref many => format!("list {} parts elsewhere", many.len()),
    };
    Some(Edit::new(label, move |content| {
        let mut before: Vec<Option<job::PartEntry>> =
            std::mem::take(&mut content.job.parts).into_iter().map(Some).collect();
        content.job.parts = order.iter().filter_map(|part| before.get_mut(*part)?.take()).collect();
    }))
}

fn name_of(model: &Model, part: usize) -> Option<String> {
    Some(model.content()?.job.parts.get(part)?.name.clone())
}

/// All placements of some parts; a part without any is chosen by the first that it will have.
pub(super) fn copies(model: &Model, parts: impl IntoIterator<Item = usize>) -> Vec<PlacementId> {
    let Some(content) = model.content() else { return Vec::new() };
    let of = |part: usize| {
        let count = content.job.parts.get(part).map_or(0, |part| part.placements.len().max(1));
        (0..count).map(move |copy| PlacementId { part, copy })
    };
    parts.into_iter().flat_map(of).collect()
}
