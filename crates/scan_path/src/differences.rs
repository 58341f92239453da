//! What differs between two vector files, in words.

use crate::header::Header;
use crate::layer::{Block, Layer};
use base::Point;
use serde_json::Value;

/// Every value of the tables that is not the same in two files, with its place: "`exposures[3].power_w`: 24 and 26".
/// A table that has another length is one difference.
///
/// # Errors
/// If tables cannot be written as JSON.
pub fn header_differences(a: &Header, b: &Header) -> serde_json::Result<Vec<String>> {
    let mut found = Vec::new();
    compare("", &serde_json::to_value(a)?, &serde_json::to_value(b)?, &mut found);
    Ok(found)
}

fn compare(place: &str, a: &Value, b: &Value, found: &mut Vec<String>) {
    match (a, b) {
        (Value::Object(left), Value::Object(right)) => {
            let mut keys: Vec<&String> = left.keys().chain(right.keys()).collect();
            keys.sort_unstable();
            keys.dedup();
            for key in keys {
                let dot = if place.is_empty() { "" } else { "." };
                let of = |map: &serde_json::Map<String, Value>| map.get(key).cloned();
                let (a, b) = (of(left).unwrap_or_default(), of(right).unwrap_or_default());
                compare(&format!("{place}{dot}{key}"), &a, &b, found);
            }
        }
        (Value::Array(left), Value::Array(right)) if left.len() == right.len() => {
            for (i, (a, b)) in left.iter().zip(right).enumerate() {
                compare(&format!("{place}[{i}]"), a, b, found);
            }
        }
        (Value::Array(left), Value::Array(right)) => {
            found.push(format!("{place}: {} and {} entries", left.len(), right.len()));
        }
        _ if a == b => {}
        _ => found.push(format!("{place}: {} and {}", said(a), said(b))),
    }
}

fn said(value: &Value) -> String {
    if value.is_null() { "nothing".to_owned() } else { value.to_string() }
}

/// Where two layers part ways: the first block that differs, how, and at which mark; how many blocks differ. Says
/// so if it is the order alone. Nothing where they are equal.
pub fn layer_differences(a: &Layer, b: &Layer) -> Vec<String> {
    if a == b {
        return Vec::new();
    }
    let mut found = Vec::new();
    if a.index != b.index {
        found.push(format!("layers {} and {}", a.index, b.index));
    }
    if a.blocks.len() != b.blocks.len() {
        found.push(format!("{} and {} blocks", a.blocks.len(), b.blocks.len()));
    }
    let differing: Vec<usize> =
        (0..a.blocks.len().min(b.blocks.len())).filter(|&i| a.blocks[i] != b.blocks[i]).collect();
    if let Some(&first) = differing.first() {
        let (count, of) = (differing.len(), a.blocks.len().min(b.blocks.len()));
        found.push(format!("{count} of {of} blocks differ, first block {first}:"));
        found.extend(block_differences(&a.blocks[first], &b.blocks[first]));
    }
    if marks(a) == marks(b) {
        found.push("the marks are the same, in another order or direction".to_owned());
    }
    found
}

fn block_differences(a: &Block, b: &Block) -> Vec<String> {
    let mut found = Vec::new();
    let mut number = |what: &str, a: u32, b: u32| {
        if a != b {
            found.push(format!("  {what} {a} and {b}"));
        }
    };
    number("row of the placement table", a.placement, b.placement);
    number("row of the exposure table", u32::from(a.exposure), u32::from(b.exposure));
    if (a.kind, a.region) != (b.kind, b.region) {
        found.push(format!("  {:?} {:?} and {:?} {:?}", a.kind, a.region, b.kind, b.region));
    }
    if a.paths.len() != b.paths.len() {
        found.push(format!("  {} and {} paths", a.paths.len(), b.paths.len()));
    }
    let shared = a.paths.iter().zip(b.paths.iter());
    if let Some((path, (left, right))) = shared.enumerate().find(|(_, (a, b))| a != b) {
        let same = left.iter().zip(right).take_while(|(a, b)| a == b).count();
        let at = |points: &[Point]| match points.get(same) {
            Some(point) => {
                let [x, y] = point.to_mm();
                format!("({x:.6}, {y:.6}) mm")
            }
            None => "the end of the path".to_owned(),
        };
        found.push(format!("  path {path}, point {same}: {} and {}", at(left), at(right)));
    }
    found
}

/// All marks of a layer with what they are, whichever way and in whichever order they are run.
fn marks(layer: &Layer) -> Vec<(u32, u16, [[i32; 2]; 2])> {
    let mut all = Vec::new();
    for block in &layer.blocks {
        for path in block.paths.iter() {
            for mark in path.windows(2) {
                let mut ends = [[mark[0].x, mark[0].y], [mark[1].x, mark[1].y]];
                ends.sort_unstable();
                all.push((block.placement, block.exposure, ends));
            }
        }
    }
    all.sort_unstable();
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::header::ExposureRow;
    use crate::layer::{ExposureKind, Paths, RegionKind};

    #[test]
    fn tables_differ_in_places_with_both_values() {
        let row = ExposureRow { power_w: 24.0, ..ExposureRow::default() };
        let a = Header { exposures: vec![row.clone()], layer_count: 2, ..Header::default() };
        let mut b = a.clone();
        assert_eq!(header_differences(&a, &b).unwrap(), Vec::<String>::new());
        b.exposures[0].power_w = 26.5;
        b.beam_radius_mm = Some(0.25);
        let found = header_differences(&a, &b).unwrap();
        assert_eq!(
            found,
            ["beam_radius_mm: nothing and 0.25", "exposures[0].power_w: 24.0 and 26.5"]
        );
        b.exposures.push(row);
        assert_eq!(header_differences(&a, &b).unwrap()[1], "exposures: 1 and 2 entries");
    }

    #[test]
    fn layers_differ_from_a_block_and_a_point_on() {
        let mark = |a: i32, b: i32| [Point::new(a, 0), Point::new(b, 0)];
        let block = |marks: &[[Point; 2]]| Block {
            placement: 0,
            exposure: 0,
            kind: ExposureKind::Hatch,
            region: RegionKind::Core,
            paths: Paths::Segments(marks.to_vec()),
        };
        let layer = |marks: &[[Point; 2]]| Layer { index: 3, blocks: vec![block(marks)] };
        let a = layer(&[mark(0, 1_000_000), mark(5, 7)]);
        assert!(layer_differences(&a, &a.clone()).is_empty());
        let moved = layer_differences(&a, &layer(&[mark(0, 2_000_000), mark(5, 7)]));
        assert_eq!(moved[0], "1 of 1 blocks differ, first block 0:");
        assert_eq!(
            moved[1],
            "  path 0, point 1: (1.000000, 0.000000) mm and (2.000000, 0.000000) mm"
        );
        assert_eq!(moved.len(), 2);
        let turned = layer_differences(&a, &layer(&[mark(7, 5), mark(0, 1_000_000)]));
        assert_eq!(turned.last().unwrap(), "the marks are the same, in another order or direction");
        let fewer = layer_differences(&a, &layer(&[mark(0, 1_000_000)]));
        assert!(fewer.contains(&"  2 and 1 paths".to_owned()), "{fewer:?}");
    }
}
