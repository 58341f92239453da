//! What follows from a recipe by a formula: scale, layer counts, depths, energies, its fit to a
//! machine.

use super::ranges::BEAM_OFFSET_MM;
use super::{ContourPass, Contours, Exposure, Hatch, HatchPass, Recipe, Strategy};
use crate::check::Checker;
use crate::machine::FieldCorrection;
use crate::{Invalid, Machine, energy};
use base::layers::growth_layer_count;
use base::{GRID_LIMIT_NM, NM_PER_MM, OffGrid, mm_from_nm, nm_from_mm};

impl Recipe {
    /// Factor by which parts are scaled along X, Y, Z of the build so that they come out on size:
    /// 1/(1 − s) with s the shrinkage (not 1 + s: on 120 mm at 3.2 % that would lack 0.12 mm).
    pub fn scale(&self) -> [f64; 3] {
        self.shrinkage_percent.map(|percent| 1.0 / (1.0 - percent / 100.0))
    }

    /// How many layers are left unexposed at the bottom of every overhang, because the melt of
    /// those above reaches down through them: those whose middle lies less than
    /// [`Self::z_growth_mm`] above the surface.
    pub fn z_growth_layers(&self) -> u32 {
        growth_layer_count(self.z_growth_mm, self.layer_thickness_mm)
    }

    /// How far the centre of contour `number`, from 0 for the outermost, lies inside the part's true
    /// boundary, nm: the beam offset and `number` spacings.
    ///
    /// # Errors
    /// [`OffGrid`] if that is not finite or too large; never in a valid recipe.
    pub fn contour_depth_nm(&self, contours: &Contours, number: u32) -> Result<i32, OffGrid> {
        // A spacing that no contour uses may be anything.
        let past = if number == 0 { 0.0 } else { f64::from(number) * contours.spacing_mm };
        nm_from_mm(self.beam_offset_mm + past)
    }

    /// How far the centre of a further pass lies inside the part's true boundary, nm; where a place takes the
    /// beam offset so far down that it would lie outside, on it.
    ///
    /// # Errors
    /// [`OffGrid`] if that is not finite or too large; never in a valid recipe.
    pub fn contour_pass_depth_nm(&self, pass: &ContourPass) -> Result<i32, OffGrid> {
        Ok(nm_from_mm(self.beam_offset_mm + pass.deeper_by_mm)?.max(0))
    }

    /// How far the ends of a hatch stay inside the part's true boundary, nm: the depth of the innermost
    /// contour, or the beam offset where there is no contour, and the hatch's gap.
    ///
    /// # Errors
    /// [`OffGrid`] if that is not finite or too large; never in a valid recipe.
    pub fn hatch_depth_nm(
        &self,
        contours: Option<&Contours>,
        hatch: &Hatch,
    ) -> Result<i32, OffGrid> {
        let innermost = match contours {
            Some(contours) => self.contour_depth_nm(contours, contours.count.saturating_sub(1))?,
            None => nm_from_mm(self.beam_offset_mm)?,
        };
        let depth = i64::from(innermost) + i64::from(nm_from_mm(hatch.gap_mm)?);
        let on_grid = i32::try_from(depth).ok().filter(|depth| depth.abs() < GRID_LIMIT_NM);
        on_grid.ok_or(OffGrid { mm: mm_from_nm(innermost) + hatch.gap_mm })
    }

    /// All strategies: core, then up-facing and down-facing if there are any.
    pub fn strategies(&self) -> impl Iterator<Item = &Strategy> {
        let facing = [&self.up_facing, &self.down_facing].into_iter().flatten();
        std::iter::once(&self.core).chain(facing.map(|facing| &facing.strategy))
    }

    /// The exposure of this name.
    pub fn exposure(&self, name: &str) -> Option<&Exposure> {
        self.exposures.iter().find(|exposure| exposure.name == name)
    }

