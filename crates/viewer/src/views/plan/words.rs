//! What hovering over a mark tells.

use super::quantity::kind_word;
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use crate::widgets::format::beam_time;
use base::NM_PER_MM;
use scan_path::RegionKind;

/// Lines about the mark that a move is: what it is, and its numbers. Empty if it is none.
pub(crate) fn about(model: &Model, shown: &ShownLayer, index: usize) -> Vec<String> {
    let timeline = &shown.timeline;
    let Some(step) = timeline.moves().get(index) else { return Vec::new() };
    let Some(block) = shown.layer.blocks.get(step.block as usize) else { return Vec::new() };
    let region = match block.region {
        RegionKind::Core => "core",
        RegionKind::UpFacing => "up-facing",
        RegionKind::DownFacing => "down-facing",
    };
    let place = Model::placement_of_row(shown, block.placement);
    let part = place.map(|place| model.placement_name(place)).unwrap_or_default();
    let length_mm = step.from.distance(timeline.to(index)) / NM_PER_MM;
    let mut lines = vec![format!("{} of {part}, {region}", kind_word(block.kind))];
    if let Some(row) = shown.header().exposures.get(usize::from(block.exposure)) {
        lines.push(format!("exposure {}", row.name));
        lines.push(format!("{} W at {} mm/s", round(row.power_w), round(row.speed_mm_s)));
    }
    lines.push(format!("{length_mm:.3} mm long"));
    lines.push(format!("runs at {} into the layer", beam_time(step.start_s)));
    lines
}

/// A number with up to three decimals, and no more than it has.
fn round(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

/// What a drag does on a placement.
pub(super) fn what_drags(is_selected: bool) -> &'static str {
    if is_selected {
        "Drag: moves what is selected, with Alt without steps. Drag beside it: pans."
    } else {
        "Click: selects the part, and a drag then moves it. Drag: pans."
    }
}
