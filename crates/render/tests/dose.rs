//! The dose that the graphics card sums up, against its formula in double precision.

mod headless;

use headless::{FORMAT, Headless};
use render::dose::{
    DOSE_ERROR, DoseColours, DoseError, DoseFrame, DoseRenderer, DoseShow, DoseStroke, DoseTiles,
    Outside,
};
use render::plan::PlanView;
use std::f64::consts::{PI, SQRT_2};
use std::sync::Arc;

/// Energy per length, J/mm, radius and distance of lines, mm: 30 W at 5 m/s, facts.md C4 to C9.
const ENERGY: f32 = 0.006;
const RADIUS_MM: f64 = 0.25;
const SPACING_MM: f64 = 0.2;
const NM: f64 = 1e6;

struct Bench {
    headless: Headless,
    renderer: DoseRenderer,
}

impl Bench {
    fn new() -> Self {
        let headless = Headless::computing().expect("a graphics device, if only in software");
        let renderer = DoseRenderer::new(&headless.device, FORMAT).expect("it can compute");
        Self { headless, renderer }
    }

    /// The dose of each pixel, row by row from the upper left.
    fn dose(&mut self, strokes: &[DoseStroke], frame: DoseFrame) -> Vec<f64> {
        let tiles = Arc::new(DoseTiles::new(strokes, frame).expect("can be drawn"));
        assert!(self.headless.sum_up(&mut self.renderer, &tiles).expect("the device can do it"));
        let dose = self.renderer.dose(&self.headless.device, &self.headless.queue);
        dose.expect("readable").into_iter().map(f64::from).collect()
    }
}

/// Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 7.1.6: all terms have one
/// sign, so that nothing cancels. 1 - erf(6) is 2e-17.
fn erf(x: f64) -> f64 {
    if x.abs() > 6.0 {
        return x.signum();
    }
    let (mut term, mut sum, mut n) = (x, x, 0.0);
    while term.abs() > 1e-17 * sum.abs() {
        n += 1.0;
        term *= 2.0 * x * x / (2.0 * n + 1.0);
        sum += term;
    }
    2.0 / PI.sqrt() * (-x * x).exp() * sum
}

/// Facts C9, summed over strokes, for a beam of radius `w`, mm.
fn exact(strokes: &[DoseStroke], w: f64, at_nm: [f64; 2]) -> f64 {
    let of = |stroke: &DoseStroke| {
        let [from, to] = [stroke.from_nm, stroke.to_nm].map(|p| p.map(|c| f64::from(c) / NM));
        let (way, at) = ([to[0] - from[0], to[1] - from[1]], at_nm.map(|c| c / NM));
        let length = way[0].hypot(way[1]);
        if length == 0.0 {
            return 0.0;
        }
        let [u, v] = way.map(|c| c / length);
        let (dx, dy) = (at[0] - from[0], at[1] - from[1]);
        let (x, y) = (u * dx + v * dy, u * dy - v * dx);
        if y.abs() > 5.0 * w || x < -5.0 * w || x > length + 5.0 * w {
            return 0.0; // below 1e-21 of the peak
        }
        let peak = (2.0 / PI).sqrt() * f64::from(stroke.energy_j_mm) / w;
        let along = erf(SQRT_2 * x / w) - erf(SQRT_2 * (x - length) / w);
        peak * (-2.0 * y * y / (w * w)).exp() * 0.5 * along
    };
    strokes.iter().map(of).sum()
}

/// Largest error of all pixels, as [`DOSE_ERROR`] counts it.
#[track_caller]
fn worst(dose: &[f64], strokes: &[DoseStroke], frame: &DoseFrame) -> f64 {
    let [width, height] = frame.size_px;
    assert_eq!(dose.len(), (width * height) as usize);
    let size = frame.size_px.map(f64::from);
    let w = frame.drawn_radius_mm();
    let peaks = strokes.iter().map(|s| (2.0 / PI).sqrt() * f64::from(s.energy_j_mm) / w);
    let (mut most, mut worst) = (peaks.fold(0.0, f64::max), 0.0_f64);
    for (index, dose) in dose.iter().enumerate() {
        let pixel = [index % width as usize, index / width as usize].map(|c| c as f64 + 0.5);
        let wanted = exact(strokes, w, frame.view.nm_at(pixel, size));
        (most, worst) = (most.max(wanted), worst.max((dose - wanted).abs()));
    }
    worst / most
}