    /// Laser energy per area that the hatch of a strategy brings to a layer that it fills, summed
    /// over its passes, J/mm². `None` without hatch or if an exposure does not exist.
    pub fn area_energy_j_mm2(&self, strategy: &Strategy) -> Option<f64> {
        let of_pass = |pass: HatchPass| {
            let Exposure { power_w, speed_mm_s, .. } = *self.exposure(&pass.exposure)?;
            Some(energy::area_energy_j_mm2(power_w, speed_mm_s, pass.spacing_mm))
        };
        strategy.hatch.as_ref()?.passes().map(of_pass).sum()
    }

    /// The same per volume of a layer, J/mm³, by the nominal layer thickness.
    pub fn volume_energy_j_mm3(&self, strategy: &Strategy) -> Option<f64> {
        Some(self.area_energy_j_mm2(strategy)? / self.layer_thickness_mm)
    }

    /// The recipe where the beam is wider by some mm, or narrower: with other beam offsets, at outer
    /// boundaries and at holes, to the nanometre.
    #[must_use]
    pub fn with_offsets_changed(&self, by_mm: f64) -> Self {
        let changed = |offset_mm: f64| {
            if by_mm.abs() * NM_PER_MM < 0.5 {
                return offset_mm;
            }
            let mm = ((offset_mm + by_mm) * NM_PER_MM).round() / NM_PER_MM;
            mm.clamp(*BEAM_OFFSET_MM.start(), *BEAM_OFFSET_MM.end())
        };
        Self {
            beam_offset_mm: changed(self.beam_offset_mm),
            hole_offset_mm: self.hole_offset_mm.map(changed),
            ..self.clone()
        }
    }

    /// Whether the machine can do what the exposures ask for, and its field corrections leave the beam
    /// offsets in their range.
    ///
    /// # Errors
    /// Every power and speed beyond the machine's limits, and every offset that a place takes too far.
    pub fn check_on(&self, machine: &Machine) -> Result<(), Vec<Invalid>> {
        let mut c = Checker::default();
        c.each("exposures", &self.exposures, |c, exposure| {
            let Exposure { name, power_w, speed_mm_s, .. } = exposure;
            machine.check_exposure(c, name, Some(*power_w), Some(*speed_mm_s));
            machine.check_runs(c, exposure);
        });
        let of_holes = self.hole_offset_mm.map(|own| ("hole_offset_mm", own));
        for (field, own) in [("beam_offset_mm", self.beam_offset_mm)].into_iter().chain(of_holes) {
            let is_out =
                |p: &&FieldCorrection| !BEAM_OFFSET_MM.contains(&(own + p.offset_change_mm));
            if let Some(place) = machine.field_corrections.iter().find(is_out) {
                let FieldCorrection { x_mm, y_mm, offset_change_mm, .. } = place;
                let (low, high) = (BEAM_OFFSET_MM.start(), BEAM_OFFSET_MM.end());
                let allowed = format_args!(
                    "at least {low} and at most {high} with the {offset_change_mm} mm that machine {:?} \
                     adds at ({x_mm}, {y_mm}) mm",
                    machine.name
                );
                c.report(field, own, allowed);
            }
        }
        c.finish()
    }

    /// Whether parts with this recipe can be built beside parts with another one: a layer is
    /// spread once for all, so its thickness must be the same.
    ///
    /// # Errors
    /// The layer thickness, if it differs.
    pub fn check_beside(&self, other: &Self) -> Result<(), Vec<Invalid>> {
        let mut c = Checker::default();
        let (own, others) = (self.layer_thickness_mm, other.layer_thickness_mm);
        if own.to_bits() != others.to_bits() {
            let allowed = format_args!("{others} as in recipe {:?} of the same job", other.name);
            c.report("layer_thickness_mm", own, allowed);
        }
        c.finish()
    }
}

impl Hatch {
    /// All passes in the order they are run: an exposure each on the lines of the hatch, then those that
    /// have lines of their own.
    pub fn passes(&self) -> impl Iterator<Item = HatchPass> + '_ {
        let first = self.exposures.iter().map(|exposure| HatchPass {
            exposure: exposure.clone(),
            spacing_mm: self.spacing_mm,
            rotated_by_deg: 0.0,
        });
        first.chain(self.further_passes.iter().cloned())
    }
}
