//! One model part of a 3MF file: objects and build items, checked against the core specification. What
//! single elements say is read by [`super::elements`].

use super::super::error::ImportError;
use super::super::weld::{BATCH, Welder};
use super::xml::{self, Source};
use crate::Mesh;
use base::{Affine, Progress, Unit};
use quick_xml::events::{BytesStart, Event};
use std::collections::{BTreeSet, HashMap, HashSet};
use std::io::BufRead;

const CORE: &str = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02";
pub(super) const PRODUCTION: &str =
    "http://schemas.microsoft.com/3dmanufacturing/production/2015/06";
pub(super) const SLICES: &str = "http://schemas.microsoft.com/3dmanufacturing/slice/2015/07";
const COMPATIBILITY: &str = "http://schemas.openxmlformats.org/markup-compatibility/2006";
/// Every extension of the consortium lives below this.
const EXTENSIONS: &str = "http://schemas.microsoft.com/3dmanufacturing/";

/// Extensions that a file may require. Of production, parts in other model parts are read;
/// materials and colours, and names for sets of triangles, do not change a shape.
const SUPPORTED: [&str; 3] = [
    PRODUCTION,
    "http://schemas.microsoft.com/3dmanufacturing/material/2015/02",
    "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07",
];

/// Events between two looks at the progress handle.
const STEP: u32 = 1 << 14;

/// What a model part holds.
#[derive(Default)]
pub(super) struct Model {
    pub(super) unit: Unit,
    pub(super) objects: Vec<Object>,
    /// Object id → index into `objects`.
    pub(super) by_id: HashMap<u32, usize>,
    pub(super) items: Vec<Item>,
    /// Namespaces of content inside of objects that was left out.
    pub(super) ignored: BTreeSet<String>,
}

/// What an object is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Model,
    Surface,
    Support,
    Other,
}

/// A mesh, or an assembly of other objects.
pub(super) struct Object {
    pub(super) id: u32,
    pub(super) kind: Kind,
    pub(super) name: String,
    pub(super) part_number: Option<String>,
    /// In the unit of the model.
    pub(super) mesh: Mesh,
    pub(super) components: Vec<Component>,
}

/// An object and where it goes, in the unit of the model.
pub(super) struct Component {
    /// Name of another model part, from the production extension.
    pub(super) path: Option<String>,
    pub(super) object: u32,
    pub(super) transform: Affine,
}

/// What is to be built.
pub(super) struct Item {
    pub(super) place: Component,
    pub(super) part_number: Option<String>,
}

/// Reads a model part. Only the root model may refer to other parts and have items.
pub(super) fn read<R: BufRead>(
    xml: Source<R>,
    is_root: bool,
    progress: &Progress,
) -> Result<Model, ImportError> {
    let mut parser = Parser {
        xml,
        is_root,
        model: Model::default(),
        stack: Vec::new(),
        ids: HashSet::new(),
        metadata: HashSet::new(),
        ignorable: HashSet::new(),
        seen: Seen::default(),
        vertices: Vec::new(),
        triangles: Vec::new(),
    };
    let mut buffer = Vec::new();
    let mut events = 0;
    loop {
        match parser.xml.next(&mut buffer)? {
            Event::Start(start) => parser.open(&start)?,
            Event::Empty(start) => {
                parser.open(&start)?;
                parser.close()?;
            }
            Event::End(_) => parser.close()?,
            Event::Eof => return Ok(parser.model),
            _ => {}
        }
        events += 1;
        if events == STEP {
            events = 0;
            progress.check()?;
        }
    }
}

/// The element we are in.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Inside {
    Model,
    Resources,
    Object,
    Mesh,
    Vertices,
    Triangles,
    Components,
    Build,
    /// Nothing below is looked at.
    Skipped,
}

/// Which of the elements that stand once were met, of the model and of the current object.
#[derive(Default)]
#[expect(clippy::struct_excessive_bools, reason = "a set of marks, one per element")]
pub(super) struct Seen {
    pub(super) resources: bool,
    pub(super) build: bool,
    pub(super) mesh: bool,
    pub(super) components: bool,
    pub(super) vertices: bool,
    pub(super) triangles: bool,
}

pub(super) struct Parser<R: BufRead> {
    pub(super) xml: Source<R>,
    pub(super) is_root: bool,
    pub(super) model: Model,
    pub(super) stack: Vec<Inside>,
    /// Ids of all resources, of extensions too.
    pub(super) ids: HashSet<u32>,
    pub(super) metadata: HashSet<String>,
    /// Namespaces that the file declares ignorable.
    pub(super) ignorable: HashSet<String>,
    pub(super) seen: Seen,
    /// Of the mesh being read.
    pub(super) vertices: Vec<[f64; 3]>,
    pub(super) triangles: Vec<[u32; 3]>,
}

