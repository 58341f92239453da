//! Saves of jobs that share files; looks at what lies on the disk afterwards.

use super::*;
use job::Machine;
use std::collections::BTreeMap;
use std::fs;

const OFFSET: &str = "    beam_offset_mm: 0.2, // computed;";

struct Folder(tempfile::TempDir);

impl Folder {
    /// A machine and a recipe in `shared`, with their comments.
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("shared")).unwrap();
        fs::create_dir(folder.path().join("jobs")).unwrap();
        let folder = Self(folder);
        fs::write(folder.at("shared/m.ron"), first::MACHINE).unwrap();
        fs::write(folder.at("shared/r.ron"), first::RECIPE).unwrap();
        folder
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn held(&self, name: &str) -> String {
        fs::read_to_string(self.at(name)).unwrap()
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let entries = fs::read_dir(self.at(folder)).unwrap().flatten();
        let mut names: Vec<String> =
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// A job in `jobs`, not saved yet, that names the shared files.
    fn job(&self, name: &str) -> SavedJob {
        let mut content = first::content().unwrap();
        let recipe = content.recipes.pop_first().unwrap().1;
        content.recipes.insert("../shared/r.ron".to_owned(), recipe);
        content.job.machine = "../shared/m.ron".to_owned();
        content.job.recipe = "../shared/r.ron".to_owned();
        self.to_save(name, content)
    }

    fn to_save(&self, name: &str, mut content: Content) -> SavedJob {
        // A job file without parts cannot be read again.
        let coupon = include_str!("../../../../../demo-jobs/coupon.ron");
        content.job.parts = Job::from_ron(coupon).unwrap().parts;
        SavedJob {
            document: 1,
            path: self.at(&format!("jobs/{name}.ron")),
            earlier: None,
            content,
            before: None,
            moved: Moved::default(),
            written: Vec::new(),
            kept: Vec::new(),
        }
    }
}

/// The same job, to be saved again, perhaps elsewhere.
fn again(saved: SavedJob, path: PathBuf) -> SavedJob {
    let before = Some(saved.content.clone());
    let (moved, written, kept) = Default::default();
    SavedJob { earlier: Some(saved.path.clone()), path, before, moved, written, kept, ..saved }
}

fn same(saved: SavedJob) -> SavedJob {
    let path = saved.path.clone();
    again(saved, path)
}

fn set_offset(saved: &mut SavedJob, to: f64) {
    let file = saved.content.job.recipe.clone();
    saved.content.recipes.get_mut(&file).unwrap().beam_offset_mm = to;
}

#[test]
fn a_changed_recipe_goes_into_a_file_of_the_jobs_own() {
    let folder = Folder::new();
    let mut plate = folder.job("plate");
    save_files(&mut plate).unwrap();
    assert_eq!(folder.names("jobs"), ["plate.ron"], "nothing was changed");
    assert!(plate.moved.recipes.is_empty() && plate.moved.machine.is_none());

    let mut plate = same(plate);
    set_offset(&mut plate, 0.2);
    save_files(&mut plate).unwrap();
    assert_eq!(folder.names("jobs"), ["plate.recipe.ron", "plate.ron"]);
    assert_eq!(folder.held("shared/r.ron"), first::RECIPE);
    assert_eq!(plate.content.job.recipe, "plate.recipe.ron");
    let own = folder.held("jobs/plate.recipe.ron");
    assert!(own.starts_with("// A recipe of plate.ron alone") && own.contains(OFFSET), "{own}");
    assert!(!job::loses_comments(first::RECIPE, &own));
    assert_eq!(Recipe::from_ron(&own).unwrap(), plate.content.recipes["plate.recipe.ron"]);
    assert_eq!(plate.written, [folder.at("jobs/plate.recipe.ron"), folder.at("jobs/plate.ron")]);

    // From then on it is written in place, and no copy is needed.
    let mut plate = same(plate);
    set_offset(&mut plate, 0.21);
    save_files(&mut plate).unwrap();
    assert_eq!(folder.names("jobs"), ["plate.recipe.ron", "plate.ron"]);
    assert!(folder.held("jobs/plate.recipe.ron").contains("beam_offset_mm: 0.21, // computed;"));
    assert_eq!(folder.names("shared"), ["m.ron", "r.ron"]);
}

