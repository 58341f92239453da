//! The recipe: all process parameters of one material on one machine.

pub mod ranges;

mod limits;
mod material;
mod measures;
mod rules;

pub use limits::{Limit, Limits};
pub use material::Material;

use crate::Invalid;
use serde::{Deserialize, Serialize};

/// Process parameters of one material on one machine, layer thickness included.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// Version of the schema that the file was written in; [`Recipe::VERSION`] is written whatever it is.
    pub version: u32,
    /// What the person calls the recipe.
    pub name: String,
    /// Where these numbers come from, cautions, anything worth keeping.
    #[serde(default)]
    pub notes: String,
    /// Height of one spread of powder, mm.
    pub layer_thickness_mm: f64,
    /// What the powder is.
    pub material: Material,
    /// How much the material shrinks from hot to cold along X, Y, Z, percent. Parts are scaled by
    /// 1/(1 − s) so that they come out on size.
    pub shrinkage_percent: [f64; 3],
    /// How far the melt reaches below the first exposed layer of a down-facing surface, mm.
    /// That much is left unexposed at the bottom of every overhang.
    pub z_growth_mm: f64,
    /// How far the centre of the outermost vector lies inside the part's true boundary, mm.
    pub beam_offset_mm: f64,
    /// How far the centre of the outermost vector lies inside the material at the boundary of a hole,
    /// mm; as at all other boundaries when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hole_offset_mm: Option<f64>,
    /// How corners are joined when boundaries are offset.
    pub joins: Joins,
    /// What becomes of walls too narrow for two contours, or for hatch.
    pub thin_walls: ThinWalls,
    /// From where on a shape counts as one that will not come out; what is usual where nothing is said.
    #[serde(default, skip_serializing_if = "Limits::is_usual")]
    pub limits: Limits,
    /// Named exposures, referred to by the strategies below.
    pub exposures: Vec<Exposure>,
    /// How regions with neither powder above nor below are filled.
    pub core: Strategy,
    /// How regions with powder above are filled; like the core when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_facing: Option<FacingStrategy>,
    /// How regions with powder below are filled; like the core when absent. Where a region is
    /// both up- and down-facing, this one holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub down_facing: Option<FacingStrategy>,
    /// In which order the beam takes what may be run in any.
    #[serde(default, skip_serializing_if = "PathOrder::is_default")]
    pub path_order: PathOrder,
    /// Spots that are heated again by a neighbouring mark sooner than this, ms, are a caution, and are counted by
    /// the verb `time` for a layer; nobody looks when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shortest_return_ms: Option<f64>,
}

/// In which order the beam takes lines of a hatch, islands and contours, as far as the rest of the recipe leaves
/// it open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum PathOrder {
    /// So that all jumps together are short, in time where the machine says how its mirrors move.
    #[default]
    ShortJumps,
    /// Always the nearest next.
    NearestNext,
}

impl PathOrder {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
    fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

impl Recipe {
    /// Newest version of the recipe file's schema, the one that is written.
    pub const VERSION: u32 = 3;

    /// Whether every value is in its range and every exposure that is named exists.
    ///
    /// # Errors
    /// All problems, in the order of the fields.
    pub fn validate(&self) -> Result<(), Vec<Invalid>> {
        rules::check(self)
    }
}

/// A strategy for regions within a number of layers of powder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FacingStrategy {
    /// Within how many layers of the powder a region counts as facing it, at least 1.
    pub layers: u32,
    /// How such regions are filled.
    pub strategy: Strategy,
}

/// How corners are joined where an offset boundary opens up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Joins {
    /// Arcs, approximated by chords no farther than this from them, µm.
    Round {
        /// Largest distance of a chord from its arc, µm.
        chord_tolerance_um: f64,
    },
    /// Sharp corners, cut off where they reach farther than `limit` × offset.
    Mitre {
        /// Largest reach of a corner as a multiple of the offset, at least 1.
        limit: f64,
    },
}

/// What becomes of walls too narrow for two contours, or for hatch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum ThinWalls {
    /// Expose one centreline along the middle of walls too narrow for two contours, lines along those too
    /// narrow for hatch.
    Expose {
        /// Name of the exposure to use.
        exposure: String,
        /// Centrelines shorter than this are not worth a mark, mm.
        min_length_mm: f64,
        /// Walls thinner than this are not exposed but reported, mm.
        min_width_mm: f64,
    },
    /// Leave them out and report them.
    Skip,
}

/// A laser setting that marks can refer to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exposure {
    /// Name, unique in the recipe.
    pub name: String,
    /// Laser power at the bed, W.
    pub power_w: f64,
    /// Speed of the mark, mm/s.
    pub speed_mm_s: f64,
    /// Whether the two lengths below count, or what follows from the machine's head.
    #[serde(default, skip_serializing_if = "Runs::are_typed")]
    pub runs: Runs,
    /// Run-in of each path, which is a row of marks between two jumps: the stretch straight before its first
    /// mark in which the beam gets to its speed, with the laser off, mm.
    #[serde(default)]
    pub path_run_in_mm: f64,
    /// Run-out of each path: the stretch straight after its last mark in which the beam brakes, with the laser
    /// off, mm.
    #[serde(default)]
    pub path_run_out_mm: f64,
}

