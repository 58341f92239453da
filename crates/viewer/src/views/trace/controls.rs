//! The row above the trace: buttons, pace, and what the beam does at the cursor.

use crate::state::actions::Action;
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use crate::widgets::format::beam_time;
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::{BODY, CAPTION};
use egui::{Rect, RichText, Role, Ui, UiBuilder, WidgetInfo, vec2};
use motion::MoveKind;

/// Seconds of the beam in a second of the person, with their words.
const PACES: [(f64, &str); 6] = [
    (1.0, "as it runs"),
    (0.1, "10 × slower"),
    (0.01, "100 × slower"),
    (0.001, "1,000 × slower"),
    (0.0001, "10,000 × slower"),
    (10.0, "10 × faster"),
];

/// What the speeds are, and more of it.
const IDEAL: (&str, &str) = (
    "at commanded speeds",
    "Every move is taken to run at the speed that is asked for. The machine does not say how its mirrors \
     speed up and settle: a real scan head needs longer.",
);
const WITH_MASS: (&str, &str) = (
    "mirrors with mass",
    "Mirrors speed up, slow down and settle as the machine says. How far the spot is behind what is commanded stands \
     beside the speed.",
);

/// Buttons, pace, and what the beam does at the cursor.
pub(super) fn controls(
    ui: &mut Ui,
    row: Rect,
    model: &Model,
    shown: &ShownLayer,
    stale: bool,
    is_summed: bool,
    actions: &mut Vec<Action>,
) {
    let ink = &model.ink;
    let inside = UiBuilder::new().max_rect(row.shrink2(vec2(8.0, 0.0)));
    ui.scope_builder(inside, |ui| {
        ui.horizontal_centered(|ui| {
            let can = !stale && shown.timeline.total_s() > 0.0;
            let playing = model.cursor.playing;
            let (icon, name) =
                if playing { (Icon::Halt, "Halt the beam") } else { (Icon::Play, "Run the beam") };
            let command = |icon, name: &str, command, ui: &mut Ui, actions: &mut Vec<Action>| {
                if icons::button(ui, icon, name, can, ink).clicked() && can {
                    actions.push(Action::Command(command));
                }
            };
            command(Icon::Previous, "Previous mark", Command::PreviousMark, ui, actions);
            command(icon, name, Command::Play, ui, actions);
            command(Icon::Next, "Next mark", Command::NextMark, ui, actions);
            pace(ui, model, actions);
            let text = RichText::new(now(model, shown, stale)).size(BODY).color(ink.ink);
            ui.add(egui::Label::new(text).truncate());
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let caption = |text: &str| RichText::new(text).size(CAPTION).color(ink.soft);
                let (says, explained) = if shown.timeline.is_ideal() { IDEAL } else { WITH_MASS };
                ui.add(egui::Label::new(caption(says))).on_hover_text(explained);
                if is_summed && ui.available_width() > 150.0 {
                    ui.label(caption("line: mean, band: range")).on_hover_text(
                        "There are more moves than pixels: each column shows the mean over its \
                         time, and between which values it goes. Zoom in with the wheel to see \
                         every move.",
                    );
                }
            });
        });
    });
}

fn pace(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let now = model.cursor.pace;
    let near = |pace: f64| (pace / now - 1.0).abs() < 1e-6;
    let words = PACES.iter().find(|(pace, _)| near(*pace)).map_or("", |(_, words)| words);
    let combo =
        egui::ComboBox::from_id_salt("pace").selected_text(words).width(112.0).show_ui(ui, |ui| {
            for (pace, words) in PACES {
                if ui.selectable_label(near(pace), words).clicked() {
                    actions.push(Action::Play { on: model.cursor.playing, pace });
                }
            }
        });
    combo.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Pace of the beam"));
}

/// How far the spot is from where the mirrors are told to point, in words; nothing if the machine does not say how
/// they follow.
fn behind(shown: &ShownLayer, time_s: f64, told_mm: [f64; 2]) -> String {
    let servo = pipeline::servo(&shown.build.loaded.machine);
    let spot = servo.and_then(|servo| shown.timeline.spot_at(servo, time_s));
    spot.map_or(String::new(), |spot| {
        let off_mm = (told_mm[0] - spot[0]).hypot(told_mm[1] - spot[1]);
        format!(" · spot {off_mm:.3} mm behind")
    })
}

/// What the beam does at the cursor, in words.
fn now(model: &Model, shown: &ShownLayer, stale: bool) -> String {
    let total = beam_time(shown.timeline.total_s());
    let time_s = model.cursor.time_s;
    let beam = shown.timeline.at(time_s).filter(|_| !stale);
    let Some(beam) = beam else { return format!("layer of {total}") };
    let kind = match beam.kind {
        MoveKind::Jump => "jump",
        MoveKind::Wait => "settling",
        MoveKind::RunIn => "run-in",
        MoveKind::Mark => "mark",
        MoveKind::Dwell => "waiting in a corner",
        MoveKind::RunPast => "past a corner",
        MoveKind::RunOut => "run-out",
    };
    let time = beam_time(time_s);
    let speed = (beam.speed_mm_s * 10.0).round() / 10.0;
    let behind = behind(shown, time_s, beam.position_mm);
    format!("{time} of {total} · {kind} · {} W · {speed} mm/s{behind}", beam.power_w)
}
