//! How a fill of parallel lines is drawn when its lines come closer than pixels can show.
//!
//! Thin lines at a spacing of a pixel or less would either make a black block (each is at least a
//! pixel wide) or beat against the raster. So, as the spacing shrinks:
//!
//! - lines grow soft: their edge profile is a raised cosine of half-width `h`, and profiles of
//!   `h` = spacing add up to a constant, so nothing is left that could beat;
//! - their opacity falls so that the area tends to a chosen tone: with width `w`, spacing `s` and
//!   opacity `a`, layers that cover w/s of the area on average let exp(-a·w/s) of it through
//!   (Beer's law), hence a = -ln(1 - tone)·s/w;
//! - far below one pixel only one of two, four … lines is drawn, with the opacity of its wider
//!   spacing: less work, and 8 bits of opacity stay enough. Which one of a group is drawn is left
//!   to a hash: a fixed choice would always hit the same piece of lines that holes divide.

/// How to draw a fill at one zoom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Drawing {
    /// One of 2ᵏ segments is drawn.
    pub level: usize,
    /// Half-width of the soft edge, px.
    pub blur_px: f32,
    /// Opacity, a factor.
    pub opacity: f32,
}

/// At most one of 2³ is drawn: groups must divide chunks, and small sets not vanish.
const LEVELS: usize = 4;

/// Which segment stands for a group of 2ᵏ: an even hash of the group's number (a finalizer in the
/// manner of `MurmurHash3`, A. Appleby, public domain).
pub(super) fn pick(group: usize, level: usize) -> usize {
    #[expect(clippy::cast_possible_truncation, reason = "any 32 bits of it will do")]
    let mut h = group as u32;
    for factor in [0x85eb_ca6b_u32, 0xc2b2_ae35] {
        h = (h ^ (h >> 16)).wrapping_mul(factor);
    }
    h ^= h >> 16;
    (group << level) + (h as usize & ((1 << level) - 1))
}

/// Half-width of the edge of a line that stands alone, px: smooth, and still sharp.
const EDGE_PX: f32 = 0.75;

/// Decides for a spacing in pixels (`None`: lines that stand alone), a width, the tone to tend
/// to, and how many segments there are for how many that may be drawn.
pub(super) fn drawing(
    spacing_px: Option<f64>,
    width_px: f32,
    tone: f32,
    segments: usize,
    budget: usize,
) -> Drawing {
    let mut level = 0;
    let spacing = |level: usize| spacing_px.map(|s| s * f64::from(1_u32 << level));
    let room = |level| spacing(level).is_some_and(|s| s < 0.3);
    while level + 1 < LEVELS && (room(level) || segments >> level > budget) {
        level += 1;
    }
    let Some(spacing_px) = spacing(level) else {
        return Drawing { level, blur_px: EDGE_PX, opacity: 1.0 };
    };
    // flat up to 1.6 px, back to an ordinary edge at 3 px
    let soft = if spacing_px < 1.6 { spacing_px.max(1.0) } else { 1.6 };
    let back = ((spacing_px - 1.6) / 1.4).clamp(0.0, 1.0);
    let blur_px = soft + back * (f64::from(EDGE_PX) - soft);
    let tone = f64::from(tone).clamp(0.0, 0.98);
    let opacity = (-(1.0 - tone).ln() * spacing_px / f64::from(width_px.max(0.05))).min(1.0);
    #[expect(clippy::cast_possible_truncation, reason = "pixels and factors of ordinary size")]
    let drawing = Drawing { level, blur_px: blur_px as f32, opacity: opacity as f32 };
    drawing
}

#[cfg(test)]
mod tests {
    use super::*;

    const MANY: usize = usize::MAX;

    /// Mean opacity across a fill: each pixel's lines drawn one over the other.
    fn tones(spacing_px: f64, width_px: f32, wanted: f32) -> Vec<f64> {
        let found = drawing(Some(spacing_px), width_px, wanted, 1000, MANY);
        let width_px = f64::from(width_px);
        let spacing = spacing_px * f64::from(1_u32 << found.level);
        let (h, a) = (f64::from(found.blur_px), f64::from(found.opacity));
        let edge = |x: f64| {
            let x = (x / h).clamp(-1.0, 1.0);
            0.5 + 0.5 * (x + (std::f64::consts::PI * x).sin() / std::f64::consts::PI)
        };
        let covered = |x: f64| a * (edge(x + width_px / 2.0) - edge(x - width_px / 2.0));
        let pixel = |x: f64| {
            let through = (-2000..=2000).map(|line| 1.0 - covered(x - f64::from(line) * spacing));
            1.0 - through.product::<f64>()
        };
        (0..40).map(|i| pixel(f64::from(i) * 0.7)).collect()
    }

    #[test]
    fn merged_lines_make_an_even_tone_near_the_one_asked_for() {
        for spacing_px in [0.01, 0.1, 0.17, 0.33, 0.5, 0.7, 0.9, 1.1] {
            let tones = tones(spacing_px, 0.8, 0.5);
            let (low, high) =
                tones.iter().fold((1.0_f64, 0.0_f64), |(l, h), &t| (l.min(t), h.max(t)));
            // the bound 0.69 is the sum of opacities when no line covers another
            assert!(low > 0.42 && high < 0.69, "{spacing_px}: {low} to {high}");
            // two lines of half the opacity x let (1 - x/2)² through, one of all of it 1 - x: up
            // to x²/4 more, with x at most -ln(1 - 0.5)
            assert!(high - low < 0.69_f64.powi(2) / 4.0, "{spacing_px} beats: {low} to {high}");
        }
    }

    #[test]
    fn lines_well_apart_are_plain_lines() {
        let plain = Drawing { level: 0, blur_px: 0.75, opacity: 1.0 };
        assert_eq!(drawing(None, 1.0, 0.5, 10, MANY), plain);
        assert_eq!(drawing(Some(3.0), 1.0, 0.5, 10, MANY), plain);
        assert_eq!(drawing(Some(300.0), 1.0, 0.5, 10, MANY), plain);
    }

    #[test]
    fn each_group_is_stood_for_by_one_of_its_own_and_all_places_get_their_turn() {
        for level in 0..LEVELS {
            let size = 1 << level;
            let mut turns = vec![0_usize; size];
            for group in 0..4096 {
                let place = pick(group, level).checked_sub(group * size).expect("not before it");
                turns[place] += 1;
            }
            let even = 4096 / size; // six standard deviations of a fair choice
            let most = 6.0 * (even as f64).sqrt();
            assert!(turns.iter().all(|&n| (n as f64 - even as f64).abs() <= most), "{turns:?}");
        }
    }

    #[test]
    fn a_budget_thins_what_is_drawn_but_not_without_end() {
        assert_eq!(drawing(None, 1.0, 0.5, 1000, 300).level, 2);
        assert_eq!(drawing(None, 1.0, 0.5, MANY, 1).level, LEVELS - 1);
        assert_eq!(drawing(Some(1e-9), 1.0, 0.5, 10, MANY).level, LEVELS - 1);
    }
}
