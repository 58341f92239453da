//! The theme's colours as the 3D renderer takes them: for the chamber and for the thumbnails.

use crate::widgets::theme::{Ink, Theme};
use egui::Color32;
use render::chamber::{Colour, Palette};

/// A colour of the theme with this opacity.
pub(crate) fn rgba(colour: Color32, opacity: f32) -> Colour {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 255")]
    let alpha = (opacity.clamp(0.0, 1.0) * 255.0).round() as u8;
    [colour.r(), colour.g(), colour.b(), alpha]
}

/// The colours of a 3D scene: the theme's, with tones for shade made from it.
pub(crate) fn palette(ink: &Ink) -> Palette {
    let dark = ink.theme == Theme::Blueprint;
    let mix = |a: Color32, b: Color32, part: f32| rgba(a.lerp_to_gamma(b, part), 1.0);
    Palette {
        ground: rgba(ink.sheet, 1.0),
        crease: rgba(ink.ink, 0.5),
        outline: rgba(ink.ink, 1.0),
        shade: if dark { rgba(ink.desk, 0.85) } else { rgba(ink.soft, 0.62) },
        section: mix(ink.fused, ink.sheet, 0.35),
        section_hatch: rgba(ink.ink, 0.75),
        inside: mix(ink.surface, ink.stop, 0.35),
        selected: rgba(ink.accent, 1.0),
        hovered: rgba(ink.accent, 0.75),
        faulty: rgba(ink.stop, 1.0),
    }
}
