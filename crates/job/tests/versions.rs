//! Files of earlier versions still open. Those in `version_1` and `version_2` are as the
//! programs of these versions had them.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use base::Unit;
use job::recipe::Material;
use job::{AllowedOrientations, Job, Machine, Recipe};
use std::path::Path;

fn old(name: &str) -> String {
    of_version(1, name)
}

fn of_version(version: u32, name: &str) -> String {
    let folder = format!("tests/version_{version}");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    std::fs::read_to_string(folder.join(name)).unwrap()
}

/// How often a text says something, comments aside.
fn count(text: &str, what: &str) -> usize {
    text.lines().map(|line| line.split("//").next().unwrap().matches(what).count()).sum()
}

#[test]
fn jobs_of_version_1_open() {
    let text = old("tide_gauge_kit.ron");
    let job = Job::from_ron(&text).unwrap();
    assert_eq!(job.version, 1, "so that it can be told");
    let rotations: Vec<_> = job.placements().map(|(_, placement)| placement.rotation_deg).collect();
    let rotated =
        rotations.iter().filter(|rotation| rotation.iter().any(|angle| angle.abs() > 0.0)).count();
    assert_eq!(
        (rotations.len(), rotated),
        (count(&text, "location_mm"), count(&text, "turns_deg"))
    );
    assert_eq!(rotations[..3], [[0.0; 3], [0.0, 0.0, 40.0], [0.0, 0.0, 80.0]]);

    let fleet = Job::from_ron(&old("tide_gauge_fleet.ron")).unwrap();
    let rules = |name: &str| {
        let part = fleet.parts.iter().find(|part| part.name == name).unwrap();
        part.nest.clone().unwrap()
    };
    let allowed = |name| rules(name).allowed_orientations;
    assert_eq!(allowed("shield plate"), AllowedOrientations::QuarterTurns);
    assert_eq!(allowed("float lower half"), AllowedOrientations::RotatedAboutZ);
    assert_eq!(allowed("snap clip"), AllowedOrientations::Many);
    assert_eq!((rules("cup rotor").due, rules("well cap").due), (Some(1), None));
    Job::from_ron(&old("coupon.ron")).unwrap();
}

#[test]
fn recipes_and_machines_of_version_1_open() {
    for name in ["pa11", "pa12", "pa12_fine", "pa12_glass", "tpu"] {
        let text = old(&format!("{name}.ron"));
        let recipe = Recipe::from_ron(&text).unwrap();
        let runs = recipe.exposures.iter().flat_map(|e| [e.path_run_in_mm, e.path_run_out_mm]);
        let told = count(&text, "run_in_mm") + count(&text, "run_out_mm");
        assert_eq!(runs.filter(|run| *run > 0.0).count(), told, "{name}");
        let rotation = recipe.core.hatch.unwrap().rotation_per_layer_deg;
        let turn = format!("turn_deg: {rotation},");
        assert!(rotation > 0.0 && count(&text, &turn) > 0, "{name}: {rotation}");
    }
    for name in ["bench_co2_30w.ron", "bench_diode_5w.ron"] {
        Machine::from_ron(&old(name)).unwrap();
    }
}

#[test]
fn what_was_read_from_an_old_file_is_written_in_the_new_form() {
    let job = Job::from_ron(&old("tide_gauge_fleet.ron")).unwrap();
    let text = job.to_ron();
    assert!(text.contains("version: 3") && !text.contains("turns"), "{text}");
    assert!(text.contains("allowed_orientations: Many"), "{text}");
    assert_eq!(Job::from_ron(&text), Ok(Job { version: Job::VERSION, ..job }));
    let recipe = Recipe::from_ron(&old("pa12.ron")).unwrap();
    let text = recipe.to_ron();
    assert!(text.contains("rotation_per_layer_deg: 67") && text.contains(" path_run_in_mm: 0.8"));
    assert_eq!(Recipe::from_ron(&text), Ok(Recipe { version: Recipe::VERSION, ..recipe }));
}

/// Version 3 brought the material and the radius of the beam. Numbers assumed: the recipe `pa12.ron`.
#[test]
fn what_older_files_do_not_say_is_assumed_and_told() {
    for version in [1, 2] {
        for name in ["pa11", "pa12", "pa12_fine", "pa12_glass", "tpu"] {
            let recipe = Recipe::from_ron(&of_version(version, &format!("{name}.ron"))).unwrap();
            assert_eq!((recipe.version, recipe.material), (version, Material::PA12), "{name}");
            let told = recipe.assumed().unwrap();
            let Material { bed_temperature_c, melting_temperature_c, .. } = recipe.material;
            let Material { heat_capacity_j_g_k, latent_heat_j_g, .. } = recipe.material;
            let Material { bed_density_g_cm3, part_density_g_cm3, .. } = recipe.material;
            let numbers = format!(
                "bed at {bed_temperature_c} °C, melting at {melting_temperature_c} °C, \
                 {heat_capacity_j_g_k} J/(g·K), {latent_heat_j_g} J/g, {bed_density_g_cm3} g/cm³ as \
                 powder, {part_density_g_cm3} g/cm³ as part, {} of the power",
                recipe.material.absorbed_fraction
            );
            assert!(told.contains(&numbers), "{told}");
            let today = Recipe::from_ron(&recipe.to_ron()).unwrap();
            assert_eq!((today.material, today.assumed()), (recipe.material, None));
        }
        for name in ["bench_co2_30w.ron", "bench_diode_5w.ron"] {
            let machine = Machine::from_ron(&of_version(version, name)).unwrap();
            let radius = machine.laser.spot_radius_mm;
            assert_eq!((machine.version, radius.to_bits()), (version, 0.25_f64.to_bits()));
            assert!(machine.assumed().unwrap().contains(&format!("{radius} mm (to 1/e²)")));
            assert_eq!(Machine::from_ron(&machine.to_ron()).unwrap().assumed(), None);
        }
        let job = Job::from_ron(&of_version(version, "coupon.ron")).unwrap();
        assert_eq!(job.version, version);
    }
}

