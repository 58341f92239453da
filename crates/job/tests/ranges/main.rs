//! Each value that a file must not have, once: the sentence names field, value and range.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod heads;
mod jobs;

use job::machine::{BuildTimes, FieldCorrection, Head, Laser, ScanHead};
use job::recipe::{
    CellOrder, ContourOrder, ContourPass, Contours, Exposure, FacingStrategy, ForbiddenAngles,
    Hatch, HatchPass, Joins, Limits, Material, PathOrder, Pattern, Sequence, StartPoint, Strategy,
    ThinWalls, Travel,
};
use job::{Invalid, Machine, Recipe};

fn exposure(name: &str) -> Exposure {
    Exposure {
        name: name.to_owned(),
        power_w: 24.0,
        speed_mm_s: 4000.0,
        runs: job::recipe::Runs::Typed,
        path_run_in_mm: 0.8,
        path_run_out_mm: 0.8,
    }
}

fn strategy() -> Strategy {
    Strategy {
        sequence: Sequence::HatchFirst,
        contours: Some(Contours {
            count: 2,
            spacing_mm: 0.25,
            order: ContourOrder::InsideOut,
            start: StartPoint::Towards(90.0),
            exposures: vec!["edge".to_owned()],
            further_passes: Vec::new(),
        }),
        hatch: Some(Hatch {
            spacing_mm: 0.2,
            gap_mm: 0.2,
            angle_deg: 45.0,
            rotation_per_layer_deg: 67.0,
            forbidden: Some(ForbiddenAngles { within_deg: 15.0 }),
            travel: Travel::Serpentine,
            pattern: Pattern::Stripes { width_mm: 10.0, overlap_mm: 0.1 },
            min_length_mm: 0.3,
            every_nth_layer: 1,
            exposures: vec!["fill".to_owned(), "edge".to_owned()],
            further_passes: Vec::new(),
        }),
    }
}

fn recipe() -> Recipe {
    Recipe {
        version: Recipe::VERSION,
        name: "test".to_owned(),
        notes: String::new(),
        layer_thickness_mm: 0.1,
        material: Material::PA12,
        shrinkage_percent: [3.2, 3.2, 0.0],
        z_growth_mm: 0.1,
        beam_offset_mm: 0.184,
        hole_offset_mm: Some(0.2),
        limits: Limits::default(),
        joins: Joins::Round { chord_tolerance_um: 5.0 },
        thin_walls: ThinWalls::Expose {
            exposure: "edge".to_owned(),
            min_length_mm: 0.5,
            min_width_mm: 0.15,
        },
        exposures: vec![exposure("fill"), exposure("edge")],
        core: strategy(),
        up_facing: None,
        down_facing: Some(FacingStrategy { layers: 2, strategy: strategy() }),
        path_order: PathOrder::default(),
        shortest_return_ms: Some(0.5),
    }
}

fn machine() -> Machine {
    Machine {
        version: Machine::VERSION,
        name: "test".to_owned(),
        notes: String::new(),
        build_space_mm: [180.0, 180.0, 250.0],
        spreading_direction_deg: 90.0,
        recoat_time_s: 12.0,
        laser: Laser { wavelength_nm: 10_600.0, max_power_w: 30.0, spot_radius_mm: 0.25 },
        scan_head: ScanHead { max_mark_speed_mm_s: 6000.0, jump_speed_mm_s: 8000.0 },
        head: Some(Head { jerk_mm_s3: Some(1e11), ..Head::TO_BEGIN_WITH }),
        times: BuildTimes { warm_up_s: 3600.0, min_layer_s: 20.0, cooling_s: 7200.0 },
        field_corrections: vec![place(0.0, 0.0), place(90.0, -90.0)],
    }
}

fn place(x_mm: f64, y_mm: f64) -> FieldCorrection {
    FieldCorrection { x_mm, y_mm, power_factor: 1.05, offset_change_mm: -0.1 }
}

fn sentences(result: Result<(), Vec<Invalid>>) -> Vec<String> {
    result.err().unwrap_or_default().iter().map(ToString::to_string).collect()
}

