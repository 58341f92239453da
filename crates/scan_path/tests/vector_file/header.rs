//! Faults in the tables.

use crate::samples::header;
use base::Point;
use scan_path::{Header, MAX_LAYERS, MeltRow};

fn melt(nominal_j_mm2: f64, steady_j_mm2: f64) -> MeltRow {
    MeltRow { recipe: "test powder, 100 µm".to_owned(), nominal_j_mm2, steady_j_mm2 }
}

#[test]
fn each_planted_fault_in_the_tables_is_found() {
    assert_eq!(header(8).problems(), []);
    let faults: [fn(&mut Header); 20] = [
        |h| h.build_space_mm[1] = 0.0,
        |h| h.build_space_mm[0] = 2500.0,
        |h| h.layer_thickness_mm = f64::NAN,
        |h| h.layer_thickness_mm = -0.1,
        |h| h.layer_thickness_mm = 300.0,
        |h| h.jump_speed_mm_s = 0.0,
        |h| h.spreading_direction_deg = Some(f64::INFINITY),
        |h| h.layer_count = MAX_LAYERS + 1,
        |h| h.placements[0].part = 7,
        |h| h.placements[0].copy = Some(0),
        |h| h.placements[0].rotation_deg[2] = f64::NAN,
        |h| h.placements[0].bounds_mm = Some([[0.0; 3], [0.0, f64::INFINITY, 0.0]]),
        |h| h.exposures[0].power_w = -1.0,
        |h| h.exposures[1].speed_mm_s = 0.0,
        |h| h.exposures[0].path_run_in_mm = f64::NAN,
        |h| h.exposures[1].path_run_out_mm = -0.5,
        |h| h.exposures[1].power_factor = Some(0.0),
        |h| h.beam_radius_mm = Some(0.0),
        |h| h.melt = vec![melt(f64::NAN, 0.01)],
        |h| h.melt = vec![melt(0.005, 0.01), melt(0.005, -0.01)],
    ];
    for (i, fault) in faults.into_iter().enumerate() {
        let mut faulty = header(8);
        fault(&mut faulty);
        assert!(!faulty.problems().is_empty(), "fault {i}");
    }
}

#[test]
fn placements_are_called_by_part_and_copy_as_far_as_the_file_knows() {
    let mut header = header(8);
    assert_eq!(header.placement_name(1), "hinge 2 of 2");
    assert_eq!(header.placement_name(2), "clip \"A\"");
    assert_eq!(header.placement_name(3), "row 3 of the table");
    header.placements[1].copy = None;
    assert_eq!(header.placement_name(1), "hinge, row 1 of the table");
}

#[test]
fn the_border_of_the_build_space_belongs_to_it() {
    let header = header(8); // 250 mm × 300 mm
    assert!(header.contains(Point::new(125_000_000, -150_000_000)));
    assert!(!header.contains(Point::new(125_000_001, 0)));
    assert!(!header.contains(Point::new(0, -150_000_001)));
}
