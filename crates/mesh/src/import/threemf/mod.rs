//! 3MF: one part per build item, its components put together.
//!
//! Read is the core specification; of the production extension, objects in other model parts.
//! Materials, colours and metadata have no influence on shapes and are ignored. A file that
//! requires any other extension is refused. Where the core specification says MUST, a file that
//! does not is refused too, but for what does no harm: triangles that use a vertex twice, unknown
//! names of metadata.
//!
//! Transforms are applied to the meshes, so a mesh lies where the file puts it, in the frame of
//! 3MF (origin at a corner of the platform). Mirrors turn the triangles over.

mod elements;
mod model;
mod package;
mod xml;

use super::error::ImportError;
use super::limits::Limits;
use super::object::ImportedObject;
use crate::Mesh;
use base::finding::FileProblem;
use base::{Affine, Finding, Progress, Unit};
use model::{Component, Kind, Model, Object};
use package::Package;
use std::collections::{BTreeSet, HashMap};

/// Reads a 3MF file in its own unit, or in `unit` if the person says so. Returns the unit too.
pub(super) fn read(
    bytes: &[u8],
    unit: Option<Unit>,
    limits: &Limits,
    findings: &mut Vec<Finding>,
    progress: &Progress,
) -> Result<(Vec<ImportedObject>, Unit), ImportError> {
    progress.add_total(1);
    let models = Models::read(bytes, limits, progress)?;
    let stated = models.parts[0].unit;
    if let Some(used) = unit.filter(|unit| *unit != stated) {
        findings.push(Finding::new(FileProblem::UnitOverruled { stated, used }));
    }
    let objects = models.build(unit, limits, findings, progress)?;
    progress.advance(1)?;
    Ok((objects, unit.unwrap_or(stated)))
}

/// All model parts, the root first.
struct Models {
    parts: Vec<Model>,
    /// Part name in lower case → index into `parts`.
    by_path: HashMap<String, usize>,
    root_part: String,
}

/// Triangles and objects within an object, itself included, each as often as it is there. Saturates.
#[derive(Clone, Copy, Default)]
struct Size {
    triangles: u64,
    instances: u64,
}

impl Size {
    fn add(&mut self, other: Self) {
        self.triangles = self.triangles.saturating_add(other.triangles);
        self.instances = self.instances.saturating_add(other.instances);
    }
}

/// An object: index of its model, index in its model.
type Handle = (usize, usize);

impl Models {
    fn read(bytes: &[u8], limits: &Limits, progress: &Progress) -> Result<Self, ImportError> {
        let mut package = Package::open(bytes, limits)?;
        let root_part = package.root_model()?;
        package.check_relationships(&root_part)?;
        let root = model::read(package.part(&root_part)?, true, progress)?;
        let components = root.objects.iter().flat_map(|object| &object.components);
        let used = components.chain(root.items.iter().map(|item| &item.place));
        let paths: BTreeSet<String> = used
            .filter_map(|component| component.path.as_deref())
            .map(str::to_ascii_lowercase)
            .collect();
        let mut this = Self { parts: vec![root], by_path: HashMap::new(), root_part };
        for path in paths {
            package.check_relationships(&path)?;
            let model = model::read(package.part(&path)?, false, progress)?;
            this.by_path.insert(path, this.parts.len());
            this.parts.push(model);
        }
        Ok(this)
    }

    fn error(&self, problem: String) -> ImportError {
        ImportError::Model { part: self.root_part.clone(), offset: 0, problem }
    }

    fn object(&self, (model, object): Handle) -> &Object {
        &self.parts[model].objects[object]
    }

    /// The object that a component of model `from` refers to.
    fn find(&self, from: usize, component: &Component) -> Result<Handle, ImportError> {
        let model = match &component.path {
            Some(path) => self.by_path.get(&path.to_ascii_lowercase()).copied(),
            None => Some(from),
        };
        model
            .and_then(|model| Some((model, *self.parts[model].by_id.get(&component.object)?)))
            .ok_or_else(|| {
                let path = component.path.as_deref().unwrap_or(&self.root_part);
                self.error(format!("object {} does not exist in {path}", component.object))
            })
    }

    /// How large every object is with all that it is made of: bounds the work before it is done.
    fn sizes(&self) -> Result<Vec<Vec<Size>>, ImportError> {
        let mut sizes: Vec<Vec<Size>> = self.parts.iter().map(|_| Vec::new()).collect();
        // Other parts first: only the root refers to them. Within a model, objects refer back.
        for (m, model) in self.parts.iter().enumerate().rev() {
            for object in &model.objects {
                let triangles = object.mesh.triangles.len() as u64;
                let mut size = Size { triangles, instances: 1 };
                for component in &object.components {
                    let (model, object) = self.find(m, component)?;
                    size.add(sizes[model][object]);
                }
                sizes[m].push(size);
            }
        }
        Ok(sizes)
    }

