//! RON text: it comes back as it was written, and what is wrong with it is told with its place.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod generators;

use generators::job;
use job::machine::{BuildTimes, Corners, FieldCorrection, Head, Laser, Lens, ScanHead, Servo};
use job::recipe::{
    CellOrder, ContourOrder, ContourPass, Contours, Exposure, FacingStrategy, ForbiddenAngles,
    Hatch, HatchPass, Joins, Limits, Material, PathOrder, Pattern, Runs, Sequence, StartPoint,
    Strategy as Scan, ThinWalls, Travel,
};
use job::{
    Clearances, ExposureChange, Job, JobError, Machine, PartEntry, PartOrder, Placement, Recipe,
};
use proptest::prelude::*;
use std::collections::BTreeMap;

const MACHINE: &str = r#"(
    version: 3,
    name: "bench",
    build_space_mm: (180, 180, 250),
    spreading_direction_deg: 90,
    recoat_time_s: 12,
    laser: (wavelength_nm: 10600, max_power_w: 30, spot_radius_mm: 0.25),
    scan_head: (max_mark_speed_mm_s: 6000, jump_speed_mm_s: 8000),
)"#;

/// Replaces once, and makes sure that there was something to replace.
#[track_caller]
fn with(from: &str, to: &str) -> Result<Machine, JobError> {
    assert!(MACHINE.contains(from), "{from}");
    Machine::from_ron(&MACHINE.replacen(from, to, 1))
}

#[track_caller]
fn check(result: Result<Machine, JobError>, sentence: &str) {
    assert_eq!(result.unwrap_err().to_string(), sentence);
}

#[test]
fn the_example_reads_also_with_a_byte_order_mark_and_windows_line_ends() {
    let machine = Machine::from_ron(MACHINE).unwrap();
    assert_eq!(machine.name, "bench");
    assert_eq!(
        Machine::from_ron(&format!("\u{feff}{}", MACHINE.replace('\n', "\r\n"))),
        Ok(machine)
    );
}

#[test]
fn field_corrections_may_be_left_out() {
    let mut machine = Machine::from_ron(MACHINE).unwrap();
    assert_eq!(machine.field_corrections, []);
    assert!(!machine.to_ron().contains("field_corrections"));
    let end = MACHINE.rfind(')').unwrap();
    let places =
        "field_corrections: [(x_mm: 80, y_mm: -80, power_factor: 1.06, offset_change_mm: 0.02)],\n";
    let text = format!("{}{places})", &MACHINE[..end]);
    let (power_factor, offset_change_mm) = (1.06, 0.02);
    let place = FieldCorrection { x_mm: 80.0, y_mm: -80.0, power_factor, offset_change_mm };
    machine.field_corrections = vec![place];
    assert_eq!(Machine::from_ron(&text), Ok(machine));
}

#[test]
fn what_is_wrong_is_told_with_line_and_column() {
    check(
        with("recoat_time_s", "recoat_time"),
        "line 6, column 5 of the machine: There is no field `recoat_time` here; there are \
         `version`, `name`, `notes`, `build_space_mm`, `spreading_direction_deg`, \
         `recoat_time_s`, `laser`, `scan_head`, `head`, `times`, `field_corrections`. Correct the name of the field, or take \
         it out",
    );
    check(
        with("    recoat_time_s: 12,\n", ""),
        "line 8, column 1 of the machine: The field `recoat_time_s` is missing. Add the field \
         within these brackets",
    );
    check(
        with("recoat_time_s: 12,", "recoat_time_s: 12, recoat_time_s: 13,"),
        "line 6, column 24 of the machine: The field `recoat_time_s` is there twice. Keep one of \
         the two",
    );
    check(
        with("12,\n", "12\n"),
        "line 7, column 5 of the machine: Expected comma. Put a comma between fields and close \
         every bracket that was opened",
    );
    check(
        with("recoat_time_s: 12", "recoat_time_s: twelve"),
        "line 6, column 19 of the machine: Expected float. Write a number, such as 0.25",
    );
    check(
        with("\"bench\"", "bench"),
        "line 3, column 10 of the machine: Expected string. Put the text in double quotes",
    );
    check(
        with("(180, 180, 250)", "[180, 180, 250]"),
        "line 4, column 20 of the machine: Expected opening `(`. Write it in round brackets",
    );
    check(
        with("(180, 180, 250)", "(180, 180)"),
        "line 4, column 30 of the machine: Expected an array of length 3 but found 2 elements \
         instead. Write as many values as that",
    );
    check(
        with("8000),\n)", "8000),\n) more"),
        "line 9, column 2 of the machine: Non-whitespace trailing characters. Take out what \
         follows the last bracket",
    );
    check(
        with("8000),\n)", "8000)"),
        "line 8, column 65 of the machine: Expected comma. Put a comma between fields and close \
         every bracket that was opened",
    );
    check(
        Machine::from_ron(""),
        "line 1, column 1 of the machine: Expected opening `(` for struct `Machine`. Write it in \
         round brackets",
    );
}

