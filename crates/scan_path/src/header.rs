//! The tables of a vector file: what the numbers in its layers refer to.

use crate::head_row::{HeadRow, TimesRow};
use crate::made_from::MadeFrom;
use base::finding::VectorFileProblem;
use base::{Finding, GRID_LIMIT_NM, NM_PER_MM, PlacementName, Point};
use serde::{Deserialize, Serialize};

/// Most layers a vector file can hold: 2 m in layers of 10 µm. Bounds the manifest's size.
pub const MAX_LAYERS: u32 = 200_000;

/// What holds for all layers of a vector file.
///
/// Build-space frame: origin at the centre of the build platform, X right, Y to the back, Z up
/// (ISO 17295).
///
/// The default has nothing in it and is not valid; see [`Self::problems`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// Name and version of the program that made the vectors.
    pub generator: String,
    /// What the person calls this build.
    pub job_name: String,
    /// What the person calls the machine.
    pub machine_name: String,
    /// Size of the build space along X, Y and Z, mm; centred on the platform in X and Y.
    pub build_space_mm: [f64; 3],
    /// Height of one layer, mm. Layer `k` spans `k·t … (k+1)·t`.
    pub layer_thickness_mm: f64,
    /// Number of layers.
    pub layer_count: u32,
    /// Direction in which the spreader travels over the bed, degrees from +X towards +Y.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreading_direction_deg: Option<f64>,
    /// Speed of jumps, mm/s at the bed.
    pub jump_speed_mm_s: f64,
    /// Radius of the beam at the bed where its intensity has fallen to 1/e² of the centre's, mm, if
    /// known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beam_radius_mm: Option<f64>,
    /// What melts the powder of each recipe, as far as known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub melt: Vec<MeltRow>,
    /// What takes time beside the beam, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub times: Option<TimesRow>,
    /// How the head moves, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head: Option<HeadRow>,
    /// The parts; placements refer to them by index.
    pub parts: Vec<PartRow>,
    /// The placements; blocks refer to them by index.
    pub placements: Vec<PlacementRow>,
    /// The exposures; blocks refer to them by index.
    pub exposures: Vec<ExposureRow>,
    /// What the layers do not hold though the job asks for it: a build that goes on after it was broken off, a
    /// placement that was given up.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<LeftOut>,
    /// What the file was made from, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_from: Option<MadeFrom>,
}

/// Layers in which a placement, or all of them, are left out on purpose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftOut {
    /// Index into the placement table; all of them when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placement: Option<u32>,
    /// The first layer in which it is left out.
    pub from_layer: u32,
    /// The first layer after that in which it is not; none when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_layer: Option<u32>,
}

impl LeftOut {
    /// Whether it is about this row of the placement table in this layer.
    pub fn is_about(&self, row: u32, layer: u32) -> bool {
        self.placement.is_none_or(|placement| placement == row)
            && self.from_layer <= layer
            && self.below_layer.is_none_or(|below| layer < below)
    }
}

/// The laser energy per area that melts the powder of a recipe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeltRow {
    /// Name of the recipe, as in the exposure table.
    pub recipe: String,
    /// What melts powder as deep as one layer is thick, J/mm².
    pub nominal_j_mm2: f64,
    /// What melts powder as deep as it lies over fused layers once the build is under way, J/mm².
    pub steady_j_mm2: f64,
}

/// A part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartRow {
    /// What the person calls the part.
    pub name: String,
}

/// One copy of a part at a position and orientation in the build space.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlacementRow {
    /// Index into the part table.
    pub part: u32,
    /// Which copy of the part this is, from 1; absent in files of format version 1, where it is
    /// not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub copy: Option<u32>,
    /// Part location (ISO 17295): centre of the rotated part's bounding box, mm.
    pub location_mm: [f64; 3],
    /// Rotation by A about X, then by B about Y, then by C about Z, degrees, right-handed.
    #[serde(alias = "turns_deg")] // in format version 1
    pub rotation_deg: [f64; 3],
    /// Smallest and largest corner of the placed part's bounding box, mm, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bounds_mm: Option<[[f64; 3]; 2]>,
}

