//! Units of length that mesh files come in.

use serde::de::{self, Deserialize, Deserializer, EnumAccess, VariantAccess, Visitor};
use serde::{Serialize, Serializer};
use std::fmt;

/// A unit of length; the list is that of the 3MF core specification.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// 0.001 mm.
    Micron,
    /// The unit of everything inside the program.
    #[default]
    Millimetre,
    /// 10 mm.
    Centimetre,
    /// 25.4 mm.
    Inch,
    /// 304.8 mm.
    Foot,
    /// 1000 mm.
    Metre,
}

impl Unit {
    /// All units, the smallest first.
    pub const ALL: [Self; 6] =
        [Self::Micron, Self::Millimetre, Self::Centimetre, Self::Inch, Self::Foot, Self::Metre];

    /// What is written for each of [`Self::ALL`].
    const WRITTEN: &[&str] = &["micron", "mm", "cm", "inch", "ft", "m"];

    /// Millimetres in one of these.
    pub fn mm(self) -> f64 {
        match self {
            Self::Micron => 0.001,
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Inch => 25.4,
            Self::Foot => 304.8,
            Self::Metre => 1000.0,
        }
    }

    /// The names that are understood in files and on the command line, whether in capitals or not:
    /// first the one that is written, then others in use, among them that of 3MF.
    pub fn names(self) -> &'static [&'static str] {
        match self {
            Self::Micron => &["micron", "um", "µm", "micrometre", "micrometer"],
            Self::Millimetre => &["mm", "millimetre", "millimeter"],
            Self::Centimetre => &["cm", "centimetre", "centimeter"],
            Self::Inch => &["inch", "in"],
            Self::Foot => &["ft", "foot"],
            Self::Metre => &["m", "metre", "meter"],
        }
    }

    /// The name that is written: "mm".
    pub fn name(self) -> &'static str {
        self.names().first().copied().unwrap_or_default()
    }

    /// The unit of one of the [`Self::names`].
    ///
    /// # Errors
    /// A sentence with the names that are written.
    pub fn from_name(name: &str) -> Result<Self, String> {
        let is_called = |unit: &Self| unit.names().iter().any(|n| n.eq_ignore_ascii_case(name));
        Self::ALL.into_iter().find(is_called).ok_or_else(|| {
            format!("there is no unit {name:?}; use one of {}", Self::WRITTEN.join(", "))
        })
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let index = Self::ALL.iter().zip(0..).find(|(unit, _)| *unit == self).map_or(0, |(_, i)| i);
        serializer.serialize_unit_variant("Unit", index, self.name())
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_enum("Unit", Self::WRITTEN, UnitVisitor)
    }
}

/// Reads a unit where a format expects a variant of an enum: a bare word in RON, text in JSON.
struct UnitVisitor;

impl<'de> Visitor<'de> for UnitVisitor {
    type Value = Unit;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a unit of length")
    }

    fn visit_enum<A: EnumAccess<'de>>(self, data: A) -> Result<Unit, A::Error> {
        let (Name(unit), variant) = data.variant()?;
        variant.unit_variant()?;
        Ok(unit)
    }
}

/// The name of a unit.
struct Name(Unit);

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_identifier(NameVisitor)
    }
}

struct NameVisitor;

impl Visitor<'_> for NameVisitor {
    type Value = Name;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a unit of length")
    }

    fn visit_str<E: de::Error>(self, name: &str) -> Result<Name, E> {
        Unit::from_name(name).map(Name).map_err(|_| E::unknown_variant(name, Unit::WRITTEN))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A new variant does not compile here until it has a place in the order of `ALL`.
    fn place(unit: Unit) -> usize {
        match unit {
            Unit::Micron => 0,
            Unit::Millimetre => 1,
            Unit::Centimetre => 2,
            Unit::Inch => 3,
            Unit::Foot => 4,
            Unit::Metre => 5,
        }
    }

    #[test]
    fn all_units_are_listed_and_written_by_their_first_name() {
        for (i, unit) in Unit::ALL.into_iter().enumerate() {
            assert_eq!(place(unit), i);
            assert_eq!(unit.name(), Unit::WRITTEN[i]);
        }
    }

    /// The spellings of `ST_Unit` in the 3MF core specification 1.3, appendix B.1.
    #[test]
    fn the_names_of_3mf_are_understood_and_no_name_has_two_meanings() {
        let st_unit = ["micron", "millimeter", "centimeter", "inch", "foot", "meter"];
        assert_eq!(st_unit.map(Unit::from_name), Unit::ALL.map(Ok));
        for unit in Unit::ALL {
            for name in unit.names() {
                assert_eq!(Unit::from_name(name), Ok(unit), "{name}");
                assert_eq!(Unit::from_name(&name.to_ascii_uppercase()), Ok(unit));
            }
        }
        assert_eq!(
            Unit::from_name("furlong"),
            Err("there is no unit \"furlong\"; use one of micron, mm, cm, inch, ft, m".to_owned())
        );
    }
}
