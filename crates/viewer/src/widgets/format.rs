//! Times and numbers as text.

pub(crate) use base::duration;

/// A time within a layer in the unit that suits its size: "12.3000 s", "4.560 ms".
pub(crate) fn beam_time(time_s: f64) -> String {
    match time_s.abs() {
        t if t >= 100.0 => format!("{time_s:.1} s"),
        t if t >= 1.0 => format!("{time_s:.4} s"),
        _ => format!("{:.3} ms", time_s * 1000.0),
    }
}

/// A number with the three digits that count.
pub(crate) fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    #[expect(clippy::cast_possible_truncation, reason = "a few digits")]
    let size = value.abs().log10().floor() as i32;
    let decimals = usize::try_from((2 - size).clamp(0, 6)).unwrap_or(0);
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::{beam_time, number};

    #[test]
    fn numbers_have_three_digits_that_count() {
        let said = [0.0, 21.0, 2500.0, 0.0084, 12.345, 1e-9].map(number);
        assert_eq!(said, ["0", "21", "2500", "0.0084", "12.3", "0"]);
    }

    #[test]
    fn beam_times_have_the_unit_that_suits_them() {
        let texts = [0.0, 0.000_012_3, 0.5, 1.25, 250.04].map(beam_time);
        assert_eq!(texts, ["0.000 ms", "0.012 ms", "500.000 ms", "1.2500 s", "250.0 s"]);
    }
}