#[test]
fn versions() {
    check(
        with("version: 3", "version: 4"),
        "the machine has version 4, but this program reads only up to version 3; use a newer \
         program, or write the machine for version 3",
    );
    // fields that only the later version knows do not hide what is the matter
    let newer = with("version: 3,", "version: 4, colour: Round(spots: [1, 2], tint: Some(3)),");
    assert_eq!(newer, with("version: 3", "version: 4"));
    check(
        with("version: 3", "version: 0"),
        "the machine cannot be used as it is: version is 0; it must be at least 1 and at most 3",
    );
    check(
        with("version: 3", "version: -2"),
        "line 2, column 15 of the machine: Integer is out of bounds. Write a whole number that is \
         not negative",
    );
    check(
        with("version: 3,", ""),
        "line 9, column 1 of the machine: The field `version` is missing. Add the field within \
         these brackets",
    );
}

#[test]
fn values_out_of_range_are_refused_on_reading_all_at_once() {
    let machine = MACHINE.replace("12,", "NaN,").replace("30,", "inf,");
    let JobError::Invalid { document, problems } = Machine::from_ron(&machine).unwrap_err() else {
        panic!("expected values out of range");
    };
    assert_eq!((document, problems.len()), ("machine", 2));
    check(
        Machine::from_ron(&machine),
        "the machine cannot be used as it is: recoat_time_s is NaN; it must be at least 0 and at \
         most 3600. laser.max_power_w is inf; it must be above 0 and at most 1000",
    );
}

#[test]
fn absurd_text_is_an_error_and_no_crash() {
    for text in ["(".repeat(100_000), "[".repeat(100_000), "/*".repeat(10_000), "\0".to_owned()] {
        assert!(Machine::from_ron(&text).is_err());
        assert!(Recipe::from_ron(&text).is_err());
        assert!(Job::from_ron(&text).is_err());
    }
}

/// What a placement changes stands beside its location, and nothing stands where nothing is changed.
#[test]
fn changes_of_exposures_are_written_with_their_placement() {
    let text = r#"(version: 3, name: "a", machine: "m", recipe: "r", parts: [
        (name: "b", mesh: "b.stl", placements: [
            (location_mm: (0, 0, 9)),
            (location_mm: (20, 0, 9), exposures: [(name: "hatch", power_w: Some(20), speed_mm_s: None)]),
        ]),
    ])"#;
    let job = Job::from_ron(text).unwrap();
    let change = ExposureChange { name: "hatch".to_owned(), power_w: Some(20.0), speed_mm_s: None };
    assert_eq!(job.parts[0].exposure_changes, BTreeMap::from([(1, vec![change])]));
    assert!(job.parts[0].changes_of(0).is_empty());
    let written = job.to_ron();
    assert_eq!(written.matches("exposures").count(), 1, "{written}");
    assert!(written.contains("power_w: 20.0,") && !written.contains("speed_mm_s"), "{written}");
    assert_eq!(Job::from_ron(&written), Ok(job));
}

#[test]
fn written_text_is_pinned() {
    let job = Job {
        version: 3,
        name: "say \"hello\"".to_owned(),
        machine: "machine.ron".to_owned(),
        recipe: "recipe.ron".to_owned(),
        clearances: Clearances::default(),
        part_order: PartOrder::default(),
        accepted: Vec::new(),
        parts: vec![PartEntry {
            name: "part".to_owned(),
            mesh: "part.stl".to_owned(),
            object: None,
            unit: Some(base::Unit::Inch),
            recipe: None,
            nest: None,
            placements: vec![Placement { location_mm: [0.0, -0.5, 1e-3], rotation_deg: [0.0; 3] }],
            exposure_changes: BTreeMap::new(),
            accepted: Vec::new(),
        }],
    };
    let text = r#"(
    version: 3,
    name: "say \"hello\"",
    machine: "machine.ron",
    recipe: "recipe.ron",
    parts: [
        (
            name: "part",
            mesh: "part.stl",
            unit: inch,
            placements: [
                (
                    location_mm: (0.0, -0.5, 0.001),
                    rotation_deg: (0.0, 0.0, 0.0),
                ),
            ],
        ),
    ],
)
"#;
    assert_eq!(job.to_ron(), text);
    assert_eq!(Job::from_ron(text), Ok(job.clone()));
    assert_eq!(Job::from_ron(&text.replace("inch", "Some(Inch)")), Ok(job));
}

