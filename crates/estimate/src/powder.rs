//! How much energy the powder takes to melt.
//!
//! An energy balance: what is absorbed heats the powder from the bed's temperature to the melting
//! point and melts it. Heat that flows away is not counted.

/// A powder in its bed, and the part that it becomes. All fields are the person's: published values
/// scatter by a fifth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Powder {
    /// Temperature of the bed, °C.
    pub bed_temperature_c: f64,
    /// Melting temperature, °C.
    pub melting_temperature_c: f64,
    /// Heat capacity between the two, J/(g·K).
    pub heat_capacity_j_g_k: f64,
    /// Latent heat of melting, J/g.
    pub latent_heat_j_g: f64,
    /// Density of the powder as spread, g/cm³: that of the material by the packing fraction.
    pub bed_density_g_cm3: f64,
    /// Density of the part, g/cm³.
    pub part_density_g_cm3: f64,
    /// Share of the laser's energy that the powder absorbs, above 0 and at most 1.
    pub absorbed_fraction: f64,
}

/// One material of a mixture, by mass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Constituent {
    /// Share of the mass; all shares add up to 1.
    pub mass_share: f64,
    /// Density of the solid, g/cm³.
    pub density_g_cm3: f64,
    /// Heat capacity, J/(g·K).
    pub heat_capacity_j_g_k: f64,
    /// Latent heat of melting, J/g; 0 for what does not melt, such as glass.
    pub latent_heat_j_g: f64,
}

impl Constituent {
    /// A mixture as one material: volumes, heat capacities and latent heats add up by mass.
    #[must_use]
    pub fn mixed(constituents: &[Self]) -> Self {
        let sum = |of: fn(&Self) -> f64| constituents.iter().map(|c| c.mass_share * of(c)).sum();
        let volume: f64 = sum(|c| c.density_g_cm3.recip());
        Self {
            mass_share: constituents.iter().map(|c| c.mass_share).sum(),
            density_g_cm3: volume.recip(),
            heat_capacity_j_g_k: sum(|c| c.heat_capacity_j_g_k),
            latent_heat_j_g: sum(|c| c.latent_heat_j_g),
        }
    }
}

impl Powder {
    /// Energy that melts a gram of powder, J/g: cp·(melting − bed temperature) + latent heat.
    pub fn melt_energy_j_g(&self) -> f64 {
        let heating = self.melting_temperature_c - self.bed_temperature_c;
        self.heat_capacity_j_g_k * heating + self.latent_heat_j_g
    }

    /// Energy that melts a volume of the powder bed, J/mm³.
    pub fn melt_energy_j_mm3(&self) -> f64 {
        self.bed_density_g_cm3 * 1e-3 * self.melt_energy_j_g()
    }

    /// Laser energy per area, J/mm², that melts powder as deep as one nominal layer.
    pub fn threshold_nominal(&self, layer_mm: f64) -> f64 {
        self.melt_energy_j_mm3() * layer_mm / self.absorbed_fraction
    }

    /// Laser energy per area, J/mm², that melts the powder over fused layers once the build is under
    /// way: it lies deeper there than the nominal layer, see [`Self::powder_depth`].
    pub fn threshold_steady(&self, layer_mm: f64) -> f64 {
        self.threshold_nominal(layer_mm) / self.densification()
    }

    /// Depth of the powder that the `n`th layer of a part (from 1) is spread to, mm.
    ///
    /// Each layer sinks as it densifies, and the next fills the hollow: d₁ = z,
    /// dₙ = z + dₙ₋₁·(1 − φ) with φ = bed density / part density, which tends to z/φ. From the balance
    /// of mass. Layer 0 has no powder.
    pub fn powder_depth(&self, n: u32, layer_mm: f64) -> f64 {
        let phi = self.densification();
        // the recurrence as the sum of a geometric series
        layer_mm * (1.0 - libm::pow(1.0 - phi, f64::from(n))) / phi
    }

    /// Bed density over part density.
    fn densification(&self) -> f64 {
        self.bed_density_g_cm3 / self.part_density_g_cm3
    }
}
