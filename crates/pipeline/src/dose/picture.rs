//! The dose of a layer as a picture, to scale, with the predicted outlines, the section, and a legend.

use super::answer::{DoseDrawing, LayerDose, PowderDepth, Raster};
use super::canvas::{Canvas, Colour, Segment, blend, whole};
use super::inside::edges_mm;
use super::lettering::{TALL, text_width, write};
use crate::inputs::Inputs;
use crate::picture;
use crate::write::OutputError;
use serde::Serialize;
use std::path::{Path, PathBuf};

const PAPER: Colour = [252, 250, 244];
const INK: Colour = [38, 40, 46];
/// From no dose to the most, darker all the way so that it reads in print and to any eye.
const DOSES: [Colour; 6] =
    [PAPER, [248, 226, 178], [239, 181, 116], [214, 119, 82], [155, 62, 76], [74, 24, 60]];
const NOMINAL: Colour = [0, 84, 140];
const STEADY: Colour = [0, 138, 120];

/// Pixels of a unit of the lettering where the picture is small; grows with it.
const UNIT: f64 = 2.0;
/// Height at which the lettering starts to grow, and how many times at most.
const USUAL_HEIGHT: f64 = 900.0;
const MOST_GROWTH: f64 = 3.0;

/// A picture that was written.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    /// The file.
    pub file: PathBuf,
    /// Its size, pixels.
    pub size: [usize; 2],
    /// Side of a pixel, mm.
    pub pixel_mm: f64,
    /// The pixel, from the left and from the top, whose upper left corner is `corner_mm`.
    pub corner: [usize; 2],
    /// Smallest X and largest Y of what is shown, mm.
    pub corner_mm: [f64; 2],
    /// Columns and rows of pixels that show it.
    pub shown: [usize; 2],
}

/// Writes the picture as PNG: to a temporary file beside `path`, then renamed. Y points up the page. `inputs`
/// are the files that the dose was told from.
///
/// # Errors
/// If the file cannot be written.
pub fn write_dose_picture(
    numbers: &LayerDose,
    drawing: &DoseDrawing,
    path: &Path,
    inputs: &Inputs,
) -> Result<Picture, OutputError> {
    let raster = &drawing.raster;
    let growth = (raster.rows as f64 / USUAL_HEIGHT).clamp(1.0, MOST_GROWTH);
    let legend = Legend::new(numbers, drawing, UNIT * growth);
    let margin = whole(legend.margin());
    let width = raster.columns + whole(legend.width) + 3 * margin;
    let height = raster.rows.max(whole(legend.height)) + 2 * margin;
    let mut canvas = Canvas::new(width, height, PAPER);
    let map = Map { raster, corner: [margin; 2] };
    map.paint(&mut canvas, numbers.most_j_mm2);
    let line = 0.5 * growth;
    for (prediction, outline) in numbers.predictions.iter().zip(&drawing.outlines) {
        let edges = outline.iter().flat_map(estimate::Ring::edges);
        canvas.draw(&map.lines(edges, 2.0 * line), colour_of(prediction.powder_depth));
    }
    canvas.draw(&map.lines(edges_mm(&drawing.section), line), INK);
    legend.paint(&mut canvas, [(raster.columns + 2 * margin) as f64, margin as f64]);
    save(&canvas, raster.pixel_mm, path, inputs)?;
    let [x, y] = raster.corner_mm;
    Ok(Picture {
        file: path.to_owned(),
        size: [width, height],
        pixel_mm: raster.pixel_mm,
        corner: [margin; 2],
        corner_mm: [x, y + raster.rows as f64 * raster.pixel_mm],
        shown: [raster.columns, raster.rows],
    })
}

fn colour_of(depth: PowderDepth) -> Colour {
    match depth {
        PowderDepth::Nominal | PowderDepth::Stated => NOMINAL,
        PowderDepth::Steady => STEADY,
    }
}

/// The colour of a dose, as its share of the most.
fn colour(share: f64) -> Colour {
    let place = share.clamp(0.0, 1.0) * (DOSES.len() - 1) as f64;
    let step = whole(place).min(DOSES.len() - 2);
    blend(DOSES[step], DOSES[step + 1], place - step as f64)
}

/// Where doses stand in the picture.
struct Map<'a> {
    raster: &'a Raster,
    /// The picture's pixel of their upper left corner.
    corner: [usize; 2],
}