/// Names and paths as people write them, with what RON must escape.
fn text() -> impl Strategy<Value = String> {
    "[a-zA-Zäß°µ0-9 \"'\\\\(){}:,/.#-]{0,20}[a-z]"
}

fn further_passes() -> impl Strategy<Value = Vec<HatchPass>> {
    let pass = (prop_oneof![Just("a"), Just("b")], 0.01..=10.0, -360.0..=360.0);
    let pass = pass.prop_map(|(exposure, spacing_mm, rotated_by_deg)| {
        let exposure = exposure.to_owned();
        HatchPass { exposure, spacing_mm, rotated_by_deg }
    });
    prop::collection::vec(pass, 0..3)
}

fn contour_passes() -> impl Strategy<Value = Vec<ContourPass>> {
    let pass = (prop_oneof![Just("a"), Just("b")], 0.0..=2.0);
    let pass = pass.prop_map(|(exposure, deeper_by_mm)| {
        let exposure = exposure.to_owned();
        ContourPass { exposure, deeper_by_mm }
    });
    prop::collection::vec(pass, 0..3)
}

fn pattern() -> impl Strategy<Value = Pattern> {
    let cell_order = prop_oneof![Just(CellOrder::RowByRow), Just(CellOrder::Scattered)];
    prop_oneof![
        Just(Pattern::Lines),
        (0.5..=1000.0, 0.0..=0.5).prop_map(|(width_mm, share)| Pattern::Stripes {
            width_mm,
            overlap_mm: width_mm * share
        }),
        (0.5..=1000.0, 0.0..=0.5, cell_order).prop_map(|(size_mm, share, order)| {
            Pattern::Cells { size_mm, overlap_mm: size_mm * share, order }
        }),
    ]
}

fn scan() -> impl Strategy<Value = Scan> {
    let start = prop_oneof![
        Just(StartPoint::Nearest),
        Just(StartPoint::SharpestCorner),
        (-360.0..=360.0).prop_map(StartPoint::Towards),
        Just(StartPoint::Spread),
    ];
    let order = prop_oneof![Just(ContourOrder::InsideOut), Just(ContourOrder::OutsideIn)];
    let uses = || prop::collection::vec(prop_oneof![Just("a"), Just("b")], 1..4);
    let owned = |names: Vec<&str>| names.into_iter().map(str::to_owned).collect();
    let contours = (1..=100_u32, 0.01..=10.0, order, start, uses(), contour_passes()).prop_map(
        move |(count, spacing_mm, order, start, uses, further_passes)| Contours {
            count,
            spacing_mm,
            order,
            start,
            exposures: owned(uses),
            further_passes,
        },
    );
    let travel = prop_oneof![Just(Travel::OneWay), Just(Travel::Serpentine)];
    let forbidden =
        prop::option::of((0.0..=45.0).prop_map(|within_deg| ForbiddenAngles { within_deg }));
    let angles = (-360.0..=360.0, -360.0..=360.0, forbidden, further_passes());
    let hatch =
        (0.01..=10.0, 0.0..=10.0, angles, travel, pattern(), 0.0..=100.0, 1..=100_u32, uses())
            .prop_map(
                move |(spacing_mm, gap_mm, angles, travel, pattern, min_length_mm, nth, uses)| {
                    Hatch {
                        spacing_mm,
                        gap_mm,
                        angle_deg: angles.0,
                        rotation_per_layer_deg: angles.1,
                        forbidden: angles.2,
                        travel,
                        pattern,
                        min_length_mm,
                        every_nth_layer: nth,
                        exposures: owned(uses),
                        further_passes: angles.3,
                    }
                },
            );
    let sequence = prop_oneof![Just(Sequence::ContoursFirst), Just(Sequence::HatchFirst)];
    (sequence, prop::option::of(contours), hatch, any::<bool>()).prop_map(
        |(sequence, contours, hatch, filled)| {
            let hatch = (filled || contours.is_none()).then_some(hatch);
            Scan { sequence, contours, hatch }
        },
    )
}

