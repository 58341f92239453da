//! The two inks, *paper* and *blueprint*, as colours.

use egui::Color32;
use serde::{Deserialize, Serialize};

/// Which of the two.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum Theme {
    /// Dark ink on a warm light sheet.
    #[default]
    Paper,
    /// Light ink on deep blue.
    Blueprint,
}

/// What everything is drawn with.
#[expect(clippy::struct_field_names, reason = "the ink of an ink is its line")]
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ink {
    /// The theme that it belongs to.
    pub(crate) theme: Theme,
    /// The sheet that views are drawn on.
    pub(crate) sheet: Color32,
    /// The desk around it: traveller, strip.
    pub(crate) desk: Color32,
    /// Fields that can be typed in.
    pub(crate) well: Color32,
    /// Text and heavy lines.
    pub(crate) ink: Color32,
    /// Captions, fine lines.
    pub(crate) soft: Color32,
    /// Jumps, neighbouring layers, borders of views.
    pub(crate) faint: Color32,
    /// Around what can be pressed or typed into.
    pub(crate) edge: Color32,
    /// Grid lines.
    pub(crate) grid: Color32,
    /// What will be fused, as a tint on the sheet.
    pub(crate) fused: Color32,
    /// Cursor, selection, what is being dragged.
    pub(crate) accent: Color32,
    /// Behind selected rows and text.
    pub(crate) accent_tint: Color32,
    /// Findings that stop a job; always beside a word and a shape.
    pub(crate) stop: Color32,
    /// Findings that call for caution; always beside a word and a shape.
    pub(crate) caution: Color32,
    /// What is done and verified; always beside a word and a shape.
    pub(crate) good: Color32,
    /// Surfaces of parts in the chamber.
    pub(crate) surface: Color32,
}

impl Ink {
    /// The ink of a theme.
    pub(crate) const fn of(theme: Theme) -> Self {
        let c = Color32::from_rgb;
        match theme {
            Theme::Paper => Self {
                theme,
                sheet: c(250, 246, 236),
                desk: c(238, 231, 216),
                well: c(253, 251, 245),
                ink: c(32, 43, 54),
                soft: c(88, 95, 99),
                faint: c(176, 170, 156),
                edge: c(132, 126, 112),
                grid: c(230, 223, 207),
                fused: c(226, 217, 196),
                accent: c(0, 92, 190),
                accent_tint: c(206, 222, 240),
                stop: c(172, 20, 36),
                caution: c(138, 88, 0),
                good: c(22, 92, 66),
                surface: c(222, 214, 196),
            },
            Theme::Blueprint => Self {
                theme,
                sheet: c(16, 44, 84),
                desk: c(11, 32, 64),
                well: c(8, 24, 50),
                ink: c(232, 240, 250),
                soft: c(168, 190, 216),
                faint: c(84, 116, 156),
                edge: c(108, 140, 180),
                grid: c(28, 60, 106),
                fused: c(34, 72, 122),
                accent: c(94, 230, 240),
                accent_tint: c(22, 84, 112),
                stop: c(255, 138, 128),
                caution: c(255, 206, 92),
                good: c(146, 226, 178),
                surface: c(74, 110, 156),
            },
        }
    }
}
