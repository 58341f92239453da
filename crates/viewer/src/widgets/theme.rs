//! The two inks: *paper* and *blueprint*. Colours, line weights and the type scale.
//!
//! Colour is kept for one quantity at a time (see the plan's legend); everything else is said with
//! ink, its weight and its dash. The accent marks the shared cursor and what is selected, in all
//! views alike.

pub(crate) use crate::state::theme::{Ink, Theme};
use egui::{CornerRadius, FontFamily, FontId, Margin, Stroke, TextStyle, Visuals, vec2};

/// Sizes of text, points.
pub(crate) const CAPTION: f32 = 11.0;
pub(crate) const BODY: f32 = 13.0;
pub(crate) const HEADING: f32 = 15.0;
pub(crate) const TITLE: f32 = 22.0;

/// The unit of spacing, points: everything is a multiple of it.
pub(crate) const GAP: f32 = 4.0;

/// Sets egui's style from an ink.
pub(crate) fn apply(ctx: &egui::Context, ink: &Ink) {
    let dark = ink.theme == Theme::Blueprint;
    ctx.set_theme(if dark { egui::Theme::Dark } else { egui::Theme::Light });
    let mut visuals = if dark { Visuals::dark() } else { Visuals::light() };
    visuals.override_text_color = Some(ink.ink);
    visuals.weak_text_color = Some(ink.soft);
    visuals.panel_fill = ink.desk;
    visuals.window_fill = ink.desk;
    visuals.extreme_bg_color = ink.well;
    visuals.text_edit_bg_color = Some(ink.well);
    visuals.faint_bg_color = ink.grid;
    visuals.code_bg_color = ink.well;
    visuals.window_stroke = Stroke::new(1.0, ink.faint);
    visuals.warn_fg_color = ink.caution;
    visuals.error_fg_color = ink.stop;
    visuals.hyperlink_color = ink.accent;
    visuals.selection.bg_fill = ink.accent_tint;
    visuals.selection.stroke = Stroke::new(1.0, ink.accent);
    let round = CornerRadius::same(2);
    visuals.window_corner_radius = round;
    visuals.menu_corner_radius = round;
    let w = &mut visuals.widgets;
    for (widget, fill, line, text) in [
        (&mut w.noninteractive, ink.desk, ink.faint, ink.ink),
        (&mut w.inactive, ink.well, ink.edge, ink.ink),
        (&mut w.hovered, ink.well, ink.soft, ink.ink),
        (&mut w.active, ink.accent_tint, ink.accent, ink.ink),
        (&mut w.open, ink.well, ink.soft, ink.ink),
    ] {
        widget.bg_fill = fill;
        widget.weak_bg_fill = fill;
        widget.bg_stroke = Stroke::new(1.0, line);
        widget.fg_stroke = Stroke::new(1.0, text);
        widget.corner_radius = round;
        widget.expansion = 0.0;
    }
    ctx.all_styles_mut(|style| {
        style.visuals = visuals.clone();
        let font = |size| FontId::new(size, FontFamily::Proportional);
        style.text_styles = [
            (TextStyle::Small, font(CAPTION)),
            (TextStyle::Body, font(BODY)),
            (TextStyle::Button, font(BODY)),
            (TextStyle::Heading, font(HEADING)),
            (TextStyle::Monospace, FontId::new(BODY, FontFamily::Monospace)),
        ]
        .into();
        style.spacing.item_spacing = vec2(2.0 * GAP, GAP);
        style.spacing.button_padding = vec2(2.0 * GAP, 0.75 * GAP);
        style.spacing.menu_margin = Margin::same(6);
        style.spacing.interact_size.y = 20.0;
        style.spacing.indent = 3.0 * GAP;
        style.animation_time = 0.0; // an idle window repaints nothing
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Color32;

    /// Relative luminance and contrast ratio after WCAG 2.2, "relative luminance" and "contrast
    /// ratio" (W3C Recommendation).
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let linear = [c.r(), c.g(), c.b()].map(|v| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            });
            0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// WCAG 2.2, success criteria 1.4.3 (text at least 4.5 : 1) and 1.4.11 (graphics and edges of controls at
    /// least 3 : 1).
    #[test]
    fn text_and_marks_stand_out_from_what_they_are_on() {
        for theme in [Theme::Paper, Theme::Blueprint] {
            let ink = Ink::of(theme);
            for ground in [ink.sheet, ink.desk, ink.well] {
                for text in [ink.ink, ink.soft, ink.accent, ink.stop, ink.caution, ink.good] {
                    assert!(contrast(text, ground) >= 4.5, "{theme:?} {text:?} on {ground:?}");
                }
                assert!(contrast(ink.edge, ground) >= 3.0, "{theme:?} edges on {ground:?}");
            }
            assert!(contrast(ink.ink, ink.accent_tint) >= 4.5, "{theme:?} selected text");
            assert!(contrast(ink.ink, ink.fused) >= 4.5, "{theme:?} contours on what is fused");
        }
    }

    /// What is chosen, what stops a job, what calls for caution and what is done differ in hue by an eighth of
    /// the circle or nearly so, in `OKLab` (B. Ottosson 2020), whose values of sRGB's primaries the tests of
    /// `render` compare with the published ones.
    #[test]
    fn colours_with_a_meaning_have_hues_of_their_own() {
        for theme in [Theme::Paper, Theme::Blueprint] {
            let ink = Ink::of(theme);
            let hues = [ink.accent, ink.stop, ink.caution, ink.good].map(|colour| {
                let [_, a, b] = render::plan::oklab([colour.r(), colour.g(), colour.b()]);
                assert!(a.hypot(b) > 0.07, "{theme:?} {colour:?} is grey");
                b.atan2(a).to_degrees()
            });
            for (i, hue) in hues.iter().enumerate() {
                for other in &hues[i + 1..] {
                    let apart = (hue - other).rem_euclid(360.0);
                    assert!(apart.min(360.0 - apart) > 40.0, "{theme:?} {hues:?}");
                }
            }
        }
    }
}
