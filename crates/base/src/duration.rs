//! Durations in words.

/// A duration as a person says it: "9.4 s", "37 min", "5 h 12 min".
pub fn duration(seconds: f64) -> String {
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
    use super::duration;

    #[test]
    fn durations_read_as_a_person_says_them() {
        assert_eq!(duration(9.44), "9.4 s");
        assert_eq!(duration(600.0), "10 min");
        assert_eq!(duration(7_260.0), "2 h 1 min");
    }
}