impl<R: BufRead> Parser<R> {
    fn open(&mut self, start: &BytesStart<'_>) -> Result<(), ImportError> {
        let (namespace, name) = self.xml.element(start)?;
        let is_core = namespace == CORE;
        let parent = self.stack.last().copied();
        let inside = match (parent, name) {
            (None, "model") if is_core => self.model(start)?,
            (None, _) => {
                return Err(self.xml.error(format!(
                    "the root element is \"{name}\" of \"{namespace}\", not a 3MF core model"
                )));
            }
            (Some(Inside::Skipped), _) => {
                self.check_foreign(start)?;
                Inside::Skipped
            }
            (Some(parent), _) if !is_core => {
                if parent == Inside::Object || parent == Inside::Mesh {
                    self.model.ignored.insert(namespace.to_owned());
                }
                self.foreign(start, parent)?;
                Inside::Skipped
            }
            (Some(Inside::Vertices), "vertex") => self.vertex(start)?,
            (Some(Inside::Triangles), "triangle") => self.triangle(start)?,
            (Some(Inside::Model), "metadata") => self.metadata(start)?,
            (Some(Inside::Model), "resources") => self.once("resources", start)?,
            (Some(Inside::Model), "build") => self.once("build", start)?,
            (Some(Inside::Resources), "object") => self.object(start)?,
            (Some(Inside::Resources), "basematerials") => {
                self.foreign(start, Inside::Resources)?;
                Inside::Skipped
            }
            (Some(Inside::Object), "mesh" | "components") => self.once(name, start)?,
            (Some(Inside::Object), "metadatagroup") => Inside::Skipped,
            (Some(Inside::Mesh), "vertices") => self.once("vertices", start)?,
            (Some(Inside::Mesh), "triangles") => self.once("triangles", start)?,
            (Some(Inside::Components), "component") => {
                let (component, _) = self.component(start)?;
                if let Some(object) = self.model.objects.last_mut() {
                    object.components.push(component);
                }
                Inside::Skipped
            }
            (Some(Inside::Build), "item") => {
                let (place, part_number) = self.component(start)?;
                self.model.items.push(Item { place, part_number });
                Inside::Skipped
            }
            (Some(parent), _) => {
                let parent = format!("{parent:?}").to_lowercase();
                return Err(self
                    .xml
                    .error(format!("\"{name}\" does not belong inside \"{parent}\"")));
            }
        };
        self.stack.push(inside);
        Ok(())
    }

    fn close(&mut self) -> Result<(), ImportError> {
        match self.stack.pop() {
            Some(Inside::Model) if !self.seen.resources => {
                Err(self.xml.error("the model has no \"resources\""))
            }
            Some(Inside::Model) if !self.seen.build => {
                Err(self.xml.error("the model has no \"build\""))
            }
            Some(Inside::Object) if !self.seen.mesh && !self.seen.components => {
                let id = self.model.objects.last().map_or(0, |object| object.id);
                Err(self.xml.error(format!("object {id} has neither a mesh nor components")))
            }
            Some(Inside::Object) => {
                // only now can it be referred to: no object contains itself
                if let Some(object) = self.model.objects.last() {
                    self.model.by_id.insert(object.id, self.model.objects.len() - 1);
                }
                Ok(())
            }
            Some(Inside::Mesh) => self.finish_mesh(),
            Some(
                Inside::Model
                | Inside::Resources
                | Inside::Vertices
                | Inside::Triangles
                | Inside::Components
                | Inside::Build
                | Inside::Skipped,
            )
            | None => Ok(()),
        }
    }

    /// Enters an element that stands at most once in its parent.
    fn once(&mut self, name: &str, start: &BytesStart<'_>) -> Result<Inside, ImportError> {
        self.check_foreign(start)?;
        let seen = &mut self.seen;
        let (mark, inside, in_order) = match name {
            "resources" => (&mut seen.resources, Inside::Resources, !seen.build),
            "build" => (&mut seen.build, Inside::Build, seen.resources),
            "mesh" => (&mut seen.mesh, Inside::Mesh, !seen.components),
            "components" => (&mut seen.components, Inside::Components, !seen.mesh),
            "vertices" => (&mut seen.vertices, Inside::Vertices, !seen.triangles),
            "triangles" => (&mut seen.triangles, Inside::Triangles, seen.vertices),
            other => return Err(self.xml.error(format!("\"{other}\" is not known here"))),
        };
        if std::mem::replace(mark, true) {
            return Err(self.xml.error(format!("there is more than one \"{name}\"")));
        }
        if !in_order {
            return Err(self.xml.error(format!("\"{name}\" stands where it must not")));
        }
        Ok(inside)
    }