fn material() -> impl Strategy<Value = Material> {
    let temperatures = (0.0..=400.0, 0.01..=100.0);
    let heat = (0.1..=10.0, 0.0..=500.0);
    let densities = (0.05..=5.0, 1.0..=2.0);
    (temperatures, heat, densities, 0.01..=1.0).prop_map(
        |((bed, above), (heat_capacity_j_g_k, latent_heat_j_g), (powder, ratio), absorbed)| {
            Material {
                bed_temperature_c: bed,
                melting_temperature_c: bed + above,
                heat_capacity_j_g_k,
                latent_heat_j_g,
                bed_density_g_cm3: powder,
                part_density_g_cm3: powder * ratio,
                absorbed_fraction: absorbed,
            }
        },
    )
}

fn recipe() -> impl Strategy<Value = Recipe> {
    let exposure = |name: &'static str| {
        let runs = prop::sample::select(vec![Runs::Typed, Runs::Auto]);
        (f64::MIN_POSITIVE..=1000.0, 1e-9..=100_000.0, runs, 0.0..=50.0, 0.0..=50.0).prop_map(
            move |(power_w, speed_mm_s, runs, path_run_in_mm, path_run_out_mm)| {
                let name = name.to_owned();
                Exposure { name, power_w, speed_mm_s, runs, path_run_in_mm, path_run_out_mm }
            },
        )
    };
    let joins = prop_oneof![
        (0.1..=100.0).prop_map(|chord_tolerance_um| Joins::Round { chord_tolerance_um }),
        (1.0..=10.0).prop_map(|limit| Joins::Mitre { limit }),
    ];
    let walls = prop::option::of((0.0..=100.0, 0.0..=1.0));
    let facing = || {
        let facing = (1..=100_u32, scan());
        prop::option::of(facing.prop_map(|(layers, strategy)| FacingStrategy { layers, strategy }))
    };
    let shrinkage = prop::array::uniform3(-10.0..=20.0);
    let numbers = (0.01..=1.0, shrinkage, 0.0..=2.0, 0.0..=2.0, joins, walls);
    let words = (text(), any::<String>());
    let material = (material(), prop::option::of(0.0..=2.0), prop::option::of(0.0..=20.0));
    let scans = (scan(), facing(), facing(), prop::option::of(0.0..=100.0), any::<bool>());
    (words, material, numbers, (exposure("a"), exposure("b")), scans).prop_map(
        |((name, notes), (material, hole_offset_mm, least), numbers, (a, b), scans)| {
            let (layer, shrinkage, growth, offset, joins, walls) = numbers;
            Recipe {
                version: Recipe::VERSION,
                name,
                notes,
                layer_thickness_mm: layer,
                material,
                shrinkage_percent: shrinkage,
                z_growth_mm: growth,
                beam_offset_mm: offset,
                hole_offset_mm,
                joins,
                thin_walls: match walls {
                    Some((min_length_mm, share)) => ThinWalls::Expose {
                        exposure: "b".to_owned(),
                        min_length_mm,
                        min_width_mm: 2.0 * offset * share,
                    },
                    None => ThinWalls::Skip,
                },
                limits: Limits { least_opening_mm: least, ..Limits::default() },
                exposures: vec![a, b],
                core: scans.0,
                up_facing: scans.1,
                down_facing: scans.2,
                path_order: if scans.4 { PathOrder::NearestNext } else { PathOrder::ShortJumps },
                shortest_return_ms: scans.3,
            }
        },
    )
}

fn machine() -> impl Strategy<Value = Machine> {
    let space = prop::array::uniform3(10.0..=2000.0);
    let laser = (100.0..=20_000.0, 1e-6..=1000.0, 0.01..=2.0);
    let head = (1e-6..=100_000.0, 1e-6..=100_000.0);
    let spreading = (-360.0..=360.0, 0.0..=3600.0);
    let more = (field_corrections(), (prop::option::of(dynamics()), build_times()));
    (text(), any::<String>(), space, spreading, laser, head, more).prop_map(
        |(
            name,
            notes,
            build_space_mm,
            (direction, recoat_time_s),
            laser,
            head,
            (places, dynamics),
        )| Machine {
            version: Machine::VERSION,
            name,
            notes,
            build_space_mm,
            spreading_direction_deg: direction,
            recoat_time_s,
            laser: Laser { wavelength_nm: laser.0, max_power_w: laser.1, spot_radius_mm: laser.2 },
            scan_head: ScanHead { max_mark_speed_mm_s: head.0, jump_speed_mm_s: head.1 },
            head: dynamics.0,
            times: dynamics.1,
            field_corrections: places,
        },
    )
}

