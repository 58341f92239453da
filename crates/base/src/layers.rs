//! How many layers a height takes, and where they are cut.

/// Share of a layer count by which rounding may exceed a whole number without costing a layer:
/// far above the error of the division, far below anything a machine could make.
const TOLERANCE: f64 = 1e-9;

/// Number of layers that a height takes: `ceil(height / thickness)`.
///
/// A quotient that exceeds a whole number by rounding alone counts as that number: 10.00 mm in
/// layers of 0.1 mm are 100 layers, 10.04 mm are 101. Nothing positive to build (also NaN) takes
/// no layer; a count too large for `u32` saturates.
pub fn layer_count(height_mm: f64, thickness_mm: f64) -> u32 {
    let quotient = height_mm / thickness_mm;
    if quotient > 0.0 { whole(quotient * (1.0 - TOLERANCE)) } else { 0 }
}

/// Number of layers at the bottom of an overhang that the melt of the layers above makes anyway:
/// those whose middle lies less than `growth_mm` above the surface.
///
/// Zero for a growth that is not positive; saturates like [`layer_count`].
pub fn growth_layer_count(growth_mm: f64, thickness_mm: f64) -> u32 {
    let quotient = growth_mm / thickness_mm;
    if quotient > 0.0 { whole(quotient * (1.0 - TOLERANCE) - 0.5) } else { 0 }
}

/// Height at which a layer is cut, mm: its middle. Layer `k` spans `k·t … (k+1)·t`.
pub fn middle_mm(layer: u32, thickness_mm: f64) -> f64 {
    (f64::from(layer) + 0.5) * thickness_mm
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "`as` saturates")]
fn whole(layers: f64) -> u32 {
    layers.ceil() as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mass-balance sheet G3: 200 mm → 2000, 10.04 mm → 101, 10.00 mm must give 100, not 101.
    #[test]
    fn a_whole_number_of_layers_stays_whole() {
        assert_eq!(layer_count(200.0, 0.1), 2000);
        assert_eq!(layer_count(10.04, 0.1), 101);
        assert_eq!(layer_count(10.00, 0.1), 100);
        for n in 1..=20_000_u32 {
            for thickness in [0.08, 0.1, 0.12, 0.15] {
                assert_eq!(layer_count(f64::from(n) * thickness, thickness), n, "{thickness}");
            }
        }
        assert_eq!(layer_count(10.000_000_001, 0.1), 100);
        assert_eq!(layer_count(10.000_001, 0.1), 101);
    }

    #[test]
    fn nothing_takes_no_layer_and_nonsense_does_not_panic() {
        for (height, thickness) in
            [(0.0, 0.1), (-1.0, 0.1), (f64::NAN, 0.1), (0.0, 0.0), (1.0, f64::NAN)]
        {
            assert_eq!(layer_count(height, thickness), 0);
            assert_eq!(growth_layer_count(height, thickness), 0);
        }
        assert_eq!(layer_count(1.0, 0.0), u32::MAX);
    }

    #[test]
    fn growth_takes_the_layers_whose_middle_it_reaches() {
        let counts =
            [0.0, 0.04, 0.05, 0.06, 0.1, 0.15, 0.16, 0.2].map(|g| growth_layer_count(g, 0.1));
        assert_eq!(counts, [0, 0, 0, 1, 1, 1, 2, 2]);
    }
}
