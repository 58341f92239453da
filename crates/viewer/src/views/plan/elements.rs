//! What the plan draws, and in which line: weight and dash say what a line is.

use render::plan::Dash;

/// What is drawn; each can be left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "independent switches, one for each row")]
pub(super) struct Elements {
    pub(super) section: bool,
    pub(super) contours: bool,
    pub(super) hatch: bool,
    pub(super) centrelines: bool,
    pub(super) jumps: bool,
    /// Run-ins and run-outs.
    pub(super) runs: bool,
    /// Boundaries of the layers below and above.
    pub(super) neighbours: bool,
}

impl Default for Elements {
    fn default() -> Self {
        Self {
            section: true,
            contours: true,
            hatch: true,
            centrelines: true,
            jumps: false,
            runs: false,
            neighbours: false,
        }
    }
}

/// Width, points, and dash.
pub(super) type LineStyle = (f32, Dash);

pub(super) const CONTOUR: LineStyle = (1.6, Dash::SOLID);
pub(super) const HATCH: LineStyle = (0.8, Dash::SOLID);
pub(super) const CENTRELINE: LineStyle = (1.3, Dash::DASH_DOT);
pub(super) const RUN: LineStyle = (0.8, Dash::SOLID);
pub(super) const JUMP: LineStyle = (0.9, Dash::DOTTED);
pub(super) const BELOW: LineStyle = (1.0, Dash::DASHED);
pub(super) const ABOVE: LineStyle = (1.0, Dash::DOTTED);
/// Where the powder is predicted to melt, and the light line below it, which sets it off from any colour.
pub(super) const MELT: LineStyle = (1.8, Dash([7.0, 2.5, 7.0, 2.5]));
pub(super) const MELT_GROUND: LineStyle = (3.6, Dash::SOLID);
/// Marks over the dose.
pub(super) const HAIRLINE: LineStyle = (0.7, Dash::SOLID);
/// The boundary of the section, and of what is selected in it.
pub(super) const BOUNDARY: LineStyle = (0.75, Dash::SOLID);
pub(super) const SELECTED: LineStyle = (1.2, Dash::SOLID);
