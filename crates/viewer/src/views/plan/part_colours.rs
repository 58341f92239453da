//! Which of a few colours each part has, so that parts beside each other can be told apart, however many there are.

use render::plan::ColourScale;
use scan_path::Header;

const COLOURS: usize = ColourScale::CATEGORIES;

/// A box, mm.
type Bounds = [[f64; 3]; 2];

/// The place of the colour of every part. The first few parts have one each; each further one gets the colour of
/// which the nearest part is farthest away. The same for all layers of a build. O(placements²).
pub(super) fn part_colours(header: &Header) -> Vec<usize> {
    let mut boxes: Vec<Vec<Bounds>> = vec![Vec::new(); header.parts.len()];
    for row in &header.placements {
        if let (Some(boxes), Some(bounds)) = (boxes.get_mut(row.part as usize), row.bounds_mm) {
            boxes.push(bounds);
        }
    }
    let mut colours: Vec<usize> = Vec::with_capacity(boxes.len());
    for part in 0..boxes.len() {
        let mut nearest = [f64::INFINITY; COLOURS];
        for (other, &colour) in colours.iter().enumerate() {
            let near = nearest[colour].min(distance_mm(&boxes[part], &boxes[other]));
            // a part without known bounds still counts as a user of its colour
            nearest[colour] = near.min(f64::MAX);
        }
        let best = (0..COLOURS).rev().max_by(|a, b| nearest[*a].total_cmp(&nearest[*b]));
        colours.push(best.unwrap_or(0));
    }
    colours
}

/// The smallest distance of two sets of boxes.
fn distance_mm(a: &[Bounds], b: &[Bounds]) -> f64 {
    let pairs = a.iter().flat_map(|a| b.iter().map(move |b| (a, b)));
    let apart = |(a, b): (&Bounds, &Bounds)| {
        let gap = |k: usize| (a[0][k] - b[1][k]).max(b[0][k] - a[1][k]).max(0.0);
        gap(0).hypot(gap(1)).hypot(gap(2))
    };
    pairs.map(apart).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use scan_path::{PartRow, PlacementRow};

    /// Cubes of 8 mm, 2 mm apart, in rows of `columns`.
    fn grid(count: u32, columns: u32) -> Header {
        let mut header = Header::default();
        for part in 0..count {
            let low = [part % columns, part / columns, 0].map(|k| f64::from(k) * 10.0);
            header.parts.push(PartRow { name: format!("part {part}") });
            let bounds_mm = Some([low, low.map(|c| c + 8.0)]);
            let (location_mm, rotation_deg) = ([0.0; 3], [0.0; 3]);
            let row = PlacementRow { part, copy: None, location_mm, rotation_deg, bounds_mm };
            header.placements.push(row);
        }
        header
    }

    #[test]
    fn a_few_parts_have_a_colour_each() {
        assert_eq!(part_colours(&grid(7, 3)), [0, 1, 2, 3, 4, 5, 6]);
    }

    #[test]
    fn parts_beside_each_other_never_share_a_colour_however_many_there_are() {
        let (count, columns) = (300, 20);
        let colours = part_colours(&grid(count, columns));
        for part in 0..count {
            let (x, y) = (part % columns, part / columns);
            for (dx, dy) in [(1, 0), (0, 1), (1, 1)] {
                let other = (y + dy) * columns + x + dx;
                if x + dx < columns && other < count {
                    assert_ne!(colours[part as usize], colours[other as usize], "{part}, {other}");
                }
            }
        }
    }
}
