//! Every file that is shipped: it reads, fits its machine, and its energies are plausible.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use job::{Job, Machine, Recipe};
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// The RON files of a folder of the repository, sorted: path and text.
fn texts(folder: &str) -> Vec<(PathBuf, String)> {
    let mut paths: Vec<_> = fs::read_dir(root().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "ron"))
        .collect();
    paths.sort();
    assert!(!paths.is_empty(), "{folder}");
    paths.into_iter().map(|path| (path.clone(), fs::read_to_string(path).unwrap())).collect()
}

#[track_caller]
fn recipe(path: &Path) -> Recipe {
    match Recipe::from_ron(&fs::read_to_string(path).unwrap()) {
        Ok(recipe) => recipe,
        Err(error) => panic!("{}: {error}", path.display()),
    }
}

#[test]
fn machines_read_and_come_back() {
    for (path, text) in texts("assets/machines") {
        let machine =
            Machine::from_ron(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        assert_eq!(Machine::from_ron(&machine.to_ron()), Ok(machine));
    }
}

#[test]
fn recipes_read_come_back_and_fit_the_bench_machine() {
    let machine = root().join("assets/machines/bench_co2_30w.ron");
    let machine = Machine::from_ron(&fs::read_to_string(machine).unwrap()).unwrap();
    let recipes = texts("assets/recipes");
    assert_eq!(recipes.len(), 5);
    for (path, _) in recipes {
        let recipe = recipe(&path);
        assert_eq!(Recipe::from_ron(&recipe.to_ron()).as_ref(), Ok(&recipe));
        assert_eq!(recipe.check_on(&machine), Ok(()), "{}", path.display());
    }
}

/// Magnitudes, all from memory: polyamide 12 is studied from 0.01 to 0.03 J/mm² (Caulfield et al.
/// 2007) and dense from 0.2 to 0.4 J/mm³ (Wegner and Witt 2012); polyurethane from 0.01 to
/// 0.06 J/mm². Franco et al. 2010 found the order of 0.2 J/mm³ best for polyamide.
#[test]
fn energies_of_the_recipes_have_published_magnitudes() {
    for (path, _) in texts("assets/recipes") {
        let recipe = recipe(&path);
        let per_area = recipe.area_energy_j_mm2(&recipe.core).unwrap();
        let per_volume = recipe.volume_energy_j_mm3(&recipe.core).unwrap();
        assert!((0.01..=0.0305).contains(&per_area), "{}: {per_area}", path.display());
        assert!((0.2..=0.4).contains(&per_volume), "{}: {per_volume}", path.display());
        if let Some(facing) = &recipe.down_facing {
            let below = recipe.area_energy_j_mm2(&facing.strategy).unwrap();
            assert!((0.01..per_area).contains(&below), "{}: {below}", path.display());
        }
        if let Some(facing) = &recipe.up_facing {
            let above = recipe.area_energy_j_mm2(&facing.strategy).unwrap();
            assert!((0.01..=0.04).contains(&above), "{}: {above}", path.display());
        }
    }
}

/// Every number says where it comes from, on its own line, by one of these marks.
#[test]
fn every_number_of_a_recipe_or_machine_states_its_source() {
    const MARKS: [&str; 9] = [
        "from memory",
        "common practice, no source",
        "computed",
        "reference", // a set of round numbers, explained at the top of pa12.ron
        "invented",
        "trade press",
        "as in",
        "as for",
        "Materials 2023", // a paper, named in full where it is used
    ];
    /// What counts layers of text or of powder, and is no setting of the process.
    const COUNTS: [&str; 2] = ["version:", "every_nth_layer: 1,"];
    let mut numbers = 0;
    for (path, text) in texts("assets/recipes").into_iter().chain(texts("assets/machines")) {
        for (i, line) in text.lines().enumerate() {
            let (code, comment) = code_and_comment(line);
            if COUNTS.iter().any(|count| code.trim().starts_with(count)) || !has_number(&code) {
                continue;
            }
            numbers += 1;
            let is_marked = MARKS.iter().any(|mark| comment.contains(mark));
            assert!(is_marked, "{}:{}: {line}", path.display(), i + 1);
        }
    }
    assert!(numbers > 150, "{numbers}: numbers are not found any more");
}

/// The parts of a line before and after `//`; text in quotes is left out of the first.
fn code_and_comment(line: &str) -> (String, &str) {
    let (mut code, mut quoted) = (String::new(), false);
    for (at, c) in line.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '/' if !quoted && line[at..].starts_with("//") => return (code, &line[at..]),
            _ if !quoted => code.push(c),
            _ => {}
        }
    }
    (code, "")
}

/// Whether there is a digit that belongs to no name.
fn has_number(code: &str) -> bool {
    let mut words = code.split(|c: char| !(c.is_alphanumeric() || c == '_'));
    words.any(|word| word.starts_with(|c: char| c.is_ascii_digit()))
}

#[test]
fn numbers_are_told_from_names_and_text() {
    let found = |line| has_number(&code_and_comment(line).0);
    assert!(found("power_w: 3, // W") && found("size: (.5)") && found("a: \"1\", b: 2"));
    assert!(!found("density_g_cm3: x, // 3") && !found("name: \"PA12, 0.1 mm\","));
    assert_eq!(code_and_comment("a: \"//\", 1 // as for b").1, "// as for b");
}

/// All that a job names is there, fits the machine, and goes together; every part has a mesh.
#[test]
fn demo_jobs_read_and_all_their_files_exist() {
    for (path, text) in texts("demo-jobs") {
        let job = Job::from_ron(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        assert_eq!(Job::from_ron(&job.to_ron()).as_ref(), Ok(&job));
        let folder = path.parent().unwrap();
        let machine = fs::read_to_string(folder.join(&job.machine)).unwrap();
        let machine = Machine::from_ron(&machine).unwrap();
        let main = recipe(&folder.join(&job.recipe));
        assert_eq!(main.check_on(&machine), Ok(()));
        for part in &job.parts {
            assert!(folder.join(&part.mesh).is_file(), "{}: {}", path.display(), part.mesh);
            if let Some(own) = &part.recipe {
                let own = recipe(&folder.join(own));
                assert_eq!(own.check_beside(&main), Ok(()));
                assert_eq!(own.check_on(&machine), Ok(()));
            }
        }
    }
}