/// A laser setting that blocks refer to. The default is not valid: it has no speed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ExposureRow {
    /// Name of the exposure in its recipe.
    pub name: String,
    /// Name of the recipe.
    pub recipe: String,
    /// Laser power at the bed, W.
    pub power_w: f64,
    /// Speed of the mark, mm/s at the bed.
    pub speed_mm_s: f64,
    /// Straight stretch before each path in which the beam gets to its speed, laser off, mm.
    #[serde(alias = "run_in_mm")] // in format version 1
    pub path_run_in_mm: f64,
    /// Straight stretch after each path in which the beam may slow down, laser off, mm.
    #[serde(alias = "run_out_mm")] // in format version 1
    pub path_run_out_mm: f64,
    /// How many times the power that is to arrive the power is, where some gets lost at a place of the
    /// build space; nothing does when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_factor: Option<f64>,
}

impl ExposureRow {
    /// Power that arrives in the powder, W: less than is commanded where the place loses some.
    pub fn arriving_w(&self) -> f64 {
        self.power_w / self.power_factor.unwrap_or(1.0)
    }
}

impl Header {
    /// Everything in the tables that a machine must not run, as findings of kind `header`.
    ///
    /// Numbers must be finite and of the right sign, indices must refer to existing rows, layers
    /// must lie inside the build space.
    pub fn problems(&self) -> Vec<Finding> {
        let mut needs = Needs::default();
        self.check_layers(&mut needs);
        self.check_placements(&mut needs);
        self.check_exposures(&mut needs);
        self.check_melt(&mut needs);
        needs.that(self.times.is_none_or(|times| times.is_valid()), || {
            "A time of the build is below 0 or no number.".to_owned()
        });
        needs.that(self.head.is_none_or(|head| head.is_valid()), || {
            "A number of the head is out of range.".to_owned()
        });
        self.check_left_out(&mut needs);
        needs.that(self.made_from.as_ref().is_none_or(MadeFrom::is_valid), || {
            "What the file was made from has a digest that is none.".to_owned()
        });
        needs.missed
    }

    fn check_layers(&self, needs: &mut Needs) {
        for (axis, size) in ["X", "Y", "Z"].into_iter().zip(self.build_space_mm) {
            needs.that(is_positive(size) && size / 2.0 < f64::from(GRID_LIMIT_NM) / NM_PER_MM, || {
                format!(
                    "The build space is {size} mm along {axis}; it must be above 0 and below 2147 mm."
                )
            });
        }
        let (thickness, jump) = (self.layer_thickness_mm, self.jump_speed_mm_s);
        needs.that(is_positive(thickness), || {
            format!("The layer thickness is {thickness} mm; it must be above 0.")
        });
        needs.that(is_positive(jump), || {
            format!("The jump speed is {jump} mm/s; it must be above 0.")
        });
        let count = self.layer_count;
        needs.that(count <= MAX_LAYERS, || {
            format!("{count} layers are more than a vector file can hold, {MAX_LAYERS}.")
        });
        let (top, height) = (f64::from(count) * thickness, self.build_space_mm[2]);
        let inside = top <= height + 1e-6 * thickness; // a rounding error is no overflow
        needs.that(!top.is_finite() || inside, || {
            format!(
                "{count} layers of {thickness} mm reach {top} mm, above the build space of {height} mm."
            )
        });
        if let Some(angle) = self.spreading_direction_deg {
            needs.that(angle.is_finite(), || {
                format!("The spreading direction is {angle}°; it must be finite.")
            });
        }
    }

    fn check_placements(&self, needs: &mut Needs) {
        let part_count = self.parts.len();
        for (i, row) in self.placements.iter().enumerate() {
            let part = row.part;
            needs.that((part as usize) < part_count, || {
                format!(
                    "Row {i} of the placement table, from 0, refers to part {part}, but there are \
                     {part_count}."
                )
            });
            let all = row.location_mm.iter().chain(&row.rotation_deg);
            let mut all = all.chain(row.bounds_mm.as_ref().map_or(&[][..], |b| b.as_flattened()));
            needs.that(all.all(|x| x.is_finite()), || {
                format!("Row {i} of the placement table, from 0, has a number that is not finite.")
            });
            needs.that(row.copy != Some(0), || {
                format!("Row {i} of the placement table, from 0, is copy 0; copies count from 1.")
            });
        }
    }

