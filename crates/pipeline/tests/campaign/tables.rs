//! What each kind of mutation does to the tables of a file.

use super::kind::Kind;
use super::planted::Planted;
use super::random::Random;

pub(crate) fn mutate(file: &mut Planted, kind: Kind, random: &mut Random) -> Option<()> {
    let header = &mut file.header;
    let used = |exposure: usize| {
        let blocks = file.layers.iter().flat_map(|layer| &layer.blocks);
        blocks.into_iter().any(|block| usize::from(block.exposure) == exposure)
    };
    let rows: Vec<usize> = (0..header.exposures.len()).filter(|row| used(*row)).collect();
    let row = random.pick(&rows)?;
    let factor = 1.0 + random.either_way(0.01, 0.5);
    let exposure = &mut header.exposures[row];
    match kind {
        Kind::TablePower => exposure.power_w *= factor,
        Kind::TableSpeed => exposure.speed_mm_s *= factor,
        Kind::TableRunIn => exposure.path_run_in_mm += random.between(0.01, 1.0),
        Kind::TableName => exposure.name.push('2'),
        Kind::TableSwapped => {
            let other = (row + 1) % header.exposures.len();
            header.exposures.swap(row, other);
        }
        Kind::PartName => header.parts[0].name.push('2'),
        Kind::JobName => header.job_name.push('2'),
        Kind::MachineName => header.machine_name.push('2'),
        Kind::Spreading => {
            header.spreading_direction_deg = random.pick(&[None, Some(0.0), Some(91.0)])?;
        }
        Kind::Bounds => {
            let by = random.either_way(0.01, 2.0);
            let bounds = header.placements[0].bounds_mm.as_mut()?;
            bounds.as_flattened_mut().iter_mut().for_each(|x| *x += by);
        }
        Kind::Thickness => header.layer_thickness_mm *= factor,
        _ => header.jump_speed_mm_s *= factor,
    }
    Some(())
}
