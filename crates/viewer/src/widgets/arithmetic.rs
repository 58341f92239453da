//! Numbers as people type them: plain arithmetic with + − × ÷ and brackets, a point or a comma before the
//! decimals, a unit behind.

/// Longest text that is read, bytes: brackets may lie in each other no deeper than that.
const LONGEST: usize = 200;

/// Why a text is no number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Unread {
    /// Nothing stands there.
    Nothing,
    /// It is neither a number nor arithmetic.
    NoNumber,
    /// A number in it may be meant in two ways; how to write either.
    TwoMeanings(String),
    /// It divides by zero, or is too large.
    NoValue,
}

impl Unread {
    /// The same in a sentence.
    pub(crate) fn sentence(&self, text: &str) -> String {
        let text = text.trim();
        match self {
            Self::Nothing => "Nothing was typed.".to_owned(),
            Self::NoNumber => format!("“{text}” is no number."),
            Self::TwoMeanings(ways) => format!("“{text}” can be read in two ways: type {ways}."),
            Self::NoValue => format!("“{text}” has no value."),
        }
    }
}

/// The value of a text such as `0.1 + 0.05`, `(1+2)/4`, `2,5` or `3 mm`, where `unit` is "mm".
///
/// # Errors
/// If it has none, or may be meant in two ways.
pub(crate) fn value_of(text: &str, unit: &str) -> Result<f64, Unread> {
    let (text, unit) = (text.trim(), unit.trim());
    let text = text.strip_suffix(unit).unwrap_or(text).trim_end();
    if text.is_empty() {
        return Err(Unread::Nothing);
    }
    if text.len() > LONGEST {
        return Err(Unread::NoNumber);
    }
    let mut reader = Reader { rest: text };
    let value = reader.sum()?;
    match (reader.next(), value.is_finite()) {
        (Some(_), _) => Err(Unread::NoNumber),
        (None, false) => Err(Unread::NoValue),
        (None, true) => Ok(value),
    }
}

/// Reads from the left; each method takes as much as belongs to it.
struct Reader<'t> {
    rest: &'t str,
}

impl<'t> Reader<'t> {
    /// What comes next, without taking it.
    fn next(&mut self) -> Option<char> {
        self.rest = self.rest.trim_start();
        self.rest.chars().next()
    }

    /// Takes the next character if it is one of these.
    fn take(&mut self, which: &[char]) -> Option<char> {
        let found = self.next().filter(|c| which.contains(c))?;
        self.rest = &self.rest[found.len_utf8()..];
        Some(found)
    }

    fn sum(&mut self) -> Result<f64, Unread> {
        let mut value = self.product()?;
        while let Some(sign) = self.take(&['+', '-', '−']) {
            let term = self.product()?;
            value = if sign == '+' { value + term } else { value - term };
        }
        Ok(value)
    }

    fn product(&mut self) -> Result<f64, Unread> {
        let mut value = self.factor()?;
        while let Some(sign) = self.take(&['*', '×', '·', '/', '÷']) {
            let factor = self.factor()?;
            if matches!(sign, '/' | '÷') && factor == 0.0 {
                return Err(Unread::NoValue);
            }
            value = if matches!(sign, '/' | '÷') { value / factor } else { value * factor };
        }
        Ok(value)
    }

    fn factor(&mut self) -> Result<f64, Unread> {
        if let Some(sign) = self.take(&['+', '-', '−']) {
            let value = self.factor()?;
            return Ok(if sign == '+' { value } else { -value });
        }
        if self.take(&['(']).is_some() {
            let value = self.sum()?;
            return self.take(&[')']).map(|_| value).ok_or(Unread::NoNumber);
        }
        self.next();
        number(self.digits())
    }

    /// Takes digits with points and commas between them, and a power of ten such as `e-3`.
    fn digits(&mut self) -> &'t str {
        let is_mantissa = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
        let count = |text: &str, of: fn(char) -> bool| text.find(|c| !of(c)).unwrap_or(text.len());
        let mut end = count(self.rest, is_mantissa);
        let power = &self.rest[end..];
        if let Some(power) = power.strip_prefix(['e', 'E']) {
            let sign = usize::from(power.starts_with(['+', '-']));
            let digits = count(&power[sign..], |c| c.is_ascii_digit());
            if digits > 0 {
                end += 1 + sign + digits;
            }
        }
        let (digits, rest) = self.rest.split_at(end);
        self.rest = rest;
        digits
    }
}

/// A number with at most one point or comma. Three digits behind a comma, as in `1,234`, may also be
/// thousands.
fn number(digits: &str) -> Result<f64, Unread> {
    let marks = digits.matches(['.', ',']).count();
    let Some((whole, decimals)) = digits.split_once(',') else {
        return digits.parse().map_err(|_| Unread::NoNumber);
    };
    if marks > 1 {
        let ways = "the digits without commas, with a point before the decimals";
        return Err(Unread::TwoMeanings(ways.to_owned()));
    }
    let is_group = decimals.len() == 3 && decimals.bytes().all(|b| b.is_ascii_digit());
    if is_group && !whole.is_empty() && !whole.starts_with('0') && whole.len() <= 3 {
        return Err(Unread::TwoMeanings(format!("{whole}.{decimals} or {whole}{decimals}")));
    }
    format!("{whole}.{decimals}").parse().map_err(|_| Unread::NoNumber)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<f64, Unread> {
        value_of(text, " mm")
    }

    #[test]
    fn sums_products_brackets_and_signs_have_their_usual_order() {
        for (text, value) in [
            ("2*3.5", 7.0),
            ("(1+2)/4", 0.75),
            ("1+2*3", 7.0),
            ("10 - 4 - 3", 3.0),
            ("16/4/2", 2.0),
            ("-(2+3)*-2", 10.0),
            ("2·3×4÷8", 3.0),
            ("1e-3*2E3", 2.0),
            ("((((1))))", 1.0),
            (".5+5.", 5.5),
        ] {
            assert_eq!(of(text), Ok(value), "{text}");
        }
        assert!((of("0.1+0.05").unwrap() - 0.15).abs() < 1e-15);
    }

    #[test]
    fn a_comma_is_a_point_where_that_is_clear_and_a_unit_may_stand_behind() {
        for (text, value) in [
            (" −10,5 ", -10.5),
            ("0,125", 0.125),
            ("1,5+0,25", 1.75),
            ("1,2345", 1.2345),
            ("1234,567", 1234.567),
            ("3 mm", 3.0),
            ("3mm", 3.0),
        ] {
            assert_eq!(of(text), Ok(value), "{text}");
        }
        assert_eq!(of("1,234"), Err(Unread::TwoMeanings("1.234 or 1234".to_owned())));
        assert!(matches!(of("1,234.5"), Err(Unread::TwoMeanings(_))));
        assert_eq!(value_of("90°", "°"), Ok(90.0));
    }

    #[test]
    fn what_is_no_number_says_so() {
        for text in
            ["abc", "1+", "*2", "(1", "1)", "1 2", "1..2", ".", "2(3)", "3 cm", "nan", "inf"]
        {
            assert_eq!(of(text), Err(Unread::NoNumber), "{text}");
        }
        assert_eq!((of(" "), of("mm")), (Err(Unread::Nothing), Err(Unread::Nothing)));
        assert_eq!((of("1/0"), of("1e999")), (Err(Unread::NoValue), Err(Unread::NoValue)));
        assert_eq!(of(&"(".repeat(100_000)), Err(Unread::NoNumber), "and nothing overflows");
        assert_eq!(Unread::NoNumber.sentence(" abc "), "“abc” is no number.");
    }
}