    fn check_exposures(&self, needs: &mut Needs) {
        let most = usize::from(u16::MAX) + 1;
        let count = self.exposures.len();
        needs.that(count <= most, || {
            format!("{count} exposures are more than the {most} that blocks can refer to.")
        });
        for (i, row) in self.exposures.iter().enumerate() {
            let (name, power, speed) = (&row.name, row.power_w, row.speed_mm_s);
            needs.that(is_not_negative(power), || {
                format!("Exposure {i}, \"{name}\": the power is {power} W; it must be 0 or above.")
            });
            needs.that(is_positive(speed), || {
                format!("Exposure {i}, \"{name}\": the speed is {speed} mm/s; it must be above 0.")
            });
            let factor = row.power_factor.unwrap_or(1.0);
            needs.that(is_positive(factor), || {
                format!(
                    "Exposure {i}, \"{name}\": the power factor is {factor}; it must be above 0."
                )
            });
            for (which, length) in
                [("run-in", row.path_run_in_mm), ("run-out", row.path_run_out_mm)]
            {
                needs.that(is_not_negative(length), || {
                    format!(
                        "Exposure {i}, \"{name}\": the {which} is {length} mm; it must be 0 or above."
                    )
                });
            }
        }
    }

    fn check_melt(&self, needs: &mut Needs) {
        if let Some(radius) = self.beam_radius_mm {
            needs.that(is_positive(radius), || {
                format!("The beam's radius is {radius} mm; it must be above 0.")
            });
        }
        for row in &self.melt {
            let (recipe, nominal, steady) = (&row.recipe, row.nominal_j_mm2, row.steady_j_mm2);
            needs.that(is_positive(nominal) && is_positive(steady), || {
                format!(
                    "Recipe \"{recipe}\" melts at {nominal} and {steady} J/mm²; both must be above 0."
                )
            });
        }
    }

    fn check_left_out(&self, needs: &mut Needs) {
        let (rows, layers) = (self.placements.len(), self.layer_count);
        for LeftOut { placement, from_layer, below_layer } in &self.left_out {
            let is_row = placement.is_none_or(|row| (row as usize) < rows);
            needs.that(is_row, || {
                format!("Something is left out of {rows} placements that is none of them.")
            });
            let below = below_layer.unwrap_or(layers);
            needs.that(*from_layer <= below && below <= layers, || {
                format!("Layers from {from_layer} to below {below} are left out of {layers}.")
            });
        }
    }

    /// Whether a row of the placement table is left out of a layer on purpose.
    pub fn is_left_out(&self, row: u32, layer: u32) -> bool {
        self.left_out.iter().any(|left_out| left_out.is_about(row, layer))
    }

    /// What is left out on purpose, in words.
    pub fn left_out_words(&self) -> Vec<String> {
        let words = |out: &LeftOut| {
            let what =
                out.placement.map_or("everything".to_owned(), |row| self.placement_name(row));
            let layers = match (out.from_layer, out.below_layer) {
                (0, None) => "all layers".to_owned(),
                (0, Some(below)) => format!("the layers below {below}"),
                (from, None) => format!("the layers from {from} on"),
                (from, Some(below)) => format!("the layers from {from} to below {below}"),
            };
            format!("{what} is left out of {layers}")
        };
        self.left_out.iter().map(words).collect()
    }

    /// What a row of the placement table is called: "bracket 2 of 4", or "bracket, row 3 of the
    /// table" where the file does not say which copy it is.
    pub fn placement_name(&self, row: u32) -> String {
        let placement = self.placements.get(row as usize);
        let part = placement.and_then(|placement| self.parts.get(placement.part as usize));
        let (Some(placement), Some(part)) = (placement, part) else {
            return format!("row {row} of the table");
        };
        match placement.copy {
            Some(copy) => {
                let copies = self.placements.iter().filter(|p| p.part == placement.part).count();
                let (part, copy) = (part.name.clone(), copy as usize);
                PlacementName { part, copy, copies }.to_string()
            }
            None => format!("{}, row {row} of the table", part.name),
        }
    }

    /// Whether a point lies inside the build space or on its border, to the nearest nm.
    pub fn contains(&self, point: Point) -> bool {
        let [x, y, _] = self.build_space_mm.map(|size| size / 2.0 * NM_PER_MM + 0.5);
        f64::from(point.x).abs() <= x && f64::from(point.y).abs() <= y
    }
}

/// What tables must hold, and what of that they do not.
#[derive(Default)]
struct Needs {
    missed: Vec<Finding>,
}

impl Needs {
    fn that(&mut self, holds: bool, what: impl FnOnce() -> String) {
        if !holds {
            self.missed.push(Finding::new(VectorFileProblem::Header { what: what() }));
        }
    }
}

fn is_positive(x: f64) -> bool {
    x.is_finite() && x > 0.0
}

fn is_not_negative(x: f64) -> bool {
    x.is_finite() && x >= 0.0
}
