//! Opens a job and every file it names.

use crate::checks::{
    earlier_versions, energy_outside_window, growth_rounded, missing_mesh, of_mesh_file,
    outside_common_practice,
};
use crate::input_files::{self, LIMITS_VARIABLE, TextError, limit_factor, raised};
use crate::inputs::Inputs;
use base::{Cancelled, Finding, NamedPlacement, PlacementId, PlacementName, Progress, Unit};
use job::{Job, JobError, Machine, PartEntry, Recipe};
use mesh::health::turn_inside_out;
use mesh::import::{Format, ImportError, Limits, import_from};
use mesh::{HealthReport, Mesh, Topology, health};
use nesting::Solid;
use std::fs::File;
use std::io::Seek;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Why a job could not be opened. Every message ends with the file concerned.
#[derive(Debug, thiserror::Error)]
pub enum LoadError {
    /// A file could not be read.
    #[error("cannot read the {what}: {source}. Look whether the path is right; paths in a job are relative to its folder: {}", path.display())]
    Unreadable {
        /// Job, machine, recipe or mesh.
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// A job, machine or recipe is not what it should be.
    #[error("{source}: {}", path.display())]
    Invalid {
        /// The file.
        path: PathBuf,
        /// All that is wrong, with field names.
        source: JobError,
    },
    /// The mesh file's name says no format that can be read.
    #[error("the file is neither a mesh (.stl, .3mf, .obj) nor a job (.ron): {}", path.display())]
    UnknownFormat {
        /// The file.
        path: PathBuf,
    },
    /// The mesh file could not be understood.
    #[error("cannot read the mesh: {source}: {}", path.display())]
    Mesh {
        /// The file.
        path: PathBuf,
        /// What is wrong, and where.
        source: ImportError,
    },
    /// More than a stated limit.
    #[error("the {what} holds more than {limit} {of}, the limit; make do with less, or set the environment variable {LIMITS_VARIABLE} to 2 to allow twice as much of everything: {}", path.display())]
    TooLarge {
        /// Job, machine, recipe or mesh.
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// What there is too much of.
        of: &'static str,
        /// The limit.
        limit: u64,
    },
    /// The job asks for an object that the mesh file does not hold.
    #[error("no object is named {wanted:?}; the file holds {held}. Name one of these, or leave `object` out: {}", path.display())]
    NoSuchObject {
        /// The file.
        path: PathBuf,
        /// The name in the job.
        wanted: String,
        /// The names in the file.
        held: String,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// A mesh file of the job, read once however many parts and placements use it.
#[derive(Debug)]
pub struct LoadedMesh {
    /// Path as the job names it.
    pub file: String,
    object: Option<String>,
    unit: Option<Unit>,
    /// SHA-256 of the file's bytes, lower-case hexadecimal.
    pub sha256: String,
    /// The mesh, mm.
    pub mesh: Arc<Mesh>,
    /// Which triangle lies across which edge.
    pub topology: Arc<Topology>,
    /// What the health check found.
    pub health: HealthReport,
    /// What import and health check found, in sentences; places in the part's own frame.
    pub findings: Vec<Finding>,
    solid: Arc<Solid>,
}

impl LoadedMesh {
    /// The mesh as distances and proofs see it, the same for all who ask.
    pub fn solid(&self) -> Arc<Solid> {
        Arc::clone(&self.solid)
    }

    /// Stands for a mesh that cannot be had: no triangle, and a finding that stops the job.
    pub fn absent(part: &PartEntry) -> Self {
        Self {
            file: part.mesh.clone(),
            object: part.object.clone(),
            unit: part.unit,
            sha256: scan_path::sha256(""),
            mesh: Arc::default(),
            topology: Arc::new(Topology::new(&Mesh::default())),
            health: HealthReport::default(),
            findings: vec![missing_mesh(part)],
            solid: Arc::new(Solid::new(Arc::default())),
        }
    }

    /// Whether a part of a job asks for this mesh.
    pub fn serves(&self, part: &PartEntry) -> bool {
        (&self.file, &self.object, &self.unit) == (&part.mesh, &part.object, &part.unit)
    }
}

/// A recipe file of the job.
#[derive(Debug)]
pub struct LoadedRecipe {
    /// Path as the job names it.
    pub file: String,
    /// The parameters.
    pub recipe: Recipe,
}

/// A job with every file it names.
#[derive(Debug)]
pub struct Loaded {
    /// The job itself.
    pub job: Job,
    /// Its machine.
    pub machine: Machine,
    /// Its recipes; the first is the job's own.
    pub recipes: Vec<LoadedRecipe>,
    /// Its meshes, each file once.
    pub meshes: Vec<Arc<LoadedMesh>>,
    /// For each part of the job: index into `meshes` and into `recipes`.
    pub parts: Vec<(usize, usize)>,
    /// What import and health check found.
    pub findings: Vec<Finding>,
    /// The files that all this was read from, which no output replaces; none where it was put together from
    /// elsewhere.
    pub inputs: Inputs,
}

/// Reads a job file, its machine, recipes and meshes, and checks each of them.
///
/// # Errors
/// The first file that cannot be used, with all that is wrong in it.
pub fn load(job_path: &Path, progress: &Progress) -> Result<Loaded, LoadError> {
    let job = load_job_file(job_path)?;
    let folder = job_path.parent().unwrap_or(Path::new(""));
    let machine = load_machine_file(&folder.join(&job.machine))?;
    progress.add_total(job.parts.len() as u64);
    let inputs = Inputs::of_job(Some(job_path), folder, &job);
    let loaded = Loaded::assemble(
        job,
        machine,
        |file| load_recipe_file(&folder.join(file)),
        |part| {
            let mesh = load_part_mesh(folder, part, progress)?;
            progress.advance(1)?;
            Ok(Arc::new(mesh))
        },
    )?;
    Ok(Loaded { inputs, ..loaded })
}

/// Reads a job file and nothing that it names.
///
/// # Errors
/// If the file cannot be read, is no valid job, or has more parts or placements than the limits.
pub fn load_job_file(path: &Path) -> Result<Job, LoadError> {
    let job = parse("job", path, Job::from_ron)?;
    let placements: usize = job.parts.iter().map(|part| part.placements.len()).sum();
    for (of, count, most) in
        [("parts", job.parts.len(), MOST_PARTS), ("placements", placements, MOST_PLACEMENTS)]
    {
        let limit = raised(most);
        if count as u64 > limit {
            return Err(LoadError::TooLarge { what: "job", path: path.to_owned(), of, limit });
        }
    }
    Ok(job)
}

/// Most parts and placements of a job: a hundred times what a chamber of this kind holds.
const MOST_PARTS: u64 = 5_000;
const MOST_PLACEMENTS: u64 = 50_000;

/// Reads a machine file.
///
/// # Errors
/// If the file cannot be read, or is no valid machine.
pub fn load_machine_file(path: &Path) -> Result<Machine, LoadError> {
    parse("machine", path, Machine::from_ron)
}

/// Reads a recipe file.
///
/// # Errors
/// If the file cannot be read, or is no valid recipe.
pub fn load_recipe_file(path: &Path) -> Result<Recipe, LoadError> {
    parse("recipe", path, Recipe::from_ron)
}

/// Reads one mesh file; several objects stay apart.
///
/// # Errors
/// If the file cannot be read or understood.
pub fn load_mesh_file(
    path: &Path,
    unit: Option<Unit>,
    progress: &Progress,
) -> Result<mesh::import::Imported, LoadError> {
    read_mesh_file(path, unit, progress).map(|(imported, _)| imported)
}

/// The same, with the file, open still.
fn read_mesh_file(
    path: &Path,
    unit: Option<Unit>,
    progress: &Progress,
) -> Result<(mesh::import::Imported, File), LoadError> {
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or("");
    let format = Format::from_extension(extension)
        .ok_or_else(|| LoadError::UnknownFormat { path: path.to_owned() })?;
    let (mut file, length) = input_files::open(path).map_err(|error| unreadable(path, error))?;
    let limits = Limits::default().times(limit_factor());
    match import_from(&mut file, length, format, unit, &limits, progress) {
        Ok(imported) => Ok((imported, file)),
        Err(ImportError::TooLarge { what: of, limit }) => {
            Err(LoadError::TooLarge { what: "mesh", path: path.to_owned(), of, limit })
        }
        Err(ImportError::Cancelled(cancelled)) => Err(cancelled.into()),
        Err(source) => Err(LoadError::Mesh { path: path.to_owned(), source }),
    }
}

fn unreadable(path: &Path, source: std::io::Error) -> LoadError {
    LoadError::Unreadable { what: "mesh", path: path.to_owned(), source }
}

/// So many names of objects are said when another one is wanted, and so many letters of each.
const NAMES_SAID: usize = 20;
const LETTERS_SAID: usize = 80;

/// A name, cut where it is too long for a sentence.
fn clipped(name: &str) -> String {
    if name.chars().count() <= LETTERS_SAID {
        return name.to_owned();
    }
    name.chars().take(LETTERS_SAID).chain(['…']).collect()
}

/// The text of a job, machine, recipe or library.
pub(crate) fn text_of(what: &'static str, path: &Path) -> Result<String, LoadError> {
    input_files::read_text(path).map_err(|error| match error {
        TextError::Io(source) => LoadError::Unreadable { what, path: path.to_owned(), source },
        TextError::TooLong(limit) => {
            LoadError::TooLarge { what, path: path.to_owned(), of: "bytes", limit }
        }
    })
}

fn parse<T>(
    what: &'static str,
    path: &Path,
    from_ron: impl Fn(&str) -> Result<T, JobError>,
) -> Result<T, LoadError> {
    from_ron(&text_of(what, path)?)
        .map_err(|source| LoadError::Invalid { path: path.to_owned(), source })
}

/// Reads and checks the mesh that a part of a job names; `folder` is that of the job.
///
/// # Errors
/// If the file cannot be read or understood, or does not hold the object asked for.
pub fn load_part_mesh(
    folder: &Path,
    part: &PartEntry,
    progress: &Progress,
) -> Result<LoadedMesh, LoadError> {
    let path = folder.join(&part.mesh);
    let (imported, mut file) = read_mesh_file(&path, part.unit, progress)?;
    let sha256 = file.rewind().and_then(|()| scan_path::sha256_of(&mut file));
    let sha256 = sha256.map_err(|error| unreadable(&path, error))?;
    let held = imported
        .objects
        .iter()
        .map(|o| {
            if o.name.is_empty() {
                "one without a name".to_owned()
            } else {
                format!("{:?}", clipped(&o.name))
            }
        })
        .take(NAMES_SAID)
        .collect::<Vec<_>>();
    let mut objects = imported.objects;
    if let Some(wanted) = &part.object {
        objects.retain(|object| &object.name == wanted);
        if objects.is_empty() {
            let (wanted, held) = (clipped(wanted), held.join(", "));
            return Err(LoadError::NoSuchObject { path, wanted, held });
        }
    }
    let mut mesh = joined(objects.into_iter().map(|object| object.mesh));
    let mut report = health(&mesh, progress)?;
    let mut before_turning = None;
    if report.is_inside_out() {
        // Cavities show only on a mesh that is the right way round.
        turn_inside_out(&mut mesh);
        before_turning = Some(std::mem::replace(&mut report, health(&mesh, progress)?).findings);
    }
    let topology = Topology::new(&mesh);
    let mesh = Arc::new(mesh);
    let before_turning = before_turning.as_deref();
    let findings = of_mesh_file(&part.mesh, imported.findings, before_turning, &report.findings);
    Ok(LoadedMesh {
        file: part.mesh.clone(),
        object: part.object.clone(),
        unit: part.unit,
        sha256,
        solid: Arc::new(Solid::new(Arc::clone(&mesh))),
        mesh,
        topology: Arc::new(topology),
        health: report,
        findings,
    })
}

impl Loaded {
    /// Puts a job together from a machine, recipes and meshes, wherever they come from. Each
    /// recipe and each mesh is asked for once.
    ///
    /// # Errors
    /// What the two sources return, everything in a recipe that does not go together with the machine or
    /// the job's first recipe, and changes of exposures that recipe or machine do not allow.
    pub fn assemble(
        job: Job,
        machine: Machine,
        mut recipe_of: impl FnMut(&str) -> Result<Recipe, LoadError>,
        mut mesh_of: impl FnMut(&PartEntry) -> Result<Arc<LoadedMesh>, LoadError>,
    ) -> Result<Self, LoadError> {
        let mut recipes: Vec<LoadedRecipe> = Vec::new();
        let mut recipe_index = |file: &str| {
            if let Some(known) = recipes.iter().position(|r| r.file == file) {
                return Ok(known);
            }
            let recipe = recipe_of(file)?;
            let fits = recipe.check_on(&machine).and_then(|()| match recipes.first() {
                Some(first) => recipe.check_beside(&first.recipe),
                None => Ok(()),
            });
            fits.map_err(|problems| LoadError::Invalid {
                path: PathBuf::from(file),
                source: JobError::Invalid { document: "recipe", problems },
            })?;
            recipes.push(LoadedRecipe { file: file.to_owned(), recipe });
            Ok::<usize, LoadError>(recipes.len() - 1)
        };
        let mut meshes: Vec<Arc<LoadedMesh>> = Vec::new();
        let mut parts = Vec::with_capacity(job.parts.len());
        recipe_index(&job.recipe)?;
        for part in &job.parts {
            let recipe = recipe_index(part.recipe.as_ref().unwrap_or(&job.recipe))?;
            let mesh = if let Some(known) = meshes.iter().position(|mesh| mesh.serves(part)) {
                known
            } else {
                meshes.push(mesh_of(part)?);
                meshes.len() - 1
            };
            parts.push((mesh, recipe));
        }
        for (part, (_, recipe)) in parts.iter().enumerate() {
            let LoadedRecipe { file, recipe } = &recipes[*recipe];
            job.check_changes(part, recipe, &machine).map_err(|problems| LoadError::Invalid {
                path: PathBuf::from(file),
                source: JobError::Invalid { document: "job", problems },
            })?;
        }
        let mut findings = earlier_versions(&job, &machine, &recipes);
        let of_recipes = recipes.iter().map(|entry| (entry.file.as_str(), &entry.recipe));
        findings.extend(growth_rounded(of_recipes));
        for LoadedRecipe { file, recipe } in &recipes {
            let far = outside_common_practice(recipe, &machine);
            let far = energy_outside_window(recipe).into_iter().chain(far);
            findings.extend(far.map(|finding| finding.at_part(file)));
        }
        findings.extend(meshes.iter().flat_map(|mesh| mesh.findings.iter().cloned()));
        let inputs = Inputs::default();
        Ok(Self { job, machine, recipes, meshes, parts, findings, inputs })
    }

    /// A placement of the job, by number and name.
    pub fn named(&self, id: PlacementId) -> NamedPlacement {
        let unknown = || PlacementName { part: "?".to_owned(), copy: id.copy + 1, copies: 0 };
        NamedPlacement { id, name: self.job.placement_name(id).unwrap_or_else(unknown) }
    }
}

/// All meshes as one.
fn joined(mut meshes: impl Iterator<Item = Mesh>) -> Mesh {
    let mut all = meshes.next().unwrap_or_default();
    for mesh in meshes {
        #[expect(clippy::cast_possible_truncation, reason = "importers refuse 2³² vertices")]
        let offset = all.vertices.len() as u32;
        all.vertices.extend(mesh.vertices);
        all.triangles.extend(mesh.triangles.iter().map(|t| t.map(|v| v + offset)));
    }
    all
}
