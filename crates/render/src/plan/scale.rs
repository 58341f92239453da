//! Colour scales: even to the eye, and told apart by lightness alone, so that no kind of colour
//! vision loses their order.
//!
//! Computed in `OKLab` (B. Ottosson 2020, "A perceptual color space for image processing", public
//! domain), from memory of its published matrices; tests check them against its published values
//! of white and of the primaries' order.

/// 256 colours, red green blue opacity, as shown on the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColourScale {
    /// The colours, lowest value first.
    pub colours: Box<[[u8; 4]; 256]>,
}

/// Steps in which the path of a scale is measured.
const STEPS: usize = 4096;

/// The paper that a scale has to stand out from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    /// Dark ink on a light sheet.
    Light,
    /// Light ink on a dark sheet.
    Dark,
}

impl ColourScale {
    /// A scale for numbers: from blue over green to yellow, lightness rising steadily, equal
    /// steps of value equal steps to the eye.
    pub fn sequential(ground: Ground) -> Self {
        // lightness, chroma, hue in degrees
        let path: [[f64; 3]; 5] = match ground {
            Ground::Light => [
                [0.26, 0.13, 285.0],
                [0.40, 0.12, 255.0],
                [0.54, 0.10, 205.0],
                [0.67, 0.13, 150.0],
                [0.80, 0.17, 90.0],
            ],
            Ground::Dark => [
                [0.55, 0.15, 290.0],
                [0.66, 0.12, 250.0],
                [0.76, 0.11, 200.0],
                [0.86, 0.14, 150.0],
                [0.96, 0.17, 105.0],
            ],
        };
        let at = |t: f64| {
            let place = t * (path.len() - 1) as f64;
            let start = (0..path.len() - 1).rev().find(|&i| i as f64 <= place).unwrap_or(0);
            let [a, b] = [path[start], path[start + 1]];
            let within = place - start as f64;
            let [lightness, chroma, hue] = std::array::from_fn(|i| a[i] + within * (b[i] - a[i]));
            in_gamut(lightness, chroma, hue)
        };
        // walk along the path in equal distances
        let walk: Vec<[f64; 3]> = (0..=STEPS).map(|i| at(i as f64 / STEPS as f64)).collect();
        let mut lengths = vec![0.0];
        for pair in walk.windows(2) {
            lengths.push(lengths[lengths.len() - 1] + distance(pair[0], pair[1]));
        }
        let whole = lengths[STEPS];
        let colour = |i: usize| {
            let wanted = whole * i as f64 / 255.0;
            let index = lengths.partition_point(|&length| length < wanted).min(STEPS);
            let [r, g, b] = srgb(walk[index]);
            [r, g, b, 255]
        };
        Self { colours: Box::new(std::array::from_fn(colour)) }
    }

    /// A scale for names: entry `i` is the colour of the `i`-th, repeating after
    /// [`Self::CATEGORIES`]. The set of M. Okabe and K. Ito, "Color Universal Design" (2008),
    /// without black, with its lightness kept apart from the ground.
    pub fn categories(ground: Ground) -> Self {
        let set: [[u8; 3]; Self::CATEGORIES] = [
            [0, 114, 178],
            [230, 159, 0],
            [0, 158, 115],
            [213, 94, 0],
            [86, 180, 233],
            [204, 121, 167],
            [240, 228, 66],
        ];
        let colour = |i: usize| {
            let [lightness, a, b] = oklab(set[i % set.len()]);
            let lightness = match ground {
                Ground::Light => lightness.min(0.8),
                Ground::Dark => lightness.max(0.6),
            };
            let [r, g, b] = srgb(in_gamut(lightness, a.hypot(b), b.atan2(a).to_degrees()));
            [r, g, b, 255]
        };
        Self { colours: Box::new(std::array::from_fn(colour)) }
    }

    /// How many colours [`Self::categories`] has before they repeat.
    pub const CATEGORIES: usize = 7;

    /// The colour at a place from 0 to 1.
    pub fn at(&self, place: f64) -> [u8; 4] {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let index = (place.clamp(0.0, 1.0) * 255.0).round() as usize;
        self.colours[index]
    }
}

/// The `OKLab` colour of a lightness, chroma and hue, with less chroma where a screen has not as
/// much.
fn in_gamut(lightness: f64, chroma: f64, hue_deg: f64) -> [f64; 3] {
    let (sin, cos) = hue_deg.to_radians().sin_cos();
    let lab = |chroma: f64| [lightness, chroma * cos, chroma * sin];
    let fits = |c: f64| linear(lab(c)).iter().all(|x| (0.0..=1.0).contains(x));
    if fits(chroma) {
        return lab(chroma);
    }
    let (mut low, mut high) = (0.0, chroma);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if fits(middle) { low = middle } else { high = middle }
    }
    lab(low)
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f64>().sqrt()
}