fn dynamics() -> impl Strategy<Value = Head> {
    let servo = prop_oneof![
        Just(Servo::FirstOrder),
        (0.05..=5.0).prop_map(|damping| Servo::SecondOrder { damping }),
    ];
    let corners = prop_oneof![
        Just(Corners::SlowDown),
        Just(Corners::RunPast),
        (0.0..=1e5).prop_map(|wait_us| Corners::Dwell { wait_us }),
    ];
    let optional = (prop::option::of(1e6..=1e15), prop::option::of(1e6..=1e9));
    let times = prop::array::uniform5(0.0..=1e5);
    let geometry =
        (10.0..=5000.0, 0.0..=500.0, prop::array::uniform2(10.0..=2000.0), any::<bool>());
    let commands = (100.0..=1e7, 8..=32_u32, 0.1..=1000.0);
    (prop::array::uniform2(1e3..=1e10), optional, times, servo, corners, geometry, commands)
        .prop_map(|(acceleration_mm_s2, optional, times, servo, corners, geometry, commands)| {
            Head {
                acceleration_mm_s2,
                jerk_mm_s3: optional.0,
                settle_us: times[0],
                lag_us: times[1],
                servo,
                laser_on_delay_us: times[2],
                laser_off_delay_us: times[3],
                shortest_mark_us: times[4],
                longest_mark_us: optional.1,
                corners,
                corner_tolerance_um: commands.2,
                command_rate_hz: commands.0,
                command_bits: commands.1,
                distance_mm: geometry.0,
                mirror_separation_mm: geometry.1,
                lens: if geometry.3 { Lens::FlatField } else { Lens::None },
                field_size_mm: geometry.2,
            }
        })
}

fn build_times() -> impl Strategy<Value = BuildTimes> {
    (0.0..=86_400.0, 0.0..=3600.0, 0.0..=604_800.0).prop_map(
        |(warm_up_s, min_layer_s, cooling_s)| BuildTimes { warm_up_s, min_layer_s, cooling_s },
    )
}

/// Places within the smallest build space; the chance that two are at one spot is nil.
fn field_corrections() -> impl Strategy<Value = Vec<FieldCorrection>> {
    let place = (-5.0..=5.0, -5.0..=5.0, 0.5..=2.0, -0.5..=0.5);
    let place = place.prop_map(|(x_mm, y_mm, power_factor, offset_change_mm)| FieldCorrection {
        x_mm,
        y_mm,
        power_factor,
        offset_change_mm,
    });
    prop::collection::vec(place, 0..4)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn recipes_come_back_to_the_last_bit(recipe in recipe()) {
        let text = recipe.to_ron();
        let back = Recipe::from_ron(&text);
        prop_assert_eq!(back.as_ref(), Ok(&recipe), "{}", text);
        prop_assert_eq!(back.map(|back| back.to_ron()), Ok(text));
    }

    #[test]
    fn machines_come_back_to_the_last_bit(machine in machine()) {
        prop_assert_eq!(Machine::from_ron(&machine.to_ron()), Ok(machine));
    }

    #[test]
    fn jobs_come_back_to_the_last_bit(job in job()) {
        prop_assert_eq!(Job::from_ron(&job.to_ron()), Ok(job));
    }

    /// A byte changed anywhere gives a value or an error with a place inside the text, no crash.
    #[test]
    fn damaged_text_never_crashes(at in 0..MACHINE.len(), byte in 0..128_u8) {
        let mut bytes = MACHINE.as_bytes().to_vec();
        bytes[at] = byte;
        let text = String::from_utf8(bytes).unwrap();
        if let Err(JobError::Text { line, column, .. }) = Machine::from_ron(&text) {
            prop_assert!((1..=text.lines().count() + 1).contains(&line) && column > 0);
        }
    }
}

#[test]
fn another_kind_of_file_is_named_as_what_it_is() {
    let said = Job::from_ron(MACHINE).unwrap_err().to_string();
    assert_eq!(said, "this is a machine, but a job is wanted here; name the file of a job");
    let said = Recipe::from_ron(MACHINE).unwrap_err().to_string();
    assert_eq!(said, "this is a machine, but a recipe is wanted here; name the file of a recipe");
    // What is neither is told by its first odd place, as before.
    let text = MACHINE.replace("name: \"bench\",", "");
    assert!(matches!(Job::from_ron(&text), Err(JobError::Text { .. })));
}