#[test]
fn a_job_saved_elsewhere_takes_its_own_files_along() {
    let folder = Folder::new();
    let mut plate = folder.job("plate");
    set_offset(&mut plate, 0.2);
    plate.content.machine.recoat_time_s = 7.0;
    save_files(&mut plate).unwrap();
    let earlier = folder.held("jobs/plate.recipe.ron");
    let lid = folder.at("jobs/lid.ron");
    let mut lid = again(plate, lid);
    set_offset(&mut lid, 0.3);
    save_files(&mut lid).unwrap();
    let expected = [
        "lid.machine.ron",
        "lid.recipe.ron",
        "lid.ron",
        "plate.machine.ron",
        "plate.recipe.ron",
        "plate.ron",
    ];
    assert_eq!(folder.names("jobs"), expected);
    assert_eq!(folder.held("jobs/plate.recipe.ron"), earlier);
    let own = folder.held("jobs/lid.recipe.ron");
    assert!(own.starts_with("// A recipe of lid.ron alone") && !own.contains("plate.ron"), "{own}");
}

/// Another job in the folder may have been made of this one, and name its recipe.
#[test]
fn what_a_neighbour_names_is_no_longer_the_jobs_own() {
    let folder = Folder::new();
    let mut plate = folder.job("plate");
    set_offset(&mut plate, 0.2);
    save_files(&mut plate).unwrap();
    let earlier = folder.held("jobs/plate.recipe.ron");
    fs::copy(folder.at("jobs/plate.ron"), folder.at("jobs/plate-2.ron")).unwrap();
    let mut plate = same(plate);
    set_offset(&mut plate, 0.3);
    save_files(&mut plate).unwrap();
    assert_eq!(plate.content.job.recipe, "plate.recipe-2.ron");
    assert_eq!(folder.held("jobs/plate.recipe.ron"), earlier);
}

#[test]
fn new_jobs_get_files_of_their_own_and_do_not_touch_each_other() {
    let folder = Folder::new();
    let mut first_job = folder.to_save("new_job", first::content().unwrap());
    save_files(&mut first_job).unwrap();
    let expected = ["new_job.machine.ron", "new_job.recipe.ron", "new_job.ron"];
    assert_eq!(folder.names("jobs"), expected);
    let recipe = folder.held("jobs/new_job.recipe.ron");
    assert!(!job::loses_comments(first::RECIPE, &recipe));
    let mut second = folder.to_save("second", first::content().unwrap());
    second.content.recipes.get_mut(first::RECIPE_NAME).unwrap().beam_offset_mm = 0.3;
    save_files(&mut second).unwrap();
    assert_eq!(folder.held("jobs/new_job.recipe.ron"), recipe);
    let read = |name: &str| Job::from_ron(&folder.held(name)).unwrap().recipe;
    assert_eq!(read("jobs/new_job.ron"), "new_job.recipe.ron");
    assert_eq!(read("jobs/second.ron"), "second.recipe.ron");
    // A third one over the first: what that was is kept, and so are its files.
    let mut third = folder.to_save("new_job", first::content().unwrap());
    third.content.job.name = "third".to_owned();
    save_files(&mut third).unwrap();
    assert_eq!(third.kept, [folder.at("jobs/new_job.ron.old")]);
    assert_eq!(third.content.job.recipe, "new_job.recipe-2.ron");
}

#[test]
fn two_recipes_in_one_file_and_a_save_over_an_input_are_refused() {
    let folder = Folder::new();
    let mut plate = folder.job("plate");
    let mut other = plate.content.recipes["../shared/r.ron"].clone();
    other.beam_offset_mm = 0.3;
    plate.content.recipes.insert("../shared/../shared/r.ron".to_owned(), other);
    plate.content.job.parts[0].recipe = Some("../shared/../shared/r.ron".to_owned());
    let said = save_files(&mut plate).unwrap_err().to_string();
    assert!(said.contains("different recipes under") && said.contains("another name"), "{said}");
    let mut over = folder.job("plate");
    over.path = folder.at("shared/r.ron");
    over.content.job.recipe = "r.ron".to_owned();
    over.content.job.machine = "m.ron".to_owned();
    let said = save_files(&mut over).unwrap_err().to_string();
    assert!(said.contains("this is the recipe"), "{said}");
    assert_eq!(folder.names("jobs"), [""; 0]);
    assert_eq!(folder.held("shared/r.ron"), first::RECIPE);
}

#[test]
fn what_is_written_has_the_newest_form_and_what_is_not_keeps_its_own() {
    let folder = Folder::new();
    let mut plate = folder.job("plate");
    let old = "../shared/r.ron".to_owned();
    plate.content.job.version = 1;
    plate.content.machine.version = 1;
    plate.content.recipes.get_mut(&old).unwrap().version = 1;
    plate.before = Some(plate.content.clone());
    set_offset(&mut plate, 0.2);
    save_files(&mut plate).unwrap();
    let own: &BTreeMap<String, Recipe> = &plate.content.recipes;
    assert_eq!(own["plate.recipe.ron"].version, Recipe::VERSION);
    assert_eq!((plate.content.job.version, plate.content.machine.version), (Job::VERSION, 1));
    assert!(Machine::from_ron(&folder.held("shared/m.ron")).is_ok());
}
