//! A job saved with what it names, so that nothing else changes: a machine or recipe that other jobs may
//! share is never written over. What the person changed of it goes into a file of the job's own beside it, and
//! the job then names that.

use crate::state::content::{Content, Moved};
use crate::state::first;
use crate::work::own_files::{OwnFiles, folder_of, is_called_after};
use crate::work::saved::{SavedJob, SavedRecipe};
use crate::work::tasks::{Context, Outcome};
use job::{Job, Recipe, TextFile};
use pipeline::{Inputs, OutputError, is_same_file, write_over};
use std::path::{Path, PathBuf};

/// Why a job was not saved.
#[derive(Debug, thiserror::Error)]
enum SaveError {
    #[error(transparent)]
    Output(#[from] OutputError),
    #[error(
        "the job has different recipes under {0:?} and {1:?}, which are one file; save a copy of one of them \
         under another name first"
    )]
    TwoRecipes(String, String),
}

impl From<pipeline::PathError> for SaveError {
    fn from(error: pipeline::PathError) -> Self {
        Self::Output(error.into())
    }
}

/// Writes the job, and of its machine and recipes what was changed.
pub(crate) fn save(mut job: SavedJob, context: &Context) {
    context.send(match save_files(&mut job) {
        Ok(()) => Outcome::Saved(Box::new(job)),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    });
}

/// What is written has the newest form from then on, in the content too.
fn save_files(saved: &mut SavedJob) -> Result<(), SaveError> {
    let (path, folder) = (saved.path.clone(), folder_of(&saved.path).to_owned());
    Inputs::of_job(None, &folder, &saved.content.job).check(&path)?;
    refuse_two_recipes(&saved.content, &folder)?;
    let own = OwnFiles::of(&path);

    let file = saved.content.job.machine.clone();
    let mut machine = saved.content.machine.clone();
    // what was saved last is in a file only if the job named that file then
    let before = saved.before.as_ref().filter(|before| before.job.machine == file);
    let before = before.map(|before| before.machine.clone());
    if let Some(new) = save_named(saved, &own, &file, &mut machine, before.as_ref())? {
        saved.content.machine = machine;
        saved.moved.machine = (new != file).then_some([file, new]);
    }
    let used: Vec<String> = saved.content.used_recipes().into_iter().cloned().collect();
    for file in used {
        let Some(mut recipe) = saved.content.recipes.get(&file).cloned() else { continue };
        let before = saved.before.as_ref().filter(|b| b.used_recipes().contains(&file));
        let before = before.and_then(|before| before.recipes.get(&file).cloned());
        if let Some(new) = save_named(saved, &own, &file, &mut recipe, before.as_ref())? {
            saved.content.recipes.insert(file.clone(), recipe);
            if new != file {
                saved.moved.recipes.push([file, new]);
            }
        }
    }
    // The folder is what it is by now; only names are new.
    let here = [folder.clone(), folder.clone()];
    Moved { folders: here, ..saved.moved.clone() }.apply_to(&mut saved.content);

    let is_elsewhere = saved.earlier.as_ref().is_some_and(|earlier| !is_same_file(earlier, &path));
    let like = saved.earlier.as_ref().filter(|_| is_elsewhere);
    let like = like.and_then(|earlier| std::fs::read_to_string(earlier).ok());
    let known = saved.before.as_ref().filter(|_| !is_elsewhere).map(|before| &before.job);
    let kept = write_over(&saved.content.job, known, like.as_deref(), &path)?;
    saved.content.job.version = Job::VERSION;
    saved.kept.extend(kept);
    saved.written.push(path);
    Ok(())
}

/// One file cannot hold two recipes.
fn refuse_two_recipes(content: &Content, folder: &Path) -> Result<(), SaveError> {
    let used: Vec<(&String, &Recipe)> =
        content.recipes.iter().filter(|(file, _)| content.used_recipes().contains(file)).collect();
    for (i, (a, one)) in used.iter().enumerate() {
        for (b, other) in &used[i + 1..] {
            if one != other && is_same_file(&folder.join(a), &folder.join(b)) {
                return Err(SaveError::TwoRecipes((*a).clone(), (*b).clone()));
            }
        }
    }
    Ok(())
}

