//! Text for people and XML: exact decimal millimetres and escaping.

use std::fmt;

/// A length in nm that prints as mm, exactly and without trailing zeros. No floating point, hence
/// the same text everywhere, and faster.
#[derive(Clone, Copy)]
pub(crate) struct Mm(pub(crate) i64);

impl fmt::Display for Mm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const NM: u64 = 1_000_000;
        let size = self.0.unsigned_abs();
        let (whole, mut rest) = (size / NM, size % NM);
        let sign = if self.0 < 0 { "-" } else { "" };
        if rest == 0 {
            return write!(f, "{sign}{whole}");
        }
        let mut digits = 6;
        while rest % 10 == 0 {
            rest /= 10;
            digits -= 1;
        }
        write!(f, "{sign}{whole}.{rest:0digits$}")
    }
}

/// Rounds mm to whole nm; `None` beyond ±2⁵³ nm (9,007 km) or if not finite.
pub(crate) fn whole_nm(mm: f64) -> Option<i64> {
    let nm = (mm * base::NM_PER_MM).round();
    #[expect(clippy::cast_possible_truncation, reason = "checked in the same expression")]
    (nm.abs() <= 9_007_199_254_740_992.0).then_some(nm as i64)
}

/// Text for XML content and attributes. Characters that XML 1.0 forbids become U+FFFD.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_print_exactly() {
        for (nm, text) in [
            (0, "0"),
            (-1, "-0.000001"),
            (1_500_000, "1.5"),
            (-250_000_000, "-250"),
            (1_000_100, "1.0001"),
            (i64::MIN, "-9223372036854.775808"),
        ] {
            assert_eq!(Mm(nm).to_string(), text);
        }
        assert_eq!(whole_nm(0.1), Some(100_000));
        assert_eq!(whole_nm(f64::NAN), None);
        assert_eq!(whole_nm(1e10), None);
    }

    #[test]
    fn text_cannot_leave_its_attribute() {
        assert_eq!(escape("a\"<&>\u{1}\n"), "a&quot;&lt;&amp;&gt;\u{fffd} ");
    }
}
