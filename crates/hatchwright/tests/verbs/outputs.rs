//! No verb writes over what it works from, or into what is no plain file.

use super::{FILE, JOB, check, small_job, write};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Everything in a folder, by path.
fn content(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(content(&path));
        } else if path.is_file() {
            let bytes = fs::read(&path).unwrap();
            found.insert(path, bytes);
        }
    }
    found
}

/// A verb with its output still to be named, and what it works from: kinds and paths.
type Verb = (Vec<&'static str>, Vec<(&'static str, &'static str)>);

fn verbs() -> Vec<Verb> {
    let of_job = vec![
        ("job", JOB),
        ("machine", "assets/machines/bench_co2_30w.ron"),
        ("recipe", "demo-jobs/../assets/recipes/pa12.ron"),
        ("mesh", "./assets/parts/sensor_bracket.obj"),
    ];
    let jobs = [
        vec!["write", JOB],
        vec!["write", JOB, "--despite-stops"],
        vec!["slice", JOB],
        vec!["nest", JOB, "--time", "0"],
        vec!["gather", JOB, "--part", "bracket"],
    ];
    let mut verbs: Vec<_> = jobs.into_iter().map(|verb| (verb, of_job.clone())).collect();
    let file = ("vector file", FILE);
    verbs.push((vec!["draw", FILE, "--layer", "12"], vec![file]));
    // A picture has to be called so, and so are the files that it must not replace.
    let dose =
        vec!["dose", "demo-jobs/out/file.png", "--layer", "12", "--job", "demo-jobs/png.ron"];
    verbs.push((
        dose,
        vec![("vector file", "demo-jobs/out/file.png"), ("recipe", "demo-jobs/recipe.png")],
    ));
    verbs
}

#[test]
fn no_output_replaces_an_input() {
    let folder = small_job();
    let folder = folder.path();
    write(folder);
    fs::copy(folder.join(FILE), folder.join("demo-jobs/out/file.png")).unwrap();
    fs::copy(folder.join("assets/recipes/pa12.ron"), folder.join("demo-jobs/recipe.png")).unwrap();
    let job = fs::read_to_string(folder.join(JOB)).unwrap();
    let job = job.replace("../assets/recipes/pa12.ron", "recipe.png");
    fs::write(folder.join("demo-jobs/png.ron"), job).unwrap();
    let before = content(folder);
    for (verb, inputs) in verbs() {
        for (what, path) in inputs {
            let args = [&verb[..], &["--out", path]].concat();
            let said = [format!("this is the {what}"), "name another file".to_owned()];
            check(folder, &args, 2, &[&said[0], &said[1], path]);
        }
    }
    assert_eq!(content(folder), before);
}

#[test]
fn a_further_build_and_the_mesh_of_a_cage_replace_no_input_either() {
    let folder = small_job();
    let folder = folder.path();
    for name in ["a-2.ron", "a.ron"] {
        fs::copy(folder.join(JOB), folder.join("demo-jobs").join(name)).unwrap();
    }
    let nest = ["nest", "demo-jobs/a-2.ron", "--time", "0", "--out", "demo-jobs/a.ron"];
    check(folder, &nest, 2, &["this is the job", "a-2.ron"]);
    let mesh = folder.join("assets/parts/sensor_bracket.obj");
    fs::copy(mesh, folder.join("demo-jobs/caged.cage.obj")).unwrap();
    let job = fs::read_to_string(folder.join(JOB)).unwrap();
    let job = job.replace("../assets/parts/sensor_bracket.obj", "caged.cage.obj");
    fs::write(folder.join(JOB), job).unwrap();
    let gather = ["gather", JOB, "--part", "bracket", "--out", "demo-jobs/caged.ron"];
    check(folder, &gather, 2, &["this is the mesh", "caged.cage.obj"]);
    assert!(!folder.join("demo-jobs/caged.ron").exists());
}

#[cfg(unix)]
#[test]
fn an_output_goes_into_no_folder_link_or_device() {
    let folder = small_job();
    let folder = folder.path();
    write(folder);
    let before = content(folder);
    std::os::unix::fs::symlink(folder.join("nowhere.svg"), folder.join("link.svg")).unwrap();
    for (verb, _) in verbs().into_iter().filter(|(verb, _)| verb[0] != "dose") {
        for (path, what) in [
            ("demo-jobs/out", "a folder"),
            ("link.svg", "a link"),
            ("/dev/null", "a device or a pipe"),
        ] {
            let args = [&verb[..], &["--out", path]].concat();
            check(folder, &args, 2, &[what, "name one", path]);
        }
    }
    std::os::unix::fs::symlink(folder.join("nowhere.png"), folder.join("link.png")).unwrap();
    let dose = ["dose", FILE, "--layer", "12", "--out", "link.png"];
    check(folder, &dose, 2, &["a link", "link.png"]);
    fs::remove_file(folder.join("link.svg")).unwrap();
    fs::remove_file(folder.join("link.png")).unwrap();
    assert_eq!(content(folder), before);
}

/// A nested job goes to a file of its own, and has the comments of the one that it was made of.
#[test]
fn a_nested_job_keeps_the_comments() {
    let folder = small_job();
    let folder = folder.path();
    check(folder, &["nest", JOB, "--time", "0", "--out", "out/deep/n.ron"], 0, &["n.ron"]);
    let nested = fs::read_to_string(folder.join("out/deep/n.ron")).unwrap();
    assert!(nested.starts_with("// The smallest job"), "{nested}");
    assert!(nested.contains("../../assets/parts/sensor_bracket.obj"), "{nested}");
    assert!(nested.contains("// It stands half a millimetre"), "{nested}");
}
