//! What the placements of a job have otherwise than their recipes.

use crate::check::Checker;
use crate::recipe::Recipe;
use crate::{ExposureChange, Invalid, Job, Machine, PartEntry};

impl PartEntry {
    /// What a placement has otherwise than the recipe; nothing for most.
    pub fn changes_of(&self, copy: usize) -> &[ExposureChange] {
        self.exposure_changes.get(&copy).map_or(&[], Vec::as_slice)
    }

    pub(crate) fn check_change_values(&self, c: &mut Checker) {
        let placements = self.placements.len();
        for copy in self.exposure_changes.keys().filter(|copy| **copy >= placements) {
            let allowed = format_args!("one of the {placements} placements, from 0");
            c.report("exposure_changes", format_args!("for placement {copy}"), allowed);
        }
        self.each_change(c, |c, change| change.check(c));
        for (copy, changes) in &self.exposure_changes {
            let names = changes.iter().map(|change| (&change.name, format!("{:?}", change.name)));
            c.within(format_args!("placements[{copy}]"), |c| {
                c.distinct("exposures", ".name", names);
            });
        }
    }

    fn each_change(&self, c: &mut Checker, check: impl Fn(&mut Checker, &ExposureChange)) {
        for (copy, changes) in &self.exposure_changes {
            c.within(format_args!("placements[{copy}]"), |c| c.each("exposures", changes, &check));
        }
    }
}

impl Job {
    /// Whether the exposures that placements of a part change exist in its recipe, and the machine can do
    /// what they ask for. A part that does not exist changes nothing.
    ///
    /// # Errors
    /// Every name, power and speed that does not fit.
    pub fn check_changes(
        &self,
        part: usize,
        recipe: &Recipe,
        machine: &Machine,
    ) -> Result<(), Vec<Invalid>> {
        let mut c = Checker::default();
        c.within(format_args!("parts[{part}]"), |c| {
            let Some(entry) = self.parts.get(part) else { return };
            entry.each_change(c, |c, change| {
                recipe.check_exposure_name(c, "name", &change.name);
                machine.check_exposure(c, &change.name, change.power_w, change.speed_mm_s);
            });
        });
        c.finish()
    }
}
