//! `dose` of one layer: in numbers, and as a picture.

use super::said::{alone, failure, show_offsets, show_threshold, stated};
use crate::args::DoseArgs;
use crate::console::{json, line, whole, with_progress};
use crate::outcome::{Failure, Outcome};
use crate::verbs::inspect::{heights_mm, hint_if_empty};
use crate::verbs::ready::ready;
use pipeline::{
    Assumed, DoseDrawing, DoseQuestion, DoseRange, Histogram, Inputs, LayerDose, OutlineDeviation,
    Picture, Prediction, VerifyError, layer_dose, open_vector_file, write_dose_picture,
};
use scan_path::Header;
use serde_json::{Value, json};

/// Longest bar of a histogram, characters.
const LONGEST_BAR: usize = 40;

pub(super) fn run(args: &DoseArgs, layer_number: u32) -> Result<Outcome, Failure> {
    if let Some(out) = args.out.as_ref().filter(|out| out.extension().is_none_or(|e| e != "png")) {
        let name = out.with_extension("png");
        let sentence = format!("--out is a PNG file; name it {}", name.display());
        return Err(Failure(sentence));
    }
    let mut inputs = Inputs::default().and("vector file", &args.file);
    check(&inputs, args)?;
    let mut reader = open_vector_file(&args.file)?;
    let layer = reader
        .layer(layer_number)
        .map_err(|source| VerifyError::Read { path: args.file.clone(), source })?;
    let build = args.job.as_deref().map(ready).transpose()?;
    if let Some(build) = &build {
        inputs = build.loaded.inputs.clone().and("vector file", &args.file);
        check(&inputs, args)?;
    }
    let stated = stated(args);
    let header = reader.header();
    let assumed = Assumed::of(header, Some(&layer), build.as_ref(), &stated)
        .map_err(|error| failure(&error))?;
    let question = DoseQuestion {
        header,
        layer: &layer,
        assumed: &assumed,
        build: build.as_ref(),
        pitch_mm: args.pitch,
        places_mm: &args.places,
    };
    let (numbers, drawing) =
        with_progress("Adding up the dose", |progress| layer_dose(&question, progress))
            .map_err(|error| failure(&error))?;
    let picture = match &args.out {
        Some(out) => Some(write_dose_picture(&numbers, &drawing, out, &inputs)?),
        None => None,
    };
    if args.json {
        json(&as_json(&numbers, &drawing, picture.as_ref(), args.outline)?)?;
    } else {
        show(header, &numbers);
        if let Some(picture) = &picture {
            show_picture(picture);
        }
        hint_if_empty(reader.index(), layer_number);
    }
    Ok(Outcome::Done)
}

/// Whether the picture may go where it is wanted; asked before the work.
fn check(inputs: &Inputs, args: &DoseArgs) -> Result<(), Failure> {
    Ok(args.out.as_deref().map_or(Ok(()), |out| inputs.check(out))?)
}

fn show(header: &Header, dose: &LayerDose) {
    let [bottom, top] = heights_mm(header, dose.layer);
    let of = alone(dose.recipe.as_deref());
    line(&format!("layer {}, {bottom:.4} to {top:.4} mm{of}", dose.layer));
    line(&format!(
        "beam radius {} mm to 1/e²; doses in J/mm² at points {} mm apart, the most {:.6}",
        dose.beam_radius_mm, dose.pitch_mm, dose.most_j_mm2
    ));
    for hatch in &dose.hatches {
        line(&format!(
            "hatch mean {:.6}: {} of recipe {:?}, lines {} mm apart",
            hatch.mean_j_mm2, hatch.exposure, hatch.recipe, hatch.spacing_mm
        ));
    }
    if let Some(section) = &dose.section {
        let range = said(section.dose.as_ref());
        line(&format!("section {:.4} mm²; dose in it {range}", section.area_mm2));
    }
    for prediction in &dose.predictions {
        show_prediction(prediction);
    }
    for place in &dose.places {
        let [x, y] = place.at_mm;
        let times = dose.predictions.iter().map(|prediction| {
            let times = place.dose_j_mm2 / prediction.threshold_j_mm2;
            format!("{times:.3} × what melts at {} depth", prediction.powder_depth.word())
        });
        let times: Vec<String> = times.collect();
        line(&format!("at ({x}, {y}): {:.8}, {}", place.dose_j_mm2, times.join(", ")));
    }
}

