//! What an arrangement amounts to: height, density, layers, area along Z.

use crate::model::{Item, Placed, Space, Summary};
use base::layers::layer_count;
use base::{Affine, Cancelled, Progress};
use mesh::{Mesh, measures};
use rayon::prelude::*;

/// Most layers that are counted: a hundred metres in layers of a micron.
const MAX_LAYERS: u32 = 100_000_000;

/// Figures of one build.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    /// Highest point of the parts above the platform, mm.
    pub height_mm: f64,
    /// Sum of the volumes of the parts, mm³; where solids of one part overlap they count as often.
    pub volume_mm3: f64,
    /// Volume of the parts over platform width × platform depth × height. Clearance is not part.
    pub density: f64,
    /// Layers from the platform to the highest point.
    pub layers: u32,
    /// Area of the parts in the middle of every layer, mm², from the lowest on.
    pub area_mm2: Vec<f64>,
}

/// The figures of one build at a layer thickness of `layer_mm`.
///
/// The area of a section is half the sum of the cross products of its segments, each run with the
/// material on its left (Green's theorem), so holes count negative by themselves.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn figures(
    items: &[Item],
    build: &[Placed],
    space: &Space,
    layer_mm: f64,
    progress: &Progress,
) -> Result<Figures, Cancelled> {
    let height_mm = top_mm(items, build);
    let volume_mm3 = volume(items, build);
    let layers = if layer_mm > 0.0 { layer_count(height_mm, layer_mm).min(MAX_LAYERS) } else { 0 };
    let curves: Vec<Vec<(usize, f64)>> = build
        .par_iter()
        .map(|p| {
            progress.check()?;
            Ok(items
                .get(p.item)
                .map_or_else(Vec::new, |i| areas(i.mesh(), &p.pose, layer_mm, layers)))
        })
        .collect::<Result<_, Cancelled>>()?;
    let mut area_mm2 = vec![0.0; layers as usize];
    for (layer, area) in curves.into_iter().flatten() {
        area_mm2[layer] += area;
    }
    let density = ratio(volume_mm3, space.size_mm[0] * space.size_mm[1] * height_mm);
    Ok(Figures { height_mm, volume_mm3, density, layers, area_mm2 })
}

/// Seconds that `now` saves against `before`: fewer layers, each of which takes `recoat_s` to
/// spread. Negative if it has more. Exposure takes as long in both.
pub fn time_saved_s(before: &Figures, now: &Figures, recoat_s: f64) -> f64 {
    (f64::from(before.layers) - f64::from(now.layers)) * recoat_s
}

/// (layer, signed area) of one part.
fn areas(mesh: &Mesh, pose: &Affine, layer_mm: f64, layers: u32) -> Vec<(usize, f64)> {
    let points: Vec<[f64; 3]> = mesh.vertices.iter().map(|v| pose.apply(*v)).collect();
    let mut sums = std::collections::BTreeMap::new();
    // About a point of the part, so that large coordinates lose no digits.
    let origin = points.first().copied().unwrap_or_default();
    for t in &mesh.triangles {
        let Some([a, b, c]) = corners(&points, *t) else { continue };
        let (lo, hi) = (a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2]));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let first = (lo / layer_mm - 0.5).ceil().clamp(0.0, f64::from(layers)) as usize;
        for layer in first..layers as usize {
            let z = (layer as f64 + 0.5) * layer_mm;
            if z > hi {
                break;
            }
            let mut ends = [[0.0; 2]; 2]; // where the triangle's boundary goes up, and down
            let mut cut = false;
            for (p, q) in [(a, b), (b, c), (c, a)] {
                let (up, down) = (p[2] <= z && q[2] > z, p[2] > z && q[2] <= z);
                if up || down {
                    let s = (z - p[2]) / (q[2] - p[2]);
                    ends[usize::from(down)] = [0, 1].map(|k| p[k] + s * (q[k] - p[k]) - origin[k]);
                    cut = true;
                }
            }
            if cut {
                let [up, down] = ends;
                *sums.entry(layer).or_insert(0.0) += 0.5 * (down[0] * up[1] - down[1] * up[0]);
            }
        }
    }
    sums.into_iter().collect()
}

