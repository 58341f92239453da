//! Round steps for rulers, grids and time axes.

/// The smallest of 1, 2, 5 × a power of ten that is not below `least`.
pub(crate) fn nice_step(least: f64) -> f64 {
    let power = 10.0_f64.powf(least.max(1e-9).log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * power);
    steps.into_iter().find(|step| *step >= least).unwrap_or(steps[3])
}

#[cfg(test)]
mod tests {
    use super::nice_step;

    #[test]
    fn steps_of_a_ruler_are_round() {
        let steps = [0.03, 0.05, 0.7, 1.0, 11.0, 34.0].map(nice_step);
        let expected = [0.05, 0.05, 1.0, 1.0, 20.0, 50.0];
        for (step, expected) in steps.into_iter().zip(expected) {
            assert!((step - expected).abs() < 1e-9, "{step} {expected}");
        }
    }
}