    /// Checks the attributes of other namespaces on an element of the core. One in a namespace
    /// that is neither an extension of the consortium nor declared ignorable is refused on
    /// `vertices`, where the schema of the core knows none.
    fn check_foreign(&self, start: &BytesStart<'_>) -> Result<(), ImportError> {
        let on_vertices = start.name().0.ends_with("vertices");
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            if let Some((namespace, local)) = self.xml.foreign(&attribute)?
                && on_vertices
                && !self.ignorable.contains(namespace)
                && !is_extension(namespace)
            {
                return Err(self.xml.error(format!(
                    "\"vertices\" has the attribute \"{local}\" of the unknown namespace \
                     {namespace}"
                )));
            }
        }
        Ok(())
    }

    /// An element of an extension, or one whose content is not needed.
    fn foreign(&mut self, start: &BytesStart<'_>, parent: Inside) -> Result<(), ImportError> {
        let mut id = None;
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            self.xml.foreign(&attribute)?;
            if attribute.key.0 == "id" && parent == Inside::Resources {
                id = Some(self.index(&attribute)?);
            }
        }
        id.map_or(Ok(()), |id| self.new_id(id))
    }

    pub(super) fn new_id(&mut self, id: u32) -> Result<(), ImportError> {
        if id == 0 {
            return Err(self.xml.error("a resource has the id 0"));
        }
        if !self.ids.insert(id) {
            return Err(self.xml.error(format!("two resources have the id {id}")));
        }
        Ok(())
    }

    fn model(&mut self, start: &BytesStart<'_>) -> Result<Inside, ImportError> {
        let mut required = String::new();
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            if let Some((namespace, local)) = self.xml.foreign(&attribute)? {
                if namespace == COMPATIBILITY && local == "Ignorable" {
                    for prefix in attribute.value.split_ascii_whitespace() {
                        let namespace = self.xml.namespace_of_prefix(prefix)?.to_owned();
                        self.ignorable.insert(namespace);
                    }
                }
                continue;
            }
            match attribute.key.0 {
                "unit" => self.model.unit = self.unit(&attribute.value)?,
                "requiredextensions" => required = xml::text(&attribute),
                _ => {}
            }
        }
        for prefix in required.split_ascii_whitespace() {
            let namespace = self.xml.namespace_of_prefix(prefix)?;
            if !SUPPORTED.contains(&namespace) {
                return Err(ImportError::RequiredExtension { namespace: namespace.to_owned() });
            }
        }
        Ok(Inside::Model)
    }

    fn metadata(&mut self, start: &BytesStart<'_>) -> Result<Inside, ImportError> {
        self.check_foreign(start)?;
        let mut name = None;
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            if attribute.key.0 == "name" {
                name = Some(xml::text(&attribute));
            }
        }
        let name = name.ok_or_else(|| self.xml.error("a \"metadata\" has no name"))?;
        if !self.metadata.insert(name.clone()) {
            return Err(self.xml.error(format!("two \"metadata\" have the name \"{name}\"")));
        }
        Ok(Inside::Skipped)
    }

    /// Welds the vertices that triangles use.
    fn finish_mesh(&mut self) -> Result<(), ImportError> {
        let vertices = std::mem::take(&mut self.vertices);
        let mut triangles = std::mem::take(&mut self.triangles);
        let mut welder: Welder<[f64; 3]> = Welder::new(vertices.len());
        let mut corners = [[0.0; 3]; BATCH];
        for batch in triangles.as_flattened_mut().chunks_mut(BATCH) {
            for (corner, index) in corners.iter_mut().zip(batch.iter()) {
                *corner = vertices[*index as usize];
            }
            welder.weld(&corners[..batch.len()], batch)?;
        }
        if let Some(object) = self.model.objects.last_mut() {
            object.mesh = Mesh { vertices: welder.finish(1.0), triangles };
        }
        Ok(())
    }
}

/// Whether a namespace has the form of the consortium's extensions: a name, a year, a month.
fn is_extension(namespace: &str) -> bool {
    let is_number = |text: Option<&str>, length: usize| {
        text.is_some_and(|text| text.len() == length && text.bytes().all(|b| b.is_ascii_digit()))
    };
    let mut ends = namespace.rsplit('/');
    namespace.starts_with(EXTENSIONS) && is_number(ends.next(), 2) && is_number(ends.next(), 4)
}