/// Where the lengths of run-in and run-out come from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Runs {
    /// They are typed.
    #[default]
    Typed,
    /// They follow from the machine's head and the speed: v²/2a, and what the beam covers while the mirrors
    /// settle. Typed lengths are kept, but do not count.
    Auto,
}

impl Runs {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
    fn are_typed(&self) -> bool {
        *self == Self::Typed
    }
}

/// How one kind of region is exposed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Strategy {
    /// Whether contours or hatch come first.
    pub sequence: Sequence,
    /// Exposures along the boundary; none when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contours: Option<Contours>,
    /// Exposures that fill the region; none when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hatch: Option<Hatch>,
}

/// Whether contours or hatch come first in a layer of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Sequence {
    /// Contours, then hatch.
    ContoursFirst,
    /// Hatch, then contours.
    HatchFirst,
}

/// Exposures along the boundary of a region.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contours {
    /// How many, at least 1. The outermost lies at the beam offset.
    pub count: u32,
    /// Distance from one contour to the next, mm.
    pub spacing_mm: f64,
    /// In which order they are run.
    pub order: ContourOrder,
    /// Where a closed contour starts and ends.
    pub start: StartPoint,
    /// Names of the exposures run one after the other along every contour; at least one.
    pub exposures: Vec<String>,
    /// Runs around the boundary after these, each at a depth of its own; none when absent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub further_passes: Vec<ContourPass>,
}

/// One more run around the boundary, beside the contours; what walls too narrow for hatch get does not
/// count it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ContourPass {
    /// Name of its exposure.
    pub exposure: String,
    /// How much deeper in the part it lies than the outermost contour, mm; below 0, how much nearer to the
    /// boundary.
    pub deeper_by_mm: f64,
}

/// In which order the contours of a boundary are run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ContourOrder {
    /// The innermost first.
    InsideOut,
    /// The outermost first.
    OutsideIn,
}

/// Where a closed contour starts and ends.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum StartPoint {
    /// At the corner nearest to where the beam comes from: shortest jumps.
    Nearest,
    /// At the sharpest corner, where a seam shows least.
    SharpestCorner,
    /// At the corner farthest in this direction, degrees from +X: seams in one line.
    Towards(f64),
    /// At a corner that moves on along the contour by the golden angle from layer to layer:
    /// seams spread over the surface.
    Spread,
}

/// Parallel exposures that fill a region.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hatch {
    /// Distance of the lines, mm.
    pub spacing_mm: f64,
    /// Distance from the innermost contour's centre to the ends of the hatch, mm. Without
    /// contours: added to the beam offset.
    pub gap_mm: f64,
    /// Scan angle of layer 0, degrees from +X.
    pub angle_deg: f64,
    /// How far the scan angle is rotated from each layer to the next, degrees.
    pub rotation_per_layer_deg: f64,
    /// Scan angles to keep out of; none when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forbidden: Option<ForbiddenAngles>,
    /// Whether neighbouring lines run the same way.
    pub travel: Travel,
    /// How the region is divided.
    pub pattern: Pattern,
    /// Lines shorter than this are left out, mm; 0 keeps all.
    pub min_length_mm: f64,
    /// The region is filled in every n-th layer only, counted from layer 0; 1 for every layer.
    pub every_nth_layer: u32,
    /// Names of the exposures run one after the other over the hatch; at least one.
    pub exposures: Vec<String>,
    /// Passes after these that have lines of their own; none when absent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub further_passes: Vec<HatchPass>,
}

/// One more run over a hatched region: divided and ended like the first, on other lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HatchPass {
    /// Name of its exposure.
    pub exposure: String,
    /// Distance of its lines, mm.
    pub spacing_mm: f64,
    /// How far its lines are rotated from those that the first pass has in the same layer, degrees; kept
    /// out of forbidden angles like these. Stripes and cells are rotated along, so that cells, every
    /// other one of which lies across, are the same again after a quarter turn.
    pub rotated_by_deg: f64,
}

/// A window of scan angles that are not used.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ForbiddenAngles {
    /// Angles closer than this to the spreading direction, either way along it, are moved to the
    /// nearest end of the window, degrees; below 90. With cells both of their directions keep out,
    /// which leaves room up to 45.
    pub within_deg: f64,
}

/// Whether neighbouring lines run the same way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Travel {
    /// Every line runs in the scan direction.
    OneWay,
    /// Every other line runs back.
    Serpentine,
}

/// How a hatched region is divided.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Pattern {
    /// Lines across the whole region.
    Lines,
    /// Bands across which the lines run; the bands lie along the direction at right angles to
    /// the lines.
    Stripes {
        /// Width of a band, which is the longest a line can be, mm.
        width_mm: f64,
        /// How far neighbouring bands reach into each other, mm.
        overlap_mm: f64,
    },
    /// Squares, each filled on its own; neighbours are hatched at right angles to each other.
    Cells {
        /// Edge of a square, mm.
        size_mm: f64,
        /// How far neighbouring cells reach into each other, mm.
        overlap_mm: f64,
        /// In which order they are run.
        order: CellOrder,
    },
}

/// In which order cells are run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum CellOrder {
    /// Row by row: shortest jumps.
    RowByRow,
    /// So that neighbouring cells are far apart in time: heat spreads.
    Scattered,
}
