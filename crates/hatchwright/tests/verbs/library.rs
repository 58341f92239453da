//! `library`: machines and recipes to pick from, compare, copy and hand on.

use super::{check, small_job};
use std::fs;

#[test]
fn a_recipe_is_copied_compared_handed_on_and_used() {
    let folder = small_job();
    let at = folder.path();
    let library = |args: &[&str], code: i32, expected: &[&str]| {
        let all = [&["library", "--library", "mine"][..], args].concat();
        check(at, &all, code, expected)
    };
    let listed = library(&["list"], 0, &["Recipes", "pa12_fine", "comes with the program"]);
    assert!(!listed.contains("yours"));
    library(&["copy", "pa12", "our powder"], 0, &["our powder.ron"]);
    library(&["list"], 0, &["our powder", "yours"]);
    library(&["compare", "pa12", "our powder"], 1, &["name: ", "\"our powder\""]);
    library(&["compare", "pa12", "assets/recipes/pa12.ron"], 0, &["No value differs"]);
    library(&["compare", "pa12", "bench_co2_30w"], 2, &["two of a kind"]);
    library(&["copy", "pa11", "our powder"], 2, &["another file of that name"]);

    library(&["export", "-o", "ours.ron"], 0, &["ours.ron", "1 in it"]);
    library(&["export", "-o", "ours.ron", "pa11"], 2, &["another file of that name"]);
    let theirs = ["library", "--library", "theirs"];
    check(at, &[&theirs[..], &["import", "ours.ron"]].concat(), 0, &["our powder.ron"]);
    let copied = fs::read_to_string(at.join("theirs/recipes/our powder.ron")).unwrap();
    assert_eq!(copied, fs::read_to_string(at.join("mine/recipes/our powder.ron")).unwrap());

    // a job may take it from there
    library(&["copy", "our powder", "./demo-jobs/ours.ron"], 0, &["ours.ron"]);
    let job = fs::read_to_string(at.join("demo-jobs/coupon.ron")).unwrap();
    let job = job.replace("../assets/recipes/pa12.ron", "ours.ron");
    fs::write(at.join("demo-jobs/with_ours.ron"), job).unwrap();
    check(at, &["write", "demo-jobs/with_ours.ron"], 0, &["marks"]);
}
