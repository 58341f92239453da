//! How the sheet is divided between the views.

use serde::{Deserialize, Serialize};

/// One of the four drawings on the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub(crate) enum View {
    /// A layer from above.
    Plan,
    /// The build in 3D.
    Chamber,
    /// The build from the side.
    Elevation,
    /// Power and speed against time.
    Trace,
}

impl View {
    /// What it is called, and what it shows.
    pub(crate) fn title(self) -> (&'static str, &'static str) {
        match self {
            Self::Plan => ("Plan", "the layer from above"),
            Self::Chamber => ("Chamber", "the build in 3D"),
            Self::Elevation => ("Elevation", "the build from the side"),
            Self::Trace => ("Trace", "laser power and speed against time in this layer"),
        }
    }
}

/// Shares of the sheet, remembered from session to session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Layout {
    /// Width of the traveller, points.
    pub(crate) traveller: f32,
    /// Height of the trace as a share of the sheet.
    pub(crate) trace: f32,
    /// Width of chamber and elevation as a share of the sheet.
    pub(crate) right: f32,
    /// Height of the elevation as a share of what the trace leaves.
    pub(crate) elevation: f32,
    /// The view that fills the sheet alone.
    pub(crate) full: Option<View>,
}

impl Default for Layout {
    fn default() -> Self {
        Self { traveller: 330.0, trace: 0.2, right: 0.42, elevation: 0.38, full: None }
    }
}