    /// One mesh per build item.
    fn build(
        &self,
        unit: Option<Unit>,
        limits: &Limits,
        findings: &mut Vec<Finding>,
        progress: &Progress,
    ) -> Result<Vec<ImportedObject>, ImportError> {
        let sizes = self.sizes()?;
        let items = &self.parts[0].items;
        let mut total = Size::default();
        for item in items {
            let (model, object) = self.find(0, &item.place)?;
            total.add(sizes[model][object]);
        }
        if total.instances > limits.instances {
            let what = "objects, counting those within others each time";
            return Err(ImportError::TooLarge { what, limit: limits.instances });
        }
        if total.triangles > limits.triangles {
            return Err(ImportError::TooLarge { what: "triangles", limit: limits.triangles });
        }
        let mut objects = Vec::new();
        let mut supports = 0;
        for item in items {
            let handle = self.find(0, &item.place)?;
            let object = self.object(handle);
            match object.kind {
                Kind::Other => {
                    let problem =
                        format!("the build asks for object {}, whose type is \"other\"", object.id);
                    return Err(self.error(problem));
                }
                Kind::Support => {
                    supports += 1;
                    continue;
                }
                Kind::Surface => {
                    findings.push(Finding::new(FileProblem::SurfaceNotSolid).at_part(&object.name));
                }
                Kind::Model => {}
            }
            let mesh =
                self.assemble(handle, item.place.transform, unit, &mut supports, progress)?;
            if mesh.triangles.is_empty() {
                continue;
            }
            let item_location_mm =
                mesh.bounds().map(|(lo, hi)| std::array::from_fn(|k| 0.5 * lo[k] + 0.5 * hi[k]));
            objects.push(ImportedObject {
                name: object.name.clone(),
                part_number: item.part_number.clone().or_else(|| object.part_number.clone()),
                mesh,
                item_location_mm,
            });
        }
        self.report(supports, findings);
        Ok(objects)
    }

    /// An object with all that it is made of, moved by `place`, in mm.
    fn assemble(
        &self,
        root: Handle,
        place: Affine,
        unit: Option<Unit>,
        supports: &mut u32,
        progress: &Progress,
    ) -> Result<Mesh, ImportError> {
        let mut mesh = Mesh::default();
        // What another model part holds is in the unit of that part, unless the person said one.
        let mm = |model: usize| unit.unwrap_or(self.parts[model].unit).mm();
        let scaling = |from: usize, to: usize| Affine::scaling([mm(from) / mm(to); 3]);
        let to_mm = Affine::scaling([mm(0); 3]);
        let mut open = vec![(root, to_mm * place * scaling(root.0, 0))];
        while let Some((handle, place)) = open.pop() {
            progress.check()?;
            let object = self.object(handle);
            if object.kind == Kind::Support {
                *supports += 1;
                continue;
            }
            self.append(&mut mesh, &object.mesh, &place)?;
            for component in object.components.iter().rev() {
                let part = self.find(handle.0, component)?;
                open.push((part, place * component.transform * scaling(part.0, handle.0)));
            }
        }
        Ok(mesh)
    }

    fn append(&self, mesh: &mut Mesh, part: &Mesh, place: &Affine) -> Result<(), ImportError> {
        #[expect(clippy::cast_possible_truncation, reason = "below the limit, see `build`")]
        let offset = mesh.vertices.len() as u32;
        if mesh.vertices.len() + part.vertices.len() > u32::MAX as usize {
            return Err(ImportError::TooLarge { what: "vertices", limit: u64::from(u32::MAX) });
        }
        let from = mesh.vertices.len();
        mesh.vertices.extend(part.vertices.iter().map(|v| place.apply(*v)));
        if !mesh.vertices[from..].as_flattened().iter().all(|c| c.is_finite()) {
            return Err(self.error("a transform moves a vertex to infinity".to_owned()));
        }
        let mirrored = place.determinant() < 0.0;
        mesh.triangles.extend(part.triangles.iter().map(|triangle| {
            let [a, b, c] = triangle.map(|v| v + offset);
            if mirrored { [a, c, b] } else { [a, b, c] }
        }));
        Ok(())
    }

    fn report(&self, supports: u32, findings: &mut Vec<Finding>) {
        if supports > 0 {
            findings.push(Finding::new(FileProblem::SupportsLeftOut { count: supports }));
        }
        let ignored: BTreeSet<&String> = self.parts.iter().flat_map(|m| &m.ignored).collect();
        for namespace in ignored {
            let namespace = namespace.clone();
            findings.push(Finding::new(FileProblem::ExtensionIgnored { namespace }));
        }
    }
}