/// Numbers from 0 to 1 without order (Knuth, The Art of Computer Programming 2, 3.3.4, table 1,
/// line 26, from memory).
fn numbers() -> impl FnMut() -> f64 {
    let mut state = 1_u64;
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    }
}

#[expect(clippy::cast_possible_truncation, reason = "within a build space")]
fn stroke(from_mm: [f64; 2], to_mm: [f64; 2], energy_j_mm: f32) -> DoseStroke {
    let [from_nm, to_nm] = [from_mm, to_mm].map(|p| p.map(|c| (c * NM).round() as i32));
    DoseStroke { from_nm, to_nm, energy_j_mm }
}

/// Strokes of up to `length_mm` in every direction, in a square about a centre.
fn random(count: usize, centre_mm: [f64; 2], half_mm: f64, length_mm: f64) -> Vec<DoseStroke> {
    let mut next = numbers();
    let mut one = || {
        let from = centre_mm.map(|c| c + half_mm * (2.0 * next() - 1.0));
        let (turn, length) = (2.0 * PI * next(), length_mm * next());
        let to = [from[0] + length * turn.cos(), from[1] + length * turn.sin()];
        #[expect(clippy::cast_possible_truncation, reason = "an energy")]
        let energy = ENERGY * next() as f32;
        stroke(from, to, energy)
    };
    (0..count).map(|_| one()).collect()
}

/// Lines of a square hatched at an angle, each in `pieces`.
fn hatch(centre_mm: [f64; 2], half_mm: f64, degrees: f64, pieces: u32) -> Vec<DoseStroke> {
    let (sin, cos) = f64::to_radians(degrees).sin_cos();
    let at = |u: f64, v: f64| [centre_mm[0] + u * cos - v * sin, centre_mm[1] + u * sin + v * cos];
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some lines")]
    let lines = (2.0 * half_mm / SPACING_MM) as u32;
    let line = |i| -half_mm + (f64::from(i) + 0.5) * SPACING_MM;
    let part = |k: u32| -half_mm + 2.0 * half_mm * f64::from(k) / f64::from(pieces);
    let piece = |i, k: u32| stroke(at(part(k), line(i)), at(part(k + 1), line(i)), ENERGY);
    (0..lines).flat_map(|i| (0..pieces).map(move |k| (i, k))).map(|(i, k)| piece(i, k)).collect()
}

fn frame(centre_mm: [f64; 2], px_per_mm: f64, size_px: [u32; 2]) -> DoseFrame {
    let view = PlanView { centre_nm: centre_mm.map(|c| c * NM), px_per_mm };
    DoseFrame { view, size_px, beam_radius_mm: RADIUS_MM }
}

#[track_caller]
fn near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found}, not {wanted} ± {within}");
}

#[test]
fn the_formula_of_this_test_has_the_known_values() {
    let line = [stroke([0.0; 2], [5.0, 0.0], ENERGY)];
    let part = |x: f64| exact(&line, RADIUS_MM, [x * RADIUS_MM * NM, 0.0]) / 0.019_149_23;
    // facts.md C4, C9
    for (x, wanted) in
        [(0.0, 0.5), (-0.5, 0.158_655_3), (0.5, 0.841_344_7), (1.0, 0.977_249_9), (10.0, 1.0)]
    {
        near(part(x), wanted, 2e-7);
    }
}

#[test]
fn a_long_line_has_the_dose_of_a_long_line() {
    let line = [stroke([-50.0, 0.0], [50.0, 0.0], ENERGY)];
    // pixel centres lie half a pixel beside the middle: 5 nm
    let dose = Bench::new().dose(&line, frame([0.0; 2], 1e5, [32, 32]));
    near(dose[16 * 32 + 16], 0.019_149_23, 0.019_149_23 * DOSE_ERROR); // facts.md C4
}

#[test]
fn every_pixel_is_near_the_formula_at_any_zoom_and_anywhere() {
    let mut bench = Bench::new();
    let size = [100, 60];
    for centre in [[0.0, 0.0], [412.345_678, -987.654_321]] {
        // 5 px/mm is below two pixels to the radius
        for (px_per_mm, half) in [(5.0, 20.0), (20.0, 5.0), (50.0, 3.0), (3e3, 1.0), (1e6, 0.5)] {
            let frame = frame(centre, px_per_mm, size);
            assert_eq!(frame.is_averaged(), px_per_mm < 8.0);
            let fields = [
                random(300, centre, half, 2.0 * half),
                hatch(centre, half * 0.6, 0.0, 1),
                hatch(centre, half, 37.0, 5),
            ];
            for (index, strokes) in fields.iter().enumerate() {
                let dose = bench.dose(strokes, frame);
                let worst = worst(&dose, strokes, &frame);
                assert!(worst < DOSE_ERROR, "{px_per_mm} px/mm, field {index}: {worst}");
            }
        }
    }
}