/// Saves a machine or recipe if its file does not hold it; returns what the job is to call it then.
fn save_named<T: TextFile>(
    saved: &mut SavedJob,
    own: &OwnFiles,
    file: &str,
    value: &mut T,
    before: Option<&T>,
) -> Result<Option<String>, OutputError> {
    let folder = folder_of(&saved.path).to_owned();
    let there = folder.join(file);
    let name = Path::new(file).file_name().unwrap_or_default().to_string_lossy().into_owned();
    let first = [(first::MACHINE_NAME, first::MACHINE), (first::RECIPE_NAME, first::RECIPE)];
    let first = first.iter().find(|(of_new, _)| *of_new == name).map(|(_, text)| *text);
    // A job that is saved elsewhere takes its own files along, or the two would share them.
    let is_of_earlier = saved.earlier.as_ref().is_some_and(|earlier| {
        !is_same_file(earlier, &saved.path)
            && is_called_after(earlier, T::KIND, &name)
            && is_same_file(&folder_of(earlier).join(&name), &there)
    });
    let text = std::fs::read_to_string(&there).ok();
    let is_held = match (&text, before) {
        (None, _) => false,
        (Some(_), Some(before)) if before == value => true,
        (Some(text), _) => T::from_ron(text).ok().as_ref() == Some(value),
    };
    if is_held && !is_of_earlier && first.is_none() {
        return Ok(None);
    }
    let (new, kept) = if first.is_none() && own.holds(T::KIND, file) {
        (file.to_owned(), write_over(value, before, None, &there)?)
    } else {
        let is_taken = |name: &str| saved.content.recipes.contains_key(name);
        let new = own.free_name(T::KIND, is_taken);
        let text = first.map(str::to_owned).or(text).unwrap_or_default();
        let text = belonging_to(&saved.path, T::KIND, &value.to_ron_over(&text));
        (new.clone(), write_over(value, None, Some(&text), &folder.join(new))?)
    };
    value.renew();
    saved.kept.extend(kept);
    saved.written.push(folder.join(&new));
    Ok(Some(new))
}

/// How the first line of a job's own file ends.
const OWN: &str = " alone: saving that job may change it.";

/// A text with a first line that says whose it is.
fn belonging_to(job: &Path, what: &str, text: &str) -> String {
    let job = job.file_name().unwrap_or_default().to_string_lossy();
    format!("// A {what} of {job}{OWN}\n{}", of_nobody(text))
}

/// A text without that line, which it has if it is a copy of a job's own file.
fn of_nobody(text: &str) -> &str {
    let end = text.find('\n').map_or(text.len(), |end| end + 1);
    let is_told = text[..end].starts_with("// A ") && text[..end].contains(OWN);
    if is_told { &text[end..] } else { text }
}

/// Saves a copy of a recipe with the comments of `original`; never over one of the `inputs`. What was there is
/// kept.
pub(crate) fn save_recipe(copy: SavedRecipe, original: &Path, inputs: &Inputs, context: &Context) {
    let text = std::fs::read_to_string(original).unwrap_or_else(|_| first::RECIPE.to_owned());
    let saved = inputs.check(&copy.path).map_err(OutputError::from);
    let saved =
        saved.and_then(|()| write_over(&copy.recipe, None, Some(of_nobody(&text)), &copy.path));
    context.send(match saved {
        Ok(_) => Outcome::SavedRecipe(Box::new(copy)),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    });
}

/// Saves a job that nesting made, whose paths start from `folder`, with the comments of the open one. What was
/// there is kept.
pub(crate) fn save_build(
    job: &Job,
    folder: &Path,
    path: PathBuf,
    inputs: &Inputs,
    context: &Context,
) {
    let like = inputs.job_file().and_then(|file| std::fs::read_to_string(file).ok());
    let mut job = job.clone();
    pipeline::rebase_job(&mut job, folder, folder_of(&path));
    let saved = inputs.check(&path).map_err(OutputError::from);
    let saved = saved.and_then(|()| write_over(&job, None, like.as_deref(), &path));
    context.send(match saved {
        Ok(_) => Outcome::SavedBuild(path),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    });
}

#[cfg(test)]
mod tests;