impl Map<'_> {
    fn paint(&self, canvas: &mut Canvas, most: f64) {
        let Raster { columns, rows, dose, .. } = self.raster;
        for (row, doses) in dose.chunks_exact(*columns).enumerate() {
            let y = self.corner[1] + rows - 1 - row;
            for (column, dose) in doses.iter().enumerate() {
                let share = if most > 0.0 { dose / most } else { 0.0 };
                canvas.set(self.corner[0] + column, y, colour(share));
            }
        }
    }

    fn lines(&self, edges: impl Iterator<Item = [[f64; 2]; 2]>, half_width: f64) -> Vec<Segment> {
        let Raster { rows, pixel_mm, corner_mm, .. } = self.raster;
        let place = |[x, y]: [f64; 2]| {
            let [u, v] = [(x - corner_mm[0]) / pixel_mm, (y - corner_mm[1]) / pixel_mm];
            [self.corner[0] as f64 + u, self.corner[1] as f64 + *rows as f64 - v]
        };
        edges.map(|edge| Segment { ends: edge.map(place), half_width }).collect()
    }
}

/// A dose and what it is called.
struct Tick {
    dose: f64,
    text: String,
}

/// What explains the picture: a bar of colours with named doses, lines, and a scale.
struct Legend {
    unit: f64,
    titles: [String; 2],
    ticks: Vec<Tick>,
    lines: Vec<(Colour, f64, String)>,
    /// A length to compare with: pixels, and in words.
    scale: (f64, String),
    most: f64,
    /// How far names of doses rise above the bar, lest they overlap, in units.
    lift: f64,
    width: f64,
    height: f64,
}

impl Legend {
    /// Height of a row of text, from name to name beside the bar, the bar's size, and where text
    /// beside anything begins, in units.
    const ROW: f64 = 14.0;
    const NAMES: f64 = 11.0;
    const BAR: f64 = 130.0;
    const BAR_WIDTH: f64 = 12.0;
    const TEXT: f64 = 24.0;

    fn new(numbers: &LayerDose, drawing: &DoseDrawing, unit: f64) -> Self {
        let most = numbers.most_j_mm2;
        let titles = [format!("layer {}", numbers.layer), "dose in J/mm²".to_owned()];
        let mut ticks = vec![Tick { dose: 0.0, text: "0".to_owned() }];
        let mut lines = Vec::new();
        for prediction in &numbers.predictions {
            let (dose, depth) = (prediction.threshold_j_mm2, prediction.powder_depth);
            if dose <= most {
                let text = format!("{} melts, {} depth", significant(dose), depth.word());
                ticks.push(Tick { dose, text });
            }
            let text = format!("predicted outline, {} depth", depth.word());
            lines.push((colour_of(depth), 1.0, text));
        }
        for hatch in numbers.hatches.iter().filter(|hatch| hatch.mean_j_mm2 <= most) {
            let dose = hatch.mean_j_mm2;
            ticks.push(Tick { dose, text: format!("{} mean of a hatch", significant(dose)) });
        }
        ticks.push(Tick { dose: most, text: format!("{} most", significant(most)) });
        ticks.sort_by(|a, b| a.dose.total_cmp(&b.dose));
        if !drawing.section.is_empty() {
            lines.push((INK, 0.5, "section".to_owned()));
        }
        let scale = scale(drawing.raster.pixel_mm, 60.0 * unit);
        let texts = ticks.iter().map(|tick| &tick.text).chain(lines.iter().map(|line| &line.2));
        let longest = texts.map(|text| text_width(text)).fold(0.0, f64::max);
        let at = heights(&ticks, most, Self::BAR);
        let highest = apart(&at, Self::NAMES).last().copied().unwrap_or(0.0);
        let lift = (-highest).max(0.0);
        let rows = (titles.len() + lines.len() + 2) as f64;
        let height = (Self::ROW * rows + Self::BAR + lift) * unit;
        let width = ((Self::TEXT + longest) * unit).max(scale.0);
        Self { unit, titles, ticks, lines, scale, most, lift, width, height }
    }

    fn margin(&self) -> f64 {
        6.0 * self.unit
    }

    fn paint(&self, canvas: &mut Canvas, [left, top]: [f64; 2]) {
        let unit = self.unit;
        let mut ink = Vec::new();
        let mut y = top + TALL * unit;
        for title in &self.titles {
            write(title, [left, y], unit, &mut ink);
            y += Self::ROW * unit;
        }
        let bar = y + self.lift * unit;
        self.paint_bar(canvas, [left, bar], &mut ink);
        y = bar + (Self::BAR + 1.3 * Self::ROW) * unit;
        for (colour, half_width, text) in &self.lines {
            let middle = y - 0.5 * TALL * unit;
            let ends = [[left, middle], [left + 18.0 * unit, middle]];
            canvas.draw(&[Segment { ends, half_width: half_width * 0.5 * unit }], *colour);
            write(text, [left + Self::TEXT * unit, y], unit, &mut ink);
            y += Self::ROW * unit;
        }
        let (length, text) = &self.scale;
        let half_width = 0.4 * unit;
        let corners = [
            [left, y - 3.0 * unit],
            [left, y],
            [left + length, y],
            [left + length, y - 3.0 * unit],
        ];
        ink.extend(corners.windows(2).map(|ends| Segment { ends: [ends[0], ends[1]], half_width }));
        write(text, [left + 3.0 * unit, y - 2.0 * unit], unit, &mut ink);
        canvas.draw(&ink, INK);
    }

