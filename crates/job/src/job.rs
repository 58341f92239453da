//! The job: which parts, where, on which machine, with which recipe.

use crate::check::Checker;
use crate::exposure_change::ExposureChange;
use crate::part_text::PartText;
use crate::{Acceptance, Clearances, Invalid, NestRules, PartOrder};
use base::{PlacementId, PlacementName, Unit};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// What one build is to make: the content of a job file.
///
/// Paths are relative to the folder of the job file, with forward slashes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Version of the schema that the file was written in; [`Job::VERSION`] is written whatever it is.
    pub version: u32,
    /// What the person calls this build.
    pub name: String,
    /// Path of the machine file.
    pub machine: String,
    /// Path of the recipe file that every part uses unless it names its own.
    pub recipe: String,
    /// How far the parts keep from each other and from the walls.
    #[serde(default, skip_serializing_if = "Clearances::is_default")]
    pub clearances: Clearances,
    /// In which order they are exposed in a layer.
    #[serde(default, skip_serializing_if = "PartOrder::is_default")]
    pub part_order: PartOrder,
    /// Findings that the person takes as they are, wherever they are; those of single parts stand there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accepted: Vec<Acceptance>,
    /// The parts, in the order they are listed and numbered everywhere.
    pub parts: Vec<PartEntry>,
}

impl Job {
    /// Newest version of the job file's schema, the one that is written.
    pub const VERSION: u32 = 3;

    /// What a placement is called; `None` if there is no such placement.
    pub fn placement_name(&self, id: PlacementId) -> Option<PlacementName> {
        let part = self.parts.get(id.part)?;
        let copies = part.placements.len();
        let name = PlacementName { part: part.name.clone(), copy: id.copy + 1, copies };
        (id.copy < copies).then_some(name)
    }

    /// Every placement, part by part and copy by copy.
    pub fn placements(&self) -> impl Iterator<Item = (PlacementId, &Placement)> {
        self.parts.iter().enumerate().flat_map(|(part, entry)| {
            let copies = entry.placements.iter().enumerate();
            copies.map(move |(copy, placement)| (PlacementId { part, copy }, placement))
        })
    }

    /// Takes out placements; parts that are then left without any
    /// leave the job, unless nesting is to place copies of them.
    pub fn remove_placements(&mut self, removed: &BTreeSet<PlacementId>) {
        // From the last on, so that numbers still to come stay true.
        for &PlacementId { part, copy } in removed.iter().rev() {
            if let Some(part) = self.parts.get_mut(part) {
                part.remove_placement(copy);
            }
        }
        let to_come = |part: &PartEntry| part.nest.as_ref().is_some_and(|n| n.quantity.is_some());
        self.parts.retain(|part| !part.placements.is_empty() || to_come(part));
    }

    /// Whether every value is in its range, and no two parts or copies are mistaken for each other.
    ///
    /// # Errors
    /// All problems, in the order of the fields.
    pub fn validate(&self) -> Result<(), Vec<Invalid>> {
        let mut c = Checker::default();
        c.count("version", self.version, 1..=Self::VERSION);
        c.text("name", &self.name);
        c.text("machine", &self.machine);
        c.text("recipe", &self.recipe);
        c.within("clearances", |c| self.clearances.check(c));
        c.each("accepted", &self.accepted, |c, accepted| {
            accepted.check(c);
            if let Some(number) = accepted.placement {
                c.report("placement", number, "left out here: it stands with a part");
            }
        });
        c.not_empty("parts", &self.parts);
        c.each("parts", &self.parts, check_part);
        let names = self.parts.iter().map(|part| (&part.name, format!("{:?}", part.name)));
        c.distinct("parts", ".name", names);
        c.finish()
    }
}

/// `name`, or with the first number from 2 behind it that makes it one that is not taken.
pub fn free_name(name: &str, taken: impl Fn(&str) -> bool) -> String {
    let numbered = (2..).map(|n| format!("{name} {n}"));
    let mut names = std::iter::once(name.to_owned()).chain(numbered);
    names.find(|name| !taken(name)).unwrap_or_default()
}

