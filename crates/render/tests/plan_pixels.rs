//! What the plan's renderer puts into which pixel, on whatever graphics device there is.

mod headless;

use headless::{FORMAT, Headless};
use render::plan::{
    ColourScale, Dash, FillLayer, FillSet, Ground, Ink, LineLayer, LineSet, PlanFrame,
    PlanRenderer, PlanView, Segment, Shade, Width,
};
use std::sync::Arc;

const SIZE: [u32; 2] = [64, 48];
const BLACK: Ink = Ink::Flat([0.0, 0.0, 0.0, 1.0]);
const WHITE: [f64; 3] = [1.0; 3];

struct Bench {
    headless: Headless,
    renderer: PlanRenderer,
}

impl Bench {
    fn new() -> Self {
        let headless = Headless::new().expect("a graphics device, if only in software");
        let renderer = PlanRenderer::new(&headless.device, FORMAT);
        Self { headless, renderer }
    }

    /// Darkness of a pixel on white paper, 0 to 255, by column and row from the upper left.
    fn darkness(&mut self, frame: &PlanFrame) -> impl Fn(u32, u32) -> u8 + use<> {
        let pixels = self.headless.pixels(&mut self.renderer, frame, WHITE);
        let width = frame.size_px[0];
        move |x, y| 255 - pixels[(y * width + x) as usize][1]
    }
}

/// One nanometre a pixel, the lower left corner of the picture at (`x`, `y`).
fn frame(x: f64, y: f64, lines: Vec<LineLayer>) -> PlanFrame {
    let centre_nm = [x + f64::from(SIZE[0]) / 2.0, y + f64::from(SIZE[1]) / 2.0];
    PlanFrame {
        view: PlanView { centre_nm, px_per_mm: 1e6 },
        size_px: SIZE,
        fills: Vec::new(),
        lines,
        scale: Arc::new(ColourScale::sequential(Ground::Light)),
        budget: usize::MAX,
    }
}

fn line(from: [i32; 2], to: [i32; 2]) -> LineLayer {
    LineLayer::new(Arc::new(LineSet::new(vec![Segment { from, to }], None)), BLACK)
}

fn wide(from: [i32; 2], to: [i32; 2]) -> LineLayer {
    LineLayer { width: Width::Px(4.0), ..line(from, to) }
}

#[test]
fn a_line_darkens_its_pixels_and_no_others() {
    let mut bench = Bench::new();
    let at = bench.darkness(&frame(0.0, 0.0, vec![wide([10, 20], [50, 20])]));
    // rows count down from 48: the line's middle lies between rows 27 and 28
    for y in 0..SIZE[1] {
        let row = at(30, y);
        match y {
            27 | 28 => assert!(row > 250, "row {y}: {row}"),
            26 | 29 => assert!((170..=254).contains(&row), "row {y}: {row}"),
            25 | 30 => assert!((1..90).contains(&row), "row {y}: {row}"),
            _ => assert_eq!(row, 0, "row {y}"),
        }
    }
    assert!(at(10, 27) > 250 && at(49, 27) > 250);
    assert_eq!((at(8, 27), at(51, 27)), (0, 0));
}

#[test]
fn a_line_across_the_whole_grid_hits_the_right_nanometre() {
    let mut bench = Bench::new();
    let far = 1_000_000_000;
    // slope 1/2, through (123 456 789, 61 728 394.5)
    let lines = vec![wide([-far, -far / 2], [far, far / 2])];
    let at = bench.darkness(&frame(123_456_789.0 - 32.0, 61_728_394.5 - 24.0, lines));
    for x in [0, 20, 40, 63] {
        let centre = f64::from(x) + 0.5;
        let expected_row = 24.0 - (centre - 32.0) / 2.0;
        let darkest: (f64, f64) = (0..SIZE[1]).fold((0.0, 0.0), |(sum, moment), y| {
            let dark = f64::from(at(x, y));
            (sum + dark, moment + dark * (f64::from(y) + 0.5))
        });
        let found = darkest.1 / darkest.0;
        assert!((found - expected_row).abs() < 0.05, "column {x}: {found}, not {expected_row}");
    }
}

#[test]
fn holes_stay_empty_and_overlaps_are_filled_once() {
    let mut bench = Bench::new();
    let square = |low: i32, high: i32| vec![[low, low], [high, low], [high, high], [low, high]];
    let hole: Vec<_> = square(20, 30).into_iter().rev().collect();
    let beside = vec![[35, 5], [60, 5], [60, 45], [35, 45]];
    let fill = Arc::new(FillSet::new([square(5, 45), hole, beside]));
    let fills = vec![FillLayer { fill: Arc::clone(&fill), colour: [0.0, 0.0, 0.0, 0.5] }];
    for deep in [false, true] {
        let mut frame = frame(0.0, 0.0, Vec::new());
        frame.fills.clone_from(&fills);
        if !deep {
            // the same picture a hundred times as coarse: not clipped
            let larger = |p: &[i32; 2]| p.map(|c| c * 100);
            let rings = [
                square(5, 45),
                square(20, 30).into_iter().rev().collect(),
                vec![[35, 5], [60, 5], [60, 45], [35, 45]],
            ];
            let rings = rings.iter().map(|ring| ring.iter().map(larger).collect::<Vec<_>>());
            frame.fills[0].fill = Arc::new(FillSet::new(rings));
            frame.view = PlanView {
                centre_nm: frame.view.centre_nm.map(|c| c * 100.0),
                px_per_mm: frame.view.px_per_mm / 100.0,
            };
        }
        let at = bench.darkness(&frame);
        for (x, y, wanted) in
            [(10, 10, 128), (25, 25, 0), (40, 25, 128), (55, 10, 128), (2, 2, 0), (62, 30, 0)]
        {
            let found = at(x, SIZE[1] - 1 - y);
            assert!(found.abs_diff(wanted) <= 1, "deep {deep}, ({x}, {y}): {found}");
        }
    }
}

