//! Where a finding lies.

use crate::{PlacementId, PlacementName};
use serde::{Serialize, Serializer};
use std::fmt;

/// A placement by number and by name. The name stays true for people after the job has changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedPlacement {
    /// Which copy of which part of the job that was checked.
    pub id: PlacementId,
    /// What it was called there.
    pub name: PlacementName,
}

/// Where a finding lies. Every field is optional; empty means the whole job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Place {
    /// File or part name, where not a single placement is concerned.
    pub part: Option<String>,
    /// The placement concerned.
    pub placement: Option<NamedPlacement>,
    /// First and last layer concerned, from 0.
    pub layers: Option<(u32, u32)>,
    /// A point to look at, mm, in the frame the check worked in (part frame for mesh health,
    /// build space for everything after placement).
    pub point_mm: Option<[f64; 3]>,
}

impl Place {
    /// The part or file concerned, also where it is a single placement of it.
    pub fn part(&self) -> Option<&str> {
        let of_placement = self.placement.as_ref().map(|placement| &placement.name.part);
        of_placement.or(self.part.as_ref()).map(String::as_str)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut words = Vec::new();
        match &self.placement {
            Some(placement) => words.push(placement.name.to_string()),
            None => words.extend(self.part.clone()),
        }
        match self.layers {
            Some((a, b)) if a == b => words.push(format!("layer {a}")),
            Some((a, b)) => words.push(format!("layers {a} to {b}")),
            None => {}
        }
        if let Some([x, y, z]) = self.point_mm {
            words.push(format!("at ({x:.3}, {y:.3}, {z:.3}) mm"));
        }
        f.write_str(&words.join(", "))
    }
}

impl Serialize for Place {
    /// Part, copy (from 1) and number of copies, layers, point; what is not known is left out.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Row<'a> {
            #[serde(skip_serializing_if = "Option::is_none")]
            part: Option<&'a str>,
            #[serde(skip_serializing_if = "Option::is_none")]
            copy: Option<usize>,
            #[serde(skip_serializing_if = "Option::is_none")]
            copies: Option<usize>,
            #[serde(skip_serializing_if = "Option::is_none")]
            layers: Option<(u32, u32)>,
            #[serde(skip_serializing_if = "Option::is_none")]
            point_mm: Option<[f64; 3]>,
        }
        let name = self.placement.as_ref().map(|placement| &placement.name);
        Row {
            part: self.part(),
            copy: name.map(|name| name.copy),
            copies: name.map(|name| name.copies),
            layers: self.layers,
            point_mm: self.point_mm,
        }
        .serialize(serializer)
    }
}
