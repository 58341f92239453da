//! Times as text.

/// A time within a layer in the unit that suits its size: "12.3000 s", "4.560 ms".
pub(crate) fn beam_time(time_s: f64) -> String {
    match time_s.abs() {
        t if t >= 100.0 => format!("{time_s:.1} s"),
        t if t >= 1.0 => format!("{time_s:.4} s"),
        _ => format!("{:.3} ms", time_s * 1000.0),
    }
}

/// The time that a build takes, as a person says it: "9.4 s", "10 min", "2 h 1 min".
pub(crate) fn duration(seconds: f64) -> String {
    if seconds < 120.0 {
        return format!("{seconds:.1} s");
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "`as` saturates")]
    let minutes = (seconds / 60.0).round() as u64;
    if minutes < 120 {
        format!("{minutes} min")
    } else {
        format!("{} h {} min", minutes / 60, minutes % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::{beam_time, duration};

    #[test]
    fn beam_times_have_the_unit_that_suits_them() {
        let texts = [0.0, 0.000_012_3, 0.5, 1.25, 250.04].map(beam_time);
        assert_eq!(texts, ["0.000 ms", "0.012 ms", "500.000 ms", "1.2500 s", "250.0 s"]);
    }

    #[test]
    fn durations_read_as_a_person_says_them() {
        assert_eq!(duration(9.44), "9.4 s");
        assert_eq!(duration(600.0), "10 min");
        assert_eq!(duration(7_260.0), "2 h 1 min");
    }
}