fn apply(matrix: [[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

/// `OKLab` of a colour on the screen: lightness 0 to 1, and two axes of colour, from green to red and from blue to
/// yellow.
pub fn oklab(rgb: [u8; 3]) -> [f64; 3] {
    // IEC 61966-2-1
    let light = rgb.map(|c| {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    });
    let cones = apply(
        [
            [0.412_221_470_8, 0.536_332_536_3, 0.051_445_992_9],
            [0.211_903_498_2, 0.680_699_545_1, 0.107_396_956_6],
            [0.088_302_461_9, 0.281_718_837_6, 0.629_978_700_5],
        ],
        light,
    );
    apply(
        [
            [0.210_454_255_3, 0.793_617_785_0, -0.004_072_046_8],
            [1.977_998_495_1, -2.428_592_205_0, 0.450_593_709_9],
            [0.025_904_037_1, 0.782_771_766_2, -0.808_675_766_0],
        ],
        cones.map(f64::cbrt),
    )
}

/// Linear light of an `OKLab` colour; outside 0 to 1 where a screen cannot show it.
fn linear(lab: [f64; 3]) -> [f64; 3] {
    let cones = apply(
        [
            [1.0, 0.396_337_777_4, 0.215_803_757_3],
            [1.0, -0.105_561_345_8, -0.063_854_172_8],
            [1.0, -0.089_484_177_5, -1.291_485_548_0],
        ],
        lab,
    );
    apply(
        [
            [4.076_741_662_1, -3.307_711_591_3, 0.230_969_929_2],
            [-1.268_438_004_6, 2.609_757_401_1, -0.341_319_396_5],
            [-0.004_196_086_3, -0.703_418_614_7, 1.707_614_701_0],
        ],
        cones.map(|c| c.powi(3)),
    )
}

fn srgb(lab: [f64; 3]) -> [u8; 3] {
    linear(lab).map(|c| {
        let c = c.clamp(0.0, 1.0);
        let shown = if c <= 0.003_130_8 { 12.92 * c } else { 1.055 * c.powf(1.0 / 2.4) - 0.055 };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 255")]
        let byte = (shown * 255.0).round() as u8;
        byte
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const GROUNDS: [Ground; 2] = [Ground::Light, Ground::Dark];

    fn labs(scale: &ColourScale) -> Vec<[f64; 3]> {
        scale.colours.iter().map(|&[r, g, b, _]| oklab([r, g, b])).collect()
    }

    #[test]
    fn the_colour_space_is_the_published_one() {
        let near = |rgb, wanted: [f64; 3]| {
            assert!(distance(oklab(rgb), wanted) < 0.001, "{rgb:?}: {:?}", oklab(rgb));
            assert_eq!(srgb(oklab(rgb)), rgb);
        };
        near([255, 255, 255], [1.0, 0.0, 0.0]);
        near([0, 0, 0], [0.0, 0.0, 0.0]);
        // sRGB red and blue in OKLab, CSS Color 4 sample values (from memory)
        near([255, 0, 0], [0.628, 0.2249, 0.1258]);
        near([0, 0, 255], [0.452, -0.0325, -0.3115]);
    }

    #[test]
    fn equal_steps_of_value_look_equal_and_lightness_always_rises() {
        for ground in GROUNDS {
            let labs = labs(&ColourScale::sequential(ground));
            // over 15 entries, so that rounding to 8 bits does not matter
            let steps: Vec<_> =
                (0..17).map(|i| distance(labs[i * 15], labs[i * 15 + 15])).collect();
            let mean = steps.iter().sum::<f64>() / 17.0;
            for step in steps {
                assert!((step / mean - 1.0).abs() < 0.12, "{ground:?}: {step} against {mean}");
            }
            for pair in labs.chunks(5).collect::<Vec<_>>().windows(2) {
                assert!(pair[1][0][0] > pair[0][0][0], "{ground:?} does not grow lighter");
            }
        }
    }

    #[test]
    fn every_colour_stands_out_from_its_ground() {
        for ground in GROUNDS {
            for scale in [ColourScale::sequential(ground), ColourScale::categories(ground)] {
                for lab in labs(&scale) {
                    let apart = match ground {
                        Ground::Light => lab[0] < 0.82,
                        Ground::Dark => lab[0] > 0.53,
                    };
                    assert!(apart, "{ground:?}: {lab:?}");
                }
            }
        }
    }

    #[test]
    fn categories_differ_from_each_other() {
        for ground in GROUNDS {
            let labs = labs(&ColourScale::categories(ground));
            for i in 0..ColourScale::CATEGORIES {
                for j in 0..i {
                    assert!(distance(labs[i], labs[j]) > 0.09, "{ground:?}: {i} and {j}");
                }
            }
        }
    }
}