fn corners(points: &[[f64; 3]], t: [u32; 3]) -> Option<[[f64; 3]; 3]> {
    let at = |v: u32| points.get(v as usize).copied();
    Some([at(t[0])?, at(t[1])?, at(t[2])?])
}

fn volume(items: &[Item], build: &[Placed]) -> f64 {
    let mut factors = vec![0.0; items.len()];
    for p in build {
        if let Some(sum) = factors.get_mut(p.item) {
            *sum += p.pose.determinant();
        }
    }
    let each = |(item, factor): (&Item, &f64)| {
        if *factor == 0.0 { 0.0 } else { factor * measures(item.mesh()).volume_mm3 }
    };
    items.iter().zip(&factors).map(each).sum()
}

/// Highest point of the parts above the platform, mm; 0 without parts.
pub(crate) fn top_mm(items: &[Item], build: &[Placed]) -> f64 {
    build
        .iter()
        .filter_map(|p| Some((items.get(p.item)?, p.pose)))
        .flat_map(|(item, pose)| item.mesh().vertices.iter().map(move |v| pose.apply(*v)[2]))
        .fold(0.0, f64::max)
}

/// Height and density over all builds.
pub(crate) fn summary(items: &[Item], builds: &[Vec<Placed>], space: &Space) -> Summary {
    let tops: Vec<f64> = builds.iter().map(|b| top_mm(items, b)).collect();
    let total_height_mm: f64 = tops.iter().sum();
    let volume: f64 = builds.iter().map(|b| volume(items, b)).sum();
    let base_mm2 = space.size_mm[0] * space.size_mm[1];
    Summary {
        height_mm: tops.iter().copied().fold(0.0, f64::max),
        total_height_mm,
        density: ratio(volume, base_mm2 * total_height_mm),
    }
}

fn ratio(a: f64, b: f64) -> f64 {
    if b > 0.0 { a / b } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Orientations;
    use crate::tests::samples;
    use std::sync::Arc;

    #[test]
    fn figures_of_a_box_and_a_ball_are_those_of_geometry() {
        let item = |mesh: Mesh| Item {
            name: String::new(),
            solid: Arc::new(crate::Solid::new(Arc::new(mesh))),
            scale: [1.0; 3],
            quantity: 1,
            orientations: Orientations::Fixed,
            due: None,
        };
        let items = [item(samples::cuboid([0.; 3], [10., 20., 5.])), item(samples::ball(10.0, 96))];
        let place = |item, t| Placed { item, copy: 0, pose: Affine::translation(t), locked: false };
        let build = [place(0, [-20., 0., 1.]), place(1, [10., 0., 10.0])];
        let space = Space { size_mm: [50., 40., 30.], wall_clearance_mm: 0., clearance_mm: 0. };
        let f = figures(&items, &build, &space, 0.1, &Progress::default()).unwrap();
        assert!((f.height_mm - 20.0).abs() < 1e-9);
        assert_eq!(f.layers, 200);
        let ball = 4.0 / 3.0 * std::f64::consts::PI * 1000.0;
        assert!((f.volume_mm3 - 1000.0 - ball).abs() < 0.005 * ball);
        assert!((f.density - f.volume_mm3 / 40_000.0).abs() < 1e-12);
        // Layer 30 is cut at 3.05: the box is 200 mm², the ball π(100 − 6.95²).
        let expected = 200.0 + std::f64::consts::PI * (100.0 - 6.95 * 6.95);
        assert!((f.area_mm2[30] - expected).abs() < 0.5, "{} {expected}", f.area_mm2[30]);
        let sum: f64 = f.area_mm2.iter().map(|a| a * 0.1).sum();
        assert!((sum - f.volume_mm3).abs() < 1e-3 * f.volume_mm3);
        let higher = Figures { layers: 300, ..f.clone() };
        assert!((time_saved_s(&higher, &f, 8.0) - 800.0).abs() < 1e-9);
    }
}