#[test]
fn zoomed_out_no_energy_is_lost() {
    let strokes = random(300, [10.0, 20.0], 40.0, 8.0);
    let energy: f64 = strokes
        .iter()
        .map(|s| {
            let [dx, dy] = [0, 1].map(|i| f64::from(s.to_nm[i]) - f64::from(s.from_nm[i]));
            dx.hypot(dy) / NM * f64::from(s.energy_j_mm)
        })
        .sum();
    for px_per_mm in [1.0, 1.7, 4.0, 8.0] {
        let frame = frame([10.0, 20.0], px_per_mm, [900, 900]);
        let sum: f64 = Bench::new().dose(&strokes, frame).iter().sum();
        // the cut-off leaves out 1 - erf(3·√2) = 2e-9
        near(sum / (px_per_mm * px_per_mm) / energy, 1.0, 1e-6);
    }
}

#[test]
fn a_picture_in_many_bands_has_no_seams() {
    let (centre, size) = ([3.0, -4.0], [1024, 1000]);
    let strokes = random(6000, centre, 15.0, 20.0);
    let frame = frame(centre, 40.0, size);
    let tiles = DoseTiles::new(&strokes, frame).expect("can be drawn");
    // a band is 4 MiB, a pair of stroke and tile 24 bytes
    assert!(tiles.evaluations() / 256 * 24 > 2 * (4 << 20), "{} are one band", tiles.evaluations());
    let dose = Bench::new().dose(&strokes, frame);
    let most = dose.iter().copied().fold(0.0, f64::max);
    let mut next = numbers();
    for _ in 0..2000 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a pixel")]
        let [x, y] = size.map(|size| (next() * f64::from(size)) as u32);
        let pixel = [f64::from(x) + 0.5, f64::from(y) + 0.5];
        let at_nm = frame.view.nm_at(pixel, size.map(f64::from));
        let wanted = exact(&strokes, RADIUS_MM, at_nm);
        near(dose[(y * size[0] + x) as usize], wanted, DOSE_ERROR * most);
    }
}

#[test]
fn what_cannot_be_drawn_is_an_error_and_points_are_nothing() {
    let good = frame([0.0; 2], 20.0, [64, 64]);
    for radius in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let tiles = DoseTiles::new(&[], DoseFrame { beam_radius_mm: radius, ..good });
        assert!(matches!(tiles, Err(DoseError::Radius { .. })));
    }
    let line = |energy| stroke([-1.0, 0.0], [1.0, 0.5], energy);
    let tiles = DoseTiles::new(&[line(1.0), line(f32::NAN)], good);
    assert!(matches!(tiles, Err(DoseError::Energy { stroke: 1 })));
    let large = DoseFrame { size_px: [8000; 2], ..good };
    let tiles = DoseTiles::new(&vec![stroke([-9.0; 2], [9.0; 2], 1.0); 200_000], large);
    assert!(matches!(tiles, Err(DoseError::TooMuch { .. })));

    let mut bench = Bench::new();
    let point = stroke([0.1; 2], [0.1; 2], 1.0);
    let extreme =
        DoseStroke { from_nm: [i32::MIN; 2], to_nm: [i32::MIN, i32::MAX], energy_j_mm: 1.0 };
    let wild = PlanView { centre_nm: [f64::NAN, 1e300], px_per_mm: f64::INFINITY };
    for frame in [good, DoseFrame { view: wild, ..good }, DoseFrame { size_px: [0, 1], ..good }] {
        assert!(bench.dose(&[point, extreme], frame).iter().all(|&dose| dose == 0.0));
    }
    let most = bench.headless.device.limits().max_texture_dimension_2d;
    let wide = Arc::new(
        DoseTiles::new(&[], DoseFrame { size_px: [most + 1, 1], ..good }).expect("no device yet"),
    );
    let refused = bench.headless.sum_up(&mut bench.renderer, &wide);
    assert!(matches!(refused, Err(DoseError::Device { .. })));
}

