//! Elements of a 3MF model and their attributes: objects, vertices, triangles, components, numbers.

use super::super::error::ImportError;
use super::super::limits::MAX_TRIANGLES;
use super::model::{Component, Inside, Kind, Object, PRODUCTION, Parser, SLICES, Seen};
use super::xml;
use crate::Mesh;
use base::{Affine, Unit};
use quick_xml::events::BytesStart;
use quick_xml::events::attributes::Attribute;
use std::io::BufRead;

impl<R: BufRead> Parser<R> {
    pub(super) fn unit(&self, name: &str) -> Result<Unit, ImportError> {
        Ok(match name {
            "micron" => Unit::Micron,
            "millimeter" => Unit::Millimetre,
            "centimeter" => Unit::Centimetre,
            "inch" => Unit::Inch,
            "foot" => Unit::Foot,
            "meter" => Unit::Metre,
            _ => return Err(self.xml.error(format!("\"{name}\" is not a unit of 3MF"))),
        })
    }

    pub(super) fn object(&mut self, start: &BytesStart<'_>) -> Result<Inside, ImportError> {
        let mut object = Object {
            id: 0,
            kind: Kind::Model,
            name: String::new(),
            part_number: None,
            mesh: Mesh::default(),
            components: Vec::new(),
        };
        let (mut pid, mut pindex) = (false, false);
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            if let Some((namespace, _)) = self.xml.foreign(&attribute)? {
                if namespace == SLICES {
                    let namespace = namespace.to_owned(); // the mesh may be a mere stand-in
                    self.model.ignored.insert(namespace);
                }
                continue;
            }
            match attribute.key.0 {
                "id" => object.id = self.index(&attribute)?,
                "type" => object.kind = self.kind(&attribute.value)?,
                "name" => object.name = xml::text(&attribute),
                "partnumber" => object.part_number = Some(xml::text(&attribute)),
                "pid" => pid = true,
                "pindex" => pindex = true,
                _ => {}
            }
        }
        if pindex && !pid {
            let problem = format!("object {} has a \"pindex\" without a \"pid\"", object.id);
            return Err(self.xml.error(problem));
        }
        self.new_id(object.id)?;
        self.model.objects.push(object);
        self.seen = Seen { resources: true, build: self.seen.build, ..Seen::default() };
        Ok(Inside::Object)
    }

    pub(super) fn kind(&self, name: &str) -> Result<Kind, ImportError> {
        Ok(match name {
            "model" => Kind::Model,
            "surface" => Kind::Surface,
            "support" | "solidsupport" => Kind::Support,
            "other" => Kind::Other,
            _ => return Err(self.xml.error(format!("\"{name}\" is not a type of object"))),
        })
    }

    pub(super) fn vertex(&mut self, start: &BytesStart<'_>) -> Result<Inside, ImportError> {
        let mut position = [None; 3];
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            let k = match attribute.key.0 {
                "x" => 0,
                "y" => 1,
                "z" => 2,
                _ => {
                    self.xml.foreign(&attribute)?;
                    continue;
                }
            };
            position[k] = Some(self.number(attribute.value.trim_ascii())?);
        }
        let [Some(x), Some(y), Some(z)] = position else {
            return Err(self.xml.error("a vertex lacks x, y or z"));
        };
        if self.vertices.len() as u64 >= MAX_TRIANGLES {
            return Err(ImportError::TooLarge { what: "vertices", limit: MAX_TRIANGLES });
        }
        self.vertices.push([x, y, z]);
        Ok(Inside::Skipped)
    }

    pub(super) fn triangle(&mut self, start: &BytesStart<'_>) -> Result<Inside, ImportError> {
        let mut corners = [None; 3];
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            let k = match attribute.key.0 {
                "v1" => 0,
                "v2" => 1,
                "v3" => 2,
                _ => {
                    self.xml.foreign(&attribute)?;
                    continue;
                }
            };
            let index = self.index(&attribute)?;
            let count = self.vertices.len();
            if index as usize >= count {
                let problem = format!("a triangle refers to vertex {index} of {count} (from 0)");
                return Err(self.xml.error(problem));
            }
            corners[k] = Some(index);
        }
        let [Some(a), Some(b), Some(c)] = corners else {
            return Err(self.xml.error("a triangle lacks v1, v2 or v3"));
        };
        if self.triangles.len() as u64 >= MAX_TRIANGLES {
            return Err(ImportError::TooLarge { what: "triangles", limit: MAX_TRIANGLES });
        }
        self.triangles.push([a, b, c]);
        Ok(Inside::Skipped)
    }

    /// A component or an item, and its part number.
    pub(super) fn component(
        &mut self,
        start: &BytesStart<'_>,
    ) -> Result<(Component, Option<String>), ImportError> {
        let (mut id, mut path, mut part_number) = (None, None, None);
        let mut transform = Affine::IDENTITY;
        for attribute in start.attributes() {
            let attribute = self.xml.attribute(attribute)?;
            if let Some((namespace, local)) = self.xml.foreign(&attribute)? {
                if namespace == PRODUCTION && local == "path" {
                    path = Some(xml::text(&attribute));
                }
                continue;
            }
            match attribute.key.0 {
                "objectid" => id = Some(self.index(&attribute)?),
                "transform" => transform = self.transform(&attribute.value)?,
                "partnumber" => part_number = Some(xml::text(&attribute)),
                _ => {}
            }
        }
        let object = id.ok_or_else(|| self.xml.error("a component or item has no \"objectid\""))?;
        if path.is_some() && !self.is_root {
            return Err(self.xml.error("only the root model may refer to other model parts"));
        }
        if path.is_none() && !self.model.by_id.contains_key(&object) {
            return Err(self.xml.error(format!("object {object} is used, but not defined before")));
        }
        Ok((Component { path, object, transform }, part_number))
    }

    /// Twelve numbers, the rows of a matrix that stands to the right of a row vector.
    pub(super) fn transform(&self, text: &str) -> Result<Affine, ImportError> {
        let mut numbers = [0.0; 12];
        let mut words = text.split_ascii_whitespace();
        for number in &mut numbers {
            *number = self.number(words.next().unwrap_or_default())?;
        }
        if words.next().is_some() {
            return Err(self.xml.error("a transform has more than 12 numbers"));
        }
        let m = |row: usize, column: usize| numbers[3 * row + column];
        let rows = std::array::from_fn(|k| [m(0, k), m(1, k), m(2, k), m(3, k)]);
        let transform = Affine { rows };
        if transform.determinant() == 0.0 {
            return Err(self.xml.error("a transform flattens its object"));
        }
        Ok(transform)
    }

    pub(super) fn number(&self, text: &str) -> Result<f64, ImportError> {
        match text.parse() {
            Ok(number) if f64::is_finite(number) => Ok(number),
            _ => {
                let text: String = text.chars().take(40).collect();
                Err(self.xml.error(format!("\"{text}\" is not a number")))
            }
        }
    }

    pub(super) fn index(&self, attribute: &Attribute<'_>) -> Result<u32, ImportError> {
        attribute.value.trim_ascii().parse().map_err(|_| {
            let text: String = attribute.value.chars().take(40).collect();
            self.xml.error(format!("{} is \"{text}\", not an index", attribute.key.0))
        })
    }
}