    /// The bar, the least dose at the bottom; names of doses that lie close are moved apart.
    fn paint_bar(&self, canvas: &mut Canvas, [left, top]: [f64; 2], ink: &mut Vec<Segment>) {
        let (unit, height) = (self.unit, Self::BAR * self.unit);
        for row in 0..whole(height) {
            let shade = colour(1.0 - (row as f64 + 0.5) / height);
            for column in 0..whole(Self::BAR_WIDTH * unit) {
                canvas.set(whole(left) + column, whole(top) + row, shade);
            }
        }
        let at = heights(&self.ticks, self.most, height);
        let named = apart(&at, Self::NAMES * unit);
        let x = [0.0, 4.0, 8.0].map(|x| left + (Self::BAR_WIDTH + x) * unit);
        let half_width = 0.25 * unit;
        for ((tick, at), named) in self.ticks.iter().zip(at).zip(named) {
            let (at, named) = (top + at, top + named);
            let corners = [[left, at], [x[0], at], [x[1], at], [x[2], named]];
            let leader = corners.windows(2).map(|ends| [ends[0], ends[1]]);
            ink.extend(leader.map(|ends| Segment { ends, half_width }));
            let middle = named + 0.5 * TALL * unit;
            write(&tick.text, [left + Self::TEXT * unit, middle], unit, ink);
        }
    }
}

/// Where doses stand beside a bar of some height, from its top.
fn heights(ticks: &[Tick], most: f64, height: f64) -> Vec<f64> {
    let share = |dose: f64| if most > 0.0 { dose / most } else { 0.0 };
    ticks.iter().map(|tick| height * (1.0 - share(tick.dose))).collect()
}

/// Heights, falling, moved up until each is a distance above the one before.
fn apart(at: &[f64], distance: f64) -> Vec<f64> {
    let mut before = f64::INFINITY;
    let moved = at.iter().map(|&y| {
        before = y.min(before - distance);
        before
    });
    moved.collect()
}

/// A length of 1, 2 or 5 times a power of ten that is about as long as wanted: pixels, and in words.
fn scale(pixel_mm: f64, wanted: f64) -> (f64, String) {
    let mm = wanted * pixel_mm;
    let power = 10_f64.powf(mm.log10().floor());
    let length = [5.0, 2.0, 1.0].map(|step| step * power).into_iter().find(|step| *step <= mm);
    let length = length.unwrap_or(power);
    (length / pixel_mm, format!("{} mm", significant(length)))
}

/// A number to four digits, without zeros at its end.
fn significant(number: f64) -> String {
    if number <= 0.0 {
        return "0".to_owned();
    }
    let decimals = whole(3.0 - number.log10().floor());
    let text = format!("{number:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A PNG file that says how large its pixels are.
fn save(canvas: &Canvas, pixel_mm: f64, path: &Path, inputs: &Inputs) -> Result<(), OutputError> {
    let size = |pixels: usize| u32::try_from(pixels).unwrap_or(u32::MAX);
    let per_metre = size(whole((1000.0 / pixel_mm).round()));
    let whole = [canvas.width, canvas.height].map(size);
    picture::save(path, inputs, picture::png_of(whole, &canvas.pixels, Some(per_metre)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_close_doses_are_moved_apart() {
        assert_eq!(apart(&[100.0, 98.0, 50.0, 48.0], 10.0), [100.0, 90.0, 50.0, 40.0]);
    }

    #[test]
    fn scales_are_round_and_numbers_short() {
        assert_eq!(scale(0.02, 120.0), (100.0, "2 mm".to_owned()));
        assert_eq!(scale(0.1, 120.0), (100.0, "10 mm".to_owned()));
        assert_eq!(significant(0.019_149_229), "0.01915");
        assert_eq!((significant(0.03), significant(12345.6)), ("0.03".into(), "12346".into()));
        assert_eq!(colour(0.0), PAPER);
        assert_eq!(colour(2.0), DOSES[5]);
    }
}