#[test]
fn a_device_without_compute_shaders_is_refused() {
    let headless = Headless::new().expect("a graphics device, if only in software");
    let renderer = DoseRenderer::new(&headless.device, FORMAT);
    assert!(matches!(renderer, Err(DoseError::NoCompute)));
}

#[test]
fn colours_are_those_of_the_dose_where_it_belongs_in_the_view() {
    let mut bench = Bench::new();
    let size = [96, 64];
    let line = [stroke([-1.0, 0.0], [1.0, 0.5], ENERGY)];
    let made = frame([0.0; 2], 20.0, size);
    let dose = bench.dose(&line, made);
    let table = vec![[1.0, 0.0, 0.0, 1.0], [0.0, 1.0, 0.0, 0.5], [0.0, 0.0, 1.0, 1.0]];
    let [low, high] = [0.004, 0.016];
    for (outside, by) in
        [(Outside::First, [0_i32, 0]), (Outside::Transparent, [0, 0]), (Outside::First, [-7, 5])]
    {
        let colours = DoseColours::new([low, high], table.clone(), outside).expect("a range");
        let show = DoseShow {
            view: made.view.panned(by.map(f64::from)),
            size_px: size,
            colours: Arc::new(colours),
            opacity: 0.8,
        };
        assert!(bench.headless.show(&mut bench.renderer, &show));
        assert!(!bench.headless.show(&mut bench.renderer, &show));
        let paint = |pass: &mut wgpu::RenderPass<'_>| bench.renderer.paint(pass);
        let pixels = bench.headless.painted(size, [1.0; 3], paint);
        let mut seen = [0; 2];
        for (index, pixel) in (0_i32..).zip(&pixels) {
            let [x, y] = [index % 96 - by[0], index / 96 - by[1]];
            let is_inside = (0..96).contains(&x) && (0..64).contains(&y);
            let dose = usize::try_from(y * 96 + x).ok().filter(|_| is_inside).map(|i| dose[i]);
            let least = if outside == Outside::First { f64::from(f32::MIN_POSITIVE) } else { low };
            let dose = dose.filter(|&dose| dose >= least);
            seen[usize::from(dose.is_some())] += 1;
            let place = dose.map(|dose| ((dose - low) / (high - low) * 2.0).clamp(0.0, 2.0));
            for (channel, found) in pixel[..3].iter().enumerate() {
                let wanted = place.map_or(1.0, |place| {
                    let between = |channel: usize| {
                        let of = |i: usize| f64::from(table[i][channel]);
                        if place < 1.0 {
                            of(0) + place * (of(1) - of(0))
                        } else {
                            of(1) + (place - 1.0) * (of(2) - of(1))
                        }
                    };
                    let opacity = 0.8 * between(3);
                    opacity * between(channel) + 1.0 - opacity
                });
                let off = (f64::from(*found) - 255.0 * wanted).abs();
                assert!(off <= 1.5, "{outside:?} ({x}, {y}): {pixel:?}, not {}", 255.0 * wanted);
            }
        }
        assert!(seen[0] > 300 && seen[1] > 300, "{seen:?}");
    }
    for (range, count) in
        [([1.0, 1.0], 2), ([0.0, f64::NAN], 2), ([0.0, 1.0], 0), ([0.0, 1.0], 257)]
    {
        let refused = DoseColours::new(range, vec![[0.0; 4]; count], Outside::First);
        assert!(matches!(refused, Err(DoseError::Colours { .. })));
    }
}

#[test]
fn nothing_is_summed_up_twice() {
    let mut bench = Bench::new();
    let tiles = |strokes: &[DoseStroke]| {
        Arc::new(DoseTiles::new(strokes, frame([0.0; 2], 20.0, [64, 64])).expect("can be drawn"))
    };
    let line = tiles(&[stroke([-1.0, 0.0], [1.0, 0.5], ENERGY)]);
    let mut sum_up = |tiles: &Arc<DoseTiles>| {
        bench.headless.sum_up(&mut bench.renderer, tiles).expect("possible")
    };
    assert!(sum_up(&line));
    assert!(!sum_up(&Arc::clone(&line)));
    assert!(sum_up(&tiles(&[])));
    let dose = bench.renderer.dose(&bench.headless.device, &bench.headless.queue);
    assert!(dose.expect("readable").iter().all(|&dose| dose == 0.0));
}