fn said(range: Option<&DoseRange>) -> String {
    let Some(DoseRange { least_j_mm2, mean_j_mm2, most_j_mm2 }) = range else {
        return "none".to_owned();
    };
    format!("{least_j_mm2:.6} to {most_j_mm2:.6}, mean {mean_j_mm2:.6}")
}

fn show_prediction(prediction: &Prediction) {
    let threshold = prediction.threshold_j_mm2;
    show_threshold(prediction.powder_depth, threshold);
    line(&format!(
        "  melted {:.4} mm²; closed curves around it: {}, {:.3} mm long; dose there {}",
        prediction.melted_mm2,
        prediction.curves,
        prediction.outline_mm,
        said(prediction.dose.as_ref())
    ));
    if let Some(deviation) = &prediction.deviation {
        show_deviation(deviation);
    }
    show_offsets(&prediction.proposed_offsets);
}

fn show_deviation(deviation: &OutlineDeviation) {
    if let (Some(mean), Some(p95)) = (deviation.mean_mm, deviation.p95_mm) {
        line(&format!(
            "  outside the section by {mean:+.4} mm on average, 95 % of the outline within {p95:.4} mm"
        ));
        show_histogram(&deviation.histogram);
    }
    for spot in &deviation.vanished {
        let [x, y] = spot.at_mm;
        line(&format!("  vanishes: {:.3} mm wide, at ({x:.3}, {y:.3})", spot.width_mm));
    }
    for spot in &deviation.filled {
        let [x, y] = spot.at_mm;
        line(&format!("  hole melts over: {:.3} mm wide, at ({x:.3}, {y:.3})", spot.width_mm));
    }
    for gap in &deviation.merged {
        let [x, y] = gap.at_mm;
        line(&format!("  gap melts over: {:.3} mm wide, at ({x:.3}, {y:.3})", gap.gap_mm));
    }
}

/// A row for each bin from the first to the last that holds something.
fn show_histogram(Histogram { edges_mm, counts }: &Histogram) {
    let all: usize = counts.iter().sum();
    let most = counts.iter().copied().max().unwrap_or(0).max(1);
    let bins: Vec<_> = edges_mm.windows(2).zip(counts).enumerate().collect();
    let holds = |at: &(usize, (&[f64], &usize))| *at.1.1 > 0;
    let (first, last) = (bins.iter().position(holds), bins.iter().rposition(holds));
    let (Some(first), Some(last)) = (first, last) else { return };
    for &(at, (edges, &count)) in &bins[first..=last] {
        let from = if at == 0 { "less".to_owned() } else { format!("{:+.2}", edges[0]) };
        let to =
            if at + 1 == counts.len() { "more".to_owned() } else { format!("{:+.2}", edges[1]) };
        let share = 100.0 * count as f64 / all.max(1) as f64;
        let bar = "#".repeat((count * LONGEST_BAR).div_ceil(most));
        line(&format!("    {from:>5} to {to:>5} mm {share:5.1} % {bar}"));
    }
}

fn show_picture(picture: &Picture) {
    let [width, height] = picture.size;
    line(&format!(
        "{}: {width} × {height} pixels of {} mm",
        whole(&picture.file),
        picture.pixel_mm
    ));
}

fn as_json(
    numbers: &LayerDose,
    drawing: &DoseDrawing,
    picture: Option<&Picture>,
    with_outlines: bool,
) -> Result<Value, Failure> {
    let mut value = json!(numbers);
    value["picture"] = serde_json::to_value(picture)?;
    if with_outlines {
        for (at, outline) in drawing.outlines.iter().enumerate() {
            let points: Vec<_> = outline.iter().map(|ring| &ring.points).collect();
            value["predictions"][at]["outline_points_mm"] = json!(points);
        }
    }
    Ok(value)
}