#[test]
fn only_earlier_files_may_leave_new_fields_out() {
    let text = of_version(2, "bench_co2_30w.ron");
    let said = Machine::from_ron(&text.replace("version: 2", "version: 3")).unwrap_err();
    let said = said.to_string();
    assert!(
        said.starts_with("line 20, column 5 of the machine: The field `spot_radius_mm`"),
        "{said}"
    );
    let said = Recipe::from_ron(&of_version(2, "tpu.ron").replace("version: 2", "version: 3"));
    assert!(said.unwrap_err().to_string().contains("The field `material` is missing"));
    // Whoever adds the field and forgets the version is not told that something was assumed.
    let own = text.replace("laser: (", "laser: ( spot_radius_mm: 0.3,");
    let machine = Machine::from_ron(&own).unwrap();
    assert_eq!((machine.version, machine.assumed()), (Machine::VERSION, None));
    assert_eq!(machine.laser.spot_radius_mm.to_bits(), 0.3_f64.to_bits());
    // What is put in moves no place in a message.
    let said = Machine::from_ron(&text.replace("wavelength_nm: 10600", "wavelength_nm: red"));
    let said = said.unwrap_err().to_string();
    assert!(said.starts_with("line 18, column 23 of the machine: Expected float"), "{said}");
    let said = Machine::from_ron(&text.replace("wavelength_nm: 10600,", "")).unwrap_err();
    assert!(said.to_string().contains("The field `wavelength_nm` is missing"), "{said}");
}

const JOB: &str = r#"(version: 1, name: "a", machine: "m", recipe: "r", parts: [
    (name: "b", mesh: "b.stl", unit: Inch, nest: (turns: Fixed, due: 0), placements: [
        (turns_deg: (1, 2, 3), location_mm: (0, 0, 9)),
    ]),
    (name: "c", mesh: "c.stl", nest: (quantity: 1, due: 4)),
    (name: "d", mesh: "d.stl", nest: (quantity: 1)),
])"#;

/// In version 1 a due date of 0 came before one of 1; since version 2 ranks begin with 1.
#[test]
fn the_order_of_due_dates_is_kept() {
    let due = |text: &str| -> Vec<Option<u32>> {
        let job = Job::from_ron(text).unwrap();
        job.parts.iter().map(|part| part.nest.as_ref().and_then(|nest| nest.due)).collect()
    };
    assert_eq!(due(JOB), [Some(1), Some(5), None]);
    assert_eq!(due(&JOB.replace("due: 0", "due: 2")), [Some(2), Some(4), None]);
    let new = JOB.replace("1, name", "2, name").replace("turns: Fixed, ", "");
    let new = new.replace("turns_deg", "rotation_deg");
    let said = Job::from_ron(&new).unwrap_err().to_string();
    assert!(said.contains("parts[0].nest.due is 0; it must be at least 1"), "{said}");
}

#[test]
fn what_is_wrong_with_an_old_file_is_told_with_its_own_words_and_places() {
    let told = |from: &str, to: &str, sentence: &str| {
        assert!(JOB.contains(from), "{from}");
        let said = Job::from_ron(&JOB.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(said.starts_with(sentence), "{said}");
    };
    told(
        "(0, 0, 9)",
        "(0, 0, 9), colour: 3",
        "line 3, column 56 of the job: There is no field `colour` here; there are `location_mm`, \
         `rotation_deg`, `exposures`.",
    );
    told(
        "due: 0",
        "turn_deg: 0",
        "line 2, column 65 of the job: There is no field `turn_deg` here; there are `quantity`, \
         `allowed_orientations`, `locked`, `due`.",
    );
    told("(1, 2, 3)", "(1, 2, x)", "line 3, column 28 of the job: Expected float.");
    told("turns: Fixed", "turns: Never", "line 2, column 58 of the job: ");
    told("quantity: 1)),\n]", "quantity: 1))\n", "line 7, column 1 of the job: ");
    // Names of version 1 are not known in later ones.
    told(
        "version: 1",
        "version: 2",
        "line 2, column 51 of the job: There is no field `turns` here",
    );
}

/// Every spelling of a unit that a job may have; one is written.
#[test]
fn units_are_understood_by_many_names() {
    for unit in Unit::ALL {
        for name in unit.names() {
            let job = Job::from_ron(&JOB.replace("Inch", name)).unwrap();
            assert_eq!(job.parts[0].unit, Some(unit), "{name}");
            assert!(job.to_ron().contains(&format!("unit: {},", unit.name())));
        }
    }
    let said = Job::from_ron(&JOB.replace("Inch", "furlong")).unwrap_err().to_string();
    let names = "`micron`, `mm`, `cm`, `inch`, `ft`, `m`";
    assert!(said.starts_with("line 2, column 38") && said.contains("`furlong`"), "{said}");
    assert!(names.split(", ").all(|name| said.contains(name)), "{said}");
}