#[test]
fn colours_come_from_the_scale_and_pale_ones_after_the_split() {
    let mut bench = Bench::new();
    let segments = (0..4).map(|i| Segment { from: [0, 6 + 12 * i], to: [64, 6 + 12 * i] });
    let lines = Arc::new(LineSet::new(segments.collect(), None));
    let shade = |value| Shade { value, phase: 0 };
    let layer = LineLayer {
        shades: Some(Arc::new(vec![shade(0), shade(u16::MAX), shade(u16::MAX), shade(0)])),
        width: Width::Px(6.0),
        split: 2,
        opacity_after: 0.25,
        ..LineLayer::new(lines, Ink::Scale(1.0))
    };
    let frame = frame(0.0, 0.0, vec![layer]);
    let pixels = bench.headless.pixels(&mut bench.renderer, &frame, WHITE);
    let at = |line: u32| pixels[((SIZE[1] - 1 - (6 + 12 * line)) * SIZE[0] + 30) as usize];
    let [low, high] = [frame.scale.at(0.0), frame.scale.at(1.0)];
    let faint = |c: [u8; 4]| c.map(|c| 255 - (255 - c) / 4);
    for (line, wanted) in [low, high, faint(high), faint(low)].into_iter().enumerate() {
        let found = at(u32::try_from(line).expect("small"));
        for (a, b) in found.iter().zip(wanted) {
            assert!(a.abs_diff(b) <= 2, "line {line}: {found:?}, not {wanted:?}");
        }
    }
}

#[test]
fn dashes_go_on_across_corners_and_leave_gaps() {
    let mut bench = Bench::new();
    let segments =
        vec![Segment { from: [0, 20], to: [30, 20] }, Segment { from: [30, 20], to: [64, 20] }];
    let layer = LineLayer {
        dash: Dash([8.0, 8.0, 8.0, 8.0]),
        width: Width::Px(4.0),
        ..LineLayer::new(Arc::new(LineSet::new(segments, None)), BLACK)
    };
    // 1 px is 10 µm here, so that phases have no rounding
    let grid = 10_000;
    let scaled =
        |s: &Segment| Segment { from: s.from.map(|c| c * grid), to: s.to.map(|c| c * grid) };
    let lines = Arc::new(LineSet::new(layer.lines.segments().iter().map(scaled).collect(), None));
    let shade = |phase| Shade { value: 0, phase };
    let shades = Some(Arc::new(vec![shade(0), shade(30)]));
    let mut frame = frame(0.0, 0.0, vec![LineLayer { lines, shades, ..layer }]);
    frame.view =
        PlanView { centre_nm: frame.view.centre_nm.map(|c| c * f64::from(grid)), px_per_mm: 100.0 };
    let at = bench.darkness(&frame);
    for x in 0..SIZE[0] {
        let is_on = x / 8 % 2 == 0;
        assert_eq!(at(x, 27) > 128, is_on, "column {x}");
    }
}

#[test]
fn a_frame_with_nothing_changed_is_not_drawn_again() {
    let mut bench = Bench::new();
    let first = frame(0.0, 0.0, vec![line([0, 0], [9, 9])]);
    let mut draw = |frame: &PlanFrame| bench.headless.prepare(&mut bench.renderer, frame);
    assert!(draw(&first));
    assert!(!draw(&first.clone()));
    assert!(draw(&PlanFrame { view: first.view.panned([1.0, 0.0]), ..first.clone() }));
    assert!(draw(&PlanFrame { lines: Vec::new(), ..first.clone() }));
    assert!(draw(&PlanFrame { lines: vec![line([0, 0], [9, 9])], ..first }));
}

#[test]
fn nothing_and_nonsense_are_drawn_without_a_complaint() {
    let mut bench = Bench::new();
    let mut nothing = frame(0.0, 0.0, Vec::new());
    nothing.fills = vec![FillLayer { fill: Arc::default(), colour: [1.0; 4] }];
    assert_eq!(bench.darkness(&nothing)(5, 5), 0);
    let point = Segment { from: [5, 5], to: [5, 5] };
    let extreme = Segment { from: [i32::MIN; 2], to: [i32::MAX; 2] };
    let lines = Arc::new(LineSet::new(vec![point, extreme], Some(1e-300)));
    let mut frame = frame(f64::NAN, f64::INFINITY, vec![LineLayer::new(lines, BLACK)]);
    frame.lines[0].shades = Some(Arc::new(Vec::new())); // too few
    frame.view.px_per_mm = f64::NAN;
    frame.budget = 0;
    assert!(bench.headless.prepare(&mut bench.renderer, &frame));
}