/// Breaks one value of a valid recipe.
#[track_caller]
fn check(spoil: impl FnOnce(&mut Recipe), sentence: &str) {
    let mut recipe = recipe();
    spoil(&mut recipe);
    assert_eq!(sentences(recipe.validate()), [sentence]);
}

fn hatch(recipe: &mut Recipe) -> &mut Hatch {
    recipe.core.hatch.as_mut().unwrap()
}

fn contours(recipe: &mut Recipe) -> &mut Contours {
    recipe.core.contours.as_mut().unwrap()
}

#[test]
fn values_in_range_pass() {
    assert_eq!(recipe().validate(), Ok(()));
    assert_eq!(machine().validate(), Ok(()));
}

#[test]
fn recipe_as_a_whole() {
    check(|r| r.version = 0, "version is 0; it must be at least 1 and at most 3");
    check(|r| r.name.clear(), r#"name is ""; it must be text that is not blank"#);
    check(|r| r.name.push('\n'), r#"name is "test\n"; it must be one line of plain text"#);
    check(
        |r| r.name = "m".repeat(1001),
        "name is 1001 characters long; it must be at most 1000 characters",
    );
    check(
        |r| r.layer_thickness_mm = 0.0,
        "layer_thickness_mm is 0; it must be at least 0.01 and at most 1",
    );
    check(
        |r| r.layer_thickness_mm = f64::NAN,
        "layer_thickness_mm is NaN; it must be at least 0.01 and at most 1",
    );
    check(
        |r| r.shrinkage_percent[1] = 100.0,
        "shrinkage_percent[1] is 100; it must be at least -10 and at most 20",
    );
    check(|r| r.z_growth_mm = -0.1, "z_growth_mm is -0.1; it must be at least 0 and at most 2");
    check(
        |r| r.joins = Joins::Round { chord_tolerance_um: 0.0 },
        "joins.chord_tolerance_um is 0; it must be at least 0.1 and at most 100",
    );
    check(
        |r| r.joins = Joins::Mitre { limit: 0.5 },
        "joins.limit is 0.5; it must be at least 1 and at most 10",
    );
}

#[test]
fn beam_offset_and_thin_walls() {
    check(
        |r| r.beam_offset_mm = f64::INFINITY,
        "beam_offset_mm is inf; it must be at least 0 and at most 2",
    );
    // One mistake, one sentence: the widest thin wall is not blamed for it.
    check(
        |r| r.beam_offset_mm = -0.1,
        "beam_offset_mm is -0.1; it must be at least 0 and at most 2",
    );
    check(
        |r| r.limits.least_wall_mm = Some(-0.1),
        "limits.least_wall_mm is -0.1; it must be at least 0 and at most 20",
    );
    check(
        |r| r.hole_offset_mm = Some(2.1),
        "hole_offset_mm is 2.1; it must be at least 0 and at most 2",
    );
    check(
        |r| r.shortest_return_ms = Some(-1.0),
        "shortest_return_ms is -1; it must be at least 0 and at most 60000",
    );
    let walls = |exposure: &str, min_length_mm, min_width_mm| ThinWalls::Expose {
        exposure: exposure.to_owned(),
        min_length_mm,
        min_width_mm,
    };
    check(
        |r| r.thin_walls = walls("rim", 0.5, 0.1),
        r#"thin_walls.exposure is "rim"; it must be one of the exposures "fill", "edge""#,
    );
    check(
        |r| r.thin_walls = walls("edge", -1.0, 0.1),
        "thin_walls.min_length_mm is -1; it must be at least 0 and at most 100",
    );
    check(
        |r| r.thin_walls = walls("edge", 0.5, 0.4),
        "thin_walls.min_width_mm is 0.4; it must be at least 0 and at most 0.368",
    );
}

#[test]
fn materials() {
    #[track_caller]
    fn check_material(spoil: impl FnOnce(&mut Material), sentence: &str) {
        check(|r| spoil(&mut r.material), &format!("material.{sentence}"));
    }
    check_material(
        |m| m.bed_temperature_c = f64::NAN,
        "bed_temperature_c is NaN; it must be at least 0 and at most 400",
    );
    check_material(
        |m| m.melting_temperature_c = 700.0,
        "melting_temperature_c is 700; it must be at least 1 and at most 500",
    );
    check_material(
        |m| m.melting_temperature_c = 170.0,
        "melting_temperature_c is 170; it must be above the bed's temperature of 170 °C",
    );
    check_material(
        |m| m.heat_capacity_j_g_k = 0.0,
        "heat_capacity_j_g_k is 0; it must be at least 0.1 and at most 10",
    );
    check_material(
        |m| m.latent_heat_j_g = -1.0,
        "latent_heat_j_g is -1; it must be at least 0 and at most 500",
    );
    check_material(
        |m| m.bed_density_g_cm3 = 0.0,
        "bed_density_g_cm3 is 0; it must be at least 0.05 and at most 10",
    );
    check_material(
        |m| m.bed_density_g_cm3 = 0.96,
        "part_density_g_cm3 is 0.95; it must be at least the bed's density of 0.96 g/cm³",
    );
    check_material(
        |m| m.part_density_g_cm3 = 950.0,
        "part_density_g_cm3 is 950; it must be at least 0.05 and at most 10",
    );
    check_material(
        |m| m.absorbed_fraction = 1.1,
        "absorbed_fraction is 1.1; it must be at least 0.01 and at most 1",
    );
}

#[test]
fn exposures() {
    check(
        |r| r.exposures[1].power_w = 0.0,
        "exposures[1].power_w is 0; it must be above 0 and at most 1000",
    );
    check(
        |r| r.exposures[0].speed_mm_s = 0.0,
        "exposures[0].speed_mm_s is 0; it must be above 0 and at most 100000",
    );
    check(
        |r| r.exposures[0].path_run_in_mm = -0.1,
        "exposures[0].path_run_in_mm is -0.1; it must be at least 0 and at most 50",
    );
    check(
        |r| r.exposures[0].path_run_out_mm = 1e10,
        "exposures[0].path_run_out_mm is 1e10; it must be at least 0 and at most 50",
    );
    check(
        |r| r.exposures.push(exposure("fill")),
        r#"exposures[2].name is "fill"; it must be different from exposures[0].name"#,
    );
    check(
        |r| r.exposures.push(exposure(" ")),
        r#"exposures[2].name is " "; it must be text that is not blank"#,
    );
    let mut none = recipe();
    none.exposures.clear();
    let problems = sentences(none.validate());
    assert_eq!(problems[1], "exposures is empty; it must be a list of at least one");
    let lost =
        r#"thin_walls.exposure is "edge"; it must be the name of an exposure, and there are none"#;
    assert_eq!(problems[0], lost);
    assert_eq!(problems.len(), 2 + 2 * 3, "every use of one is a problem of its own");
}

#[test]
fn strategies_and_contours() {
    check(
        |r| (r.core.contours, r.core.hatch) = (None, None),
        "core is without contours and hatch; it must be given at least one of the two",
    );
    check(
        |r| r.down_facing.as_mut().unwrap().layers = 0,
        "down_facing.layers is 0; it must be at least 1 and at most 100",
    );
    check(
        |r| r.down_facing.as_mut().unwrap().strategy.contours.as_mut().unwrap().count = 0,
        "down_facing.strategy.contours.count is 0; it must be at least 1 and at most 100",
    );
    check(
        |r| contours(r).spacing_mm = 0.001,
        "core.contours.spacing_mm is 0.001; it must be at least 0.01 and at most 10",
    );
    check(
        |r| contours(r).start = StartPoint::Towards(400.0),
        "core.contours.start is 400; it must be at least -360 and at most 360",
    );
    check(
        |r| contours(r).exposures.clear(),
        "core.contours.exposures is empty; it must be a list of at least one",
    );
}

#[test]
fn further_passes_of_contours() {
    let pass = |exposure: &str, deeper_by_mm| {
        let exposure = exposure.to_owned();
        vec![ContourPass { exposure, deeper_by_mm }]
    };
    let contours = |r: &mut Recipe, passes| {
        r.core.contours.as_mut().unwrap().further_passes = passes;
    };
    check(
        |r| contours(r, pass("fill", 2.5)),
        "core.contours.further_passes[0].deeper_by_mm is 2.5; it must be at least -0.184 and at most 2",
    );
    check(
        |r| contours(r, pass("full", 0.1)),
        "core.contours.further_passes[0].exposure is \"full\"; it must be one of the exposures \"fill\", \
         \"edge\"",
    );
}

#[test]
fn further_passes_of_a_hatch() {
    let pass = |exposure: &str, spacing_mm, rotated_by_deg| {
        let exposure = exposure.to_owned();
        vec![HatchPass { exposure, spacing_mm, rotated_by_deg }]
    };
    check(
        |r| hatch(r).further_passes = pass("fill", 0.0, 90.0),
        "core.hatch.further_passes[0].spacing_mm is 0; it must be at least 0.01 and at most 10",
    );
    check(
        |r| hatch(r).further_passes = pass("fill", 0.2, 361.0),
        "core.hatch.further_passes[0].rotated_by_deg is 361; it must be at least -360 and at most 360",
    );
    check(
        |r| hatch(r).further_passes = pass("full", 0.2, 90.0),
        "core.hatch.further_passes[0].exposure is \"full\"; it must be one of the exposures \"fill\", \
         \"edge\"",
    );
}

#[test]
fn hatches() {
    check(
        |r| hatch(r).spacing_mm = 0.0,
        "core.hatch.spacing_mm is 0; it must be at least 0.01 and at most 10",
    );
    check(
        |r| hatch(r).gap_mm = 11.0,
        "core.hatch.gap_mm is 11; it must be at least 0 and at most 10",
    );
    check(
        |r| hatch(r).angle_deg = 361.0,
        "core.hatch.angle_deg is 361; it must be at least -360 and at most 360",
    );
    check(
        |r| hatch(r).rotation_per_layer_deg = -400.0,
        "core.hatch.rotation_per_layer_deg is -400; it must be at least -360 and at most 360",
    );
    check(
        |r| hatch(r).forbidden = Some(ForbiddenAngles { within_deg: 90.0 }),
        "core.hatch.forbidden.within_deg is 90; it must be at least 0 and below 90",
    );
    check(
        |r| {
            hatch(r).pattern =
                Pattern::Cells { size_mm: 5.0, overlap_mm: 0.1, order: CellOrder::RowByRow };
            hatch(r).forbidden = Some(ForbiddenAngles { within_deg: 46.0 });
        },
        "core.hatch.forbidden.within_deg is 46; it must be at least 0 and at most 45 with cells: every \
         other one is hatched a quarter turn on",
    );
    check(
        |r| hatch(r).min_length_mm = -1.0,
        "core.hatch.min_length_mm is -1; it must be at least 0 and at most 100",
    );
    check(
        |r| hatch(r).every_nth_layer = 0,
        "core.hatch.every_nth_layer is 0; it must be at least 1 and at most 100",
    );
    check(
        |r| hatch(r).exposures[1] = "fil".to_owned(),
        r#"core.hatch.exposures[1] is "fil"; it must be one of the exposures "fill", "edge""#,
    );
    check(
        |r| hatch(r).pattern = Pattern::Stripes { width_mm: 0.1, overlap_mm: 0.0 },
        "core.hatch.pattern.width_mm is 0.1; it must be at least 0.5 and at most 1000",
    );
    check(
        |r| hatch(r).pattern = Pattern::Stripes { width_mm: 4.0, overlap_mm: 3.0 },
        "core.hatch.pattern.overlap_mm is 3; it must be at least 0 and at most 2",
    );
    let cells = |size_mm| Pattern::Cells { size_mm, overlap_mm: 0.0, order: CellOrder::RowByRow };
    check(
        |r| hatch(r).pattern = cells(f64::NAN),
        "core.hatch.pattern.size_mm is NaN; it must be at least 0.5 and at most 1000",
    );
}

#[test]
fn all_problems_are_told_at_once_in_the_order_of_the_fields() {
    let mut recipe = recipe();
    recipe.z_growth_mm = -1.0;
    recipe.beam_offset_mm = -1.0;
    recipe.exposures[0].power_w = f64::NAN;
    hatch(&mut recipe).spacing_mm = -1.0;
    let fields: Vec<_> = recipe.validate().unwrap_err().into_iter().map(|p| p.field).collect();
    let expected =
        ["z_growth_mm", "beam_offset_mm", "exposures[0].power_w", "core.hatch.spacing_mm"];
    assert_eq!(fields, expected);
}

/// Breaks one value of a valid machine.
#[track_caller]
fn check_machine(spoil: impl FnOnce(&mut Machine), sentence: &str) {
    let mut machine = machine();
    spoil(&mut machine);
    assert_eq!(sentences(machine.validate()), [sentence]);
}

#[test]
fn machines() {
    check_machine(|m| m.version = 7, "version is 7; it must be at least 1 and at most 3");
    check_machine(|m| m.name.clear(), r#"name is ""; it must be text that is not blank"#);
    check_machine(
        |m| m.build_space_mm[2] = 0.0,
        "build_space_mm[2] is 0; it must be at least 10 and at most 2000",
    );
    check_machine(
        |m| m.spreading_direction_deg = f64::NEG_INFINITY,
        "spreading_direction_deg is -inf; it must be at least -360 and at most 360",
    );
    check_machine(
        |m| m.recoat_time_s = -1.0,
        "recoat_time_s is -1; it must be at least 0 and at most 3600",
    );
    check_machine(
        |m| m.laser.wavelength_nm = 10.6,
        "laser.wavelength_nm is 10.6; it must be at least 100 and at most 20000",
    );
    check_machine(
        |m| m.laser.max_power_w = 0.0,
        "laser.max_power_w is 0; it must be above 0 and at most 1000",
    );
    check_machine(
        |m| m.laser.spot_radius_mm = 0.0,
        "laser.spot_radius_mm is 0; it must be at least 0.01 and at most 2",
    );
    check_machine(
        |m| m.scan_head.max_mark_speed_mm_s = -5.0,
        "scan_head.max_mark_speed_mm_s is -5; it must be above 0 and at most 100000",
    );
    check_machine(
        |m| m.scan_head.jump_speed_mm_s = 0.0,
        "scan_head.jump_speed_mm_s is 0; it must be above 0 and at most 100000",
    );
}

#[test]
fn measured_places_of_machines() {
    check_machine(
        |m| m.field_corrections[1].x_mm = 90.1,
        "field_corrections[1].x_mm is 90.1; it must be at least -90 and at most 90",
    );
    check_machine(
        |m| m.field_corrections[1].y_mm = f64::NAN,
        "field_corrections[1].y_mm is NaN; it must be at least -90 and at most 90",
    );
    check_machine(
        |m| m.field_corrections[0].power_factor = 0.4,
        "field_corrections[0].power_factor is 0.4; it must be at least 0.5 and at most 2",
    );
    check_machine(
        |m| m.field_corrections[0].offset_change_mm = 0.6,
        "field_corrections[0].offset_change_mm is 0.6; it must be at least -0.5 and at most 0.5",
    );
    check_machine(
        |m| m.field_corrections.push(place(90.0, -90.0)),
        "field_corrections[2] is at (90, -90) mm; it must be different from field_corrections[1]",
    );
    check_machine(
        |m| m.field_corrections = vec![place(0.0, 0.0); 1001],
        "field_corrections is 1001 places long; it must be a list of at most 1000",
    );
    // One mistake, one sentence: places are not blamed for a build space that cannot be.
    check_machine(
        |m| m.build_space_mm[0] = 3.0,
        "build_space_mm[0] is 3; it must be at least 10 and at most 2000",
    );
}

#[test]
fn a_recipe_must_fit_the_machine_and_its_neighbours() {
    let mut strong = recipe();
    strong.exposures[1].power_w = 31.0;
    strong.exposures[1].speed_mm_s = 6000.5;
    let expected = [
        r#"exposures[1].power_w is 31 (exposure "edge"); it must be at most 30, the most that machine "test" allows, W"#,
        r#"exposures[1].speed_mm_s is 6000.5 (exposure "edge"); it must be at most 6000, the most that machine "test" allows, mm/s"#,
    ];
    assert_eq!(sentences(strong.check_on(&machine())), expected);
    assert_eq!(recipe().check_on(&machine()), Ok(()));

    let mut narrow = recipe();
    narrow.beam_offset_mm = 0.0625;
    let mut other = machine();
    other.field_corrections[1].offset_change_mm = -0.5;
    other.field_corrections[0].offset_change_mm = -0.0625;
    let allowed = "it must be at least 0 and at most 2 with the -0.5 mm that machine \"test\" adds at (90, -90) mm";
    let expected = [("beam_offset_mm", "0.0625"), ("hole_offset_mm", "0.2")]
        .map(|(field, own)| format!("{field} is {own}; {allowed}"));
    assert_eq!(sentences(narrow.check_on(&other)), expected);

    let mut thick = recipe();
    thick.layer_thickness_mm = 0.12;
    assert_eq!(
        sentences(thick.check_beside(&recipe())),
        [r#"layer_thickness_mm is 0.12; it must be 0.1 as in recipe "test" of the same job"#]
    );
    assert_eq!(recipe().check_beside(&recipe()), Ok(()));
}

/// Calibration sheet H1: s = 0.032 gives 1/(1 − s) = 1.033057851; 120 mm come back as 120 mm.
#[test]
fn parts_are_scaled_by_one_over_one_minus_the_shrinkage() {
    let [x, y, z] = recipe().scale();
    assert!((x - 1.033_057_851).abs() < 1e-9 && (y - x).abs() < 1e-15, "{x} {y}");
    assert!((z - 1.0).abs() < 1e-15);
    assert!((120.0 * x * (1.0 - 0.032) - 120.0).abs() < 1e-12);
}

#[test]
fn energies_of_a_strategy_are_summed_over_its_exposures() {
    let recipe = recipe();
    let per_area = recipe.area_energy_j_mm2(&recipe.core).unwrap();
    assert!((per_area - 0.06).abs() < 1e-12, "{per_area}");
    let per_volume = recipe.volume_energy_j_mm3(&recipe.core).unwrap();
    assert!((per_volume - 0.6).abs() < 1e-12, "{per_volume}");
    assert_eq!(recipe.area_energy_j_mm2(&Strategy { hatch: None, ..strategy() }), None);
    assert_eq!(recipe.z_growth_layers(), 1);
}

#[test]
fn where_the_beam_is_wider_all_offsets_grow() {
    let wider = recipe().with_offsets_changed(0.02);
    assert_eq!((wider.beam_offset_mm, wider.hole_offset_mm), (0.204, Some(0.22)));
    assert_eq!(wider.with_offsets_changed(-0.02), recipe());
    let none = Recipe { hole_offset_mm: None, ..recipe() }.with_offsets_changed(-0.3);
    assert_eq!((none.beam_offset_mm, none.hole_offset_mm), (0.0, None), "never below none");
}

/// The beam offset of 0.184 mm, a second contour 0.25 mm on, a gap of 0.2 mm: by hand.
#[test]
fn hatch_keeps_its_gap_from_the_innermost_contour() {
    let mut recipe = recipe();
    let both = contours(&mut recipe).clone();
    assert_eq!(recipe.contour_depth_nm(&both, 0), Ok(184_000));
    assert_eq!(recipe.contour_depth_nm(&both, 1), Ok(434_000));
    let hatch = strategy().hatch.unwrap();
    assert_eq!(recipe.hatch_depth_nm(Some(&both), &hatch), Ok(634_000));
    assert_eq!(recipe.hatch_depth_nm(None, &hatch), Ok(384_000));
    recipe.beam_offset_mm = f64::NAN;
    assert!(recipe.hatch_depth_nm(None, &hatch).is_err());
}