/// A mesh and how it is to be made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "PartText", into = "PartText")]
pub struct PartEntry {
    /// What the person calls the part; unique in the job.
    pub name: String,
    /// Path of the mesh file (STL, 3MF or OBJ).
    pub mesh: String,
    /// Which object of a file that holds several, by name; all of them together when absent.
    pub object: Option<String>,
    /// Unit of the numbers in the mesh file. Absent: the file's own unit (3MF) or millimetres.
    pub unit: Option<Unit>,
    /// Path of a recipe of this part's own.
    pub recipe: Option<String>,
    /// How many copies nesting arranges, and how; all placements, in any of the 24 quarter turns, when
    /// absent.
    pub nest: Option<NestRules>,
    /// Where copies of the part stand. May be left out where `nest` states a quantity.
    pub placements: Vec<Placement>,
    /// Exposures that single placements have otherwise than the recipe, by the number of the placement
    /// within this part, from 0. In the file they stand with the placement, as `exposures`.
    pub exposure_changes: BTreeMap<usize, Vec<ExposureChange>>,
    /// Findings of this part that the person takes as they are.
    pub accepted: Vec<Acceptance>,
}

impl PartEntry {
    /// Whether nesting leaves a copy where it is.
    pub fn is_locked(&self, copy: usize) -> bool {
        self.nest.as_ref().is_some_and(|nest| nest.locked.iter().any(|l| *l as usize == copy))
    }

    /// Takes out a placement, if there is one of that number; those after it move up, and with them the
    /// numbers of locked ones, of those that change exposures and of those whose findings are accepted.
    pub fn remove_placement(&mut self, number: usize) {
        if number >= self.placements.len() {
            return;
        }
        self.placements.remove(number);
        let changes = std::mem::take(&mut self.exposure_changes).into_iter();
        let moved = changes.filter(|(copy, _)| *copy != number);
        let up = |copy: usize| if copy > number { copy - 1 } else { copy };
        self.exposure_changes = moved.map(|(copy, changes)| (up(copy), changes)).collect();
        self.accepted.retain(|accepted| accepted.placement.is_none_or(|k| k as usize != number));
        let behind = |k: &&mut u32| **k as usize > number;
        for k in self.accepted.iter_mut().filter_map(|a| a.placement.as_mut()).filter(behind) {
            *k -= 1;
        }
        if let Some(nest) = &mut self.nest {
            nest.locked.retain(|locked| *locked as usize != number);
            for locked in nest.locked.iter_mut().filter(|locked| **locked as usize > number) {
                *locked -= 1;
            }
        }
    }
}

/// One copy of a part at a position and orientation in the build space.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Placement {
    /// Part location (ISO 17295): the geometric centre of the rotated part's bounding box in the
    /// build space, mm; origin at the centre of the build platform, Z up. The part is scaled
    /// against shrinkage about this point.
    pub location_mm: [f64; 3],
    /// Rotation: by A about X, then by B about Y, then by C about Z, degrees, right-handed.
    #[serde(default)]
    pub rotation_deg: [f64; 3],
}

fn check_part(c: &mut Checker, part: &PartEntry) {
    c.text("name", &part.name);
    c.text("mesh", &part.mesh);
    for (field, text) in [("object", &part.object), ("recipe", &part.recipe)] {
        if let Some(text) = text {
            c.text(field, text);
        }
    }
    if part.nest.as_ref().is_none_or(|nest| nest.quantity.is_none()) {
        c.not_empty("placements", &part.placements);
    }
    if let Some(nest) = &part.nest {
        c.within("nest", |c| nest.check(c, part.placements.len()));
    }
    c.each("placements", &part.placements, |c, placement| {
        let [x, y, z] = placement.location_mm;
        c.number("location_mm[0]", x, -1000.0..=1000.0); // the grid ends at 1073 mm
        c.number("location_mm[1]", y, -1000.0..=1000.0);
        c.number("location_mm[2]", z, 0.0..=2000.0);
        c.numbers("rotation_deg", placement.rotation_deg, &(-360.0..=360.0));
    });
    // Two copies in one place would be exposed twice: a slip of copying lines.
    let places = part.placements.iter().map(|placement| {
        let [x, y, z] = placement.location_mm;
        let [a, b, d] = placement.rotation_deg;
        let bits = [x, y, z, a, b, d].map(|v| (v + 0.0).to_bits()); // −0 is 0
        (bits, format!("at ({x}, {y}, {z}) mm, rotated by ({a}, {b}, {d})°"))
    });
    c.distinct("placements", "", places);
    part.check_change_values(c);
    c.each("accepted", &part.accepted, |c, accepted| accepted.check(c));
}
