//! Times as text.

pub(crate) use base::duration;

/// A time within a layer in the unit that suits its size: "12.3000 s", "4.560 ms".
pub(crate) fn beam_time(time_s: f64) -> String {
    match time_s.abs() {
        t if t >= 100.0 => format!("{time_s:.1} s"),
        t if t >= 1.0 => format!("{time_s:.4} s"),
        _ => format!("{:.3} ms", time_s * 1000.0),
    }
}

#[cfg(test)]
mod tests {
    use super::beam_time;

    #[test]
    fn beam_times_have_the_unit_that_suits_them() {
        let texts = [0.0, 0.000_012_3, 0.5, 1.25, 250.04].map(beam_time);
        assert_eq!(texts, ["0.000 ms", "0.012 ms", "500.000 ms", "1.2500 s", "250.0 s"]);
    }
}
