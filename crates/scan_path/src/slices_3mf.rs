//! Sections as 3MF slice stacks: core specification 1.x with the slice extension 1.0.2
//! (<https://github.com/3MFConsortium/spec_slice>).
//!
//! Streams: what is handed over is written and forgotten. Coordinates go in as everywhere in this
//! crate, from the centre of the build platform, and are written from its front left corner,
//! where 3MF has its origin. Objects are written where they stand, so build items need no
//! transform.

use crate::decimal::{Mm, escape, whole_nm};
use base::Point;
use std::fmt::Write as _;
use std::io::{self, Seek, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

const CONTENT_TYPES: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"#;
const RELATIONSHIPS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Target="/3D/3dmodel.model" Id="model" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"#;
const MODEL_START: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:s="http://schemas.microsoft.com/3dmanufacturing/slice/2015/07">
"#;
/// Text is handed to the compressor in pieces of about this size.
const PIECE: usize = 1 << 16;

/// What holds for the whole 3MF file.
#[derive(Clone, Debug, PartialEq)]
pub struct Build3mf {
    /// What the person calls this build.
    pub title: String,
    /// Name and version of the program that made the slices.
    pub application: String,
    /// Size of the build space along X, Y and Z, mm; centred on the platform in X and Y.
    pub build_space_mm: [f64; 3],
}

/// One placement and all its slices.
#[derive(Clone, Debug, PartialEq)]
pub struct SlicedObject<S> {
    /// Name of the part.
    pub name: String,
    /// Number of the part or placement, as the build's owner knows it; may be empty.
    pub part_number: String,
    /// Height of the bottom of the first slice above the platform, mm.
    pub z_bottom_mm: f64,
    /// The slices, from below.
    pub slices: S,
    /// Vertices of the placed mesh, mm, build-space frame.
    pub vertices: Vec<[f64; 3]>,
    /// Corners of its triangles, indices into `vertices`, counter-clockwise seen from outside.
    pub triangles: Vec<[u32; 3]>,
}

/// One slice: from the top of the slice below it up to its own top.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Slice {
    /// Height of its top above the platform, mm.
    pub z_top_mm: f64,
    /// Closed rings, nm, build-space frame: outer ones counter-clockwise, holes clockwise. The
    /// first point may be repeated at the end. Empty where the part has nothing at this height.
    pub rings: Vec<Vec<Point>>,
}

/// Why slices could not be written.
#[derive(Debug, thiserror::Error)]
pub enum SlicesError {
    /// The output refused the bytes.
    #[error("the 3MF file could not be written: {0}")]
    Io(#[from] io::Error),
    /// The container refused the bytes.
    #[error("the 3MF file could not be written: {0}")]
    Zip(#[from] zip::result::ZipError),
    /// A number cannot be written.
    #[error("\"{object}\" has a number that is not finite or too large")]
    BadNumber {
        /// Name of the object, or of the build.
        object: String,
    },
    /// Slices do not rise.
    #[error("\"{object}\" has a slice up to {z_mm} mm, not above the one before it")]
    NotRising {
        /// Name of the object.
        object: String,
        /// Top of the offending slice, mm.
        z_mm: f64,
    },
    /// A triangle refers to a vertex that does not exist.
    #[error("\"{object}\": triangle {triangle} refers to a vertex that does not exist")]
    NoSuchVertex {
        /// Name of the object.
        object: String,
        /// Index of the triangle.
        triangle: usize,
    },
    /// An object was begun but its mesh never came.
    #[error("an object was left without its mesh")]
    Unfinished,
}

/// Writes whole objects from iterators; a thin loop around [`SlicesWriter`]. Gives the output
/// back. Slices are drawn one by one, so an iterator that computes them never holds a stack.
///
/// # Errors
/// The first error of the slices' iterators, or a [`SlicesError`].
pub fn write_slices_3mf<W, S, E>(
    out: W,
    build: &Build3mf,
    objects: impl IntoIterator<Item = SlicedObject<S>>,
) -> Result<W, E>
where
    W: Write + Seek,
    S: IntoIterator<Item = Result<Slice, E>>,
    E: From<SlicesError>,
{
    let mut writer = SlicesWriter::new(out, build)?;
    for object in objects {
        let SlicedObject { name, part_number, z_bottom_mm, slices, vertices, triangles } = object;
        let mut stack = writer.object(&name, &part_number, z_bottom_mm)?;
        for slice in slices {
            let slice = slice?;
            stack.slice(slice.z_top_mm, slice.rings.iter().map(Vec::as_slice))?;
        }
        stack.finish(&vertices, &triangles)?;
    }
    Ok(writer.finish()?)
}

/// Writes a 3MF file, object by object and slice by slice.
pub struct SlicesWriter<W: Write + Seek> {
    zip: ZipWriter<W>,
    /// Text not yet handed to the compressor.
    text: String,
    /// From the centre of the platform to its front left corner, nm.
    to_corner: [i64; 2],
    /// The last resource number given out.
    last_id: u32,
    /// The build items, as XML: the only thing kept until the end.
    items: String,
    unfinished: bool,
}

impl<W: Write + Seek> SlicesWriter<W> {
    /// Begins a 3MF file at the start of an empty `out`.
    ///
    /// # Errors
    /// [`SlicesError`] if the output refuses it or the build space is not finite.
    pub fn new(out: W, build: &Build3mf) -> Result<Self, SlicesError> {
        let [x, y, _] = build.build_space_mm;
        let (Some(x), Some(y)) = (whole_nm(x / 2.0), whole_nm(y / 2.0)) else {
            return Err(SlicesError::BadNumber { object: build.title.clone() });
        };
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .compression_level(Some(1)) // the fastest; the text shrinks to a fifth all the same
            .last_modified_time(zip::DateTime::DEFAULT) // bytes must not depend on a clock,
            .system(zip::System::Unix); // nor on the system
        let mut zip = ZipWriter::new(out);
        zip.start_file("[Content_Types].xml", options)?;
        zip.write_all(CONTENT_TYPES.as_bytes())?;
        zip.start_file("_rels/.rels", options)?;
        zip.write_all(RELATIONSHIPS.as_bytes())?;
        zip.start_file("3D/3dmodel.model", options.large_file(true))?; // its size is not known yet
        let mut text = MODEL_START.to_owned();
        for (name, value) in [("Title", &build.title), ("Application", &build.application)] {
            let _ = writeln!(text, "<metadata name=\"{name}\">{}</metadata>", escape(value));
        }
        text.push_str("<resources>\n");
        let (to_corner, items) = ([x, y], String::new());
        Ok(Self { zip, text, to_corner, last_id: 0, items, unfinished: false })
    }

    /// Begins an object; hand over its slices, then its mesh.
    ///
    /// # Errors
    /// [`SlicesError::Unfinished`] if the object before lacks its mesh; [`SlicesError::BadNumber`].
    pub fn object(
        &mut self,
        name: &str,
        part_number: &str,
        z_bottom_mm: f64,
    ) -> Result<ObjectWriter<'_, W>, SlicesError> {
        if self.unfinished {
            return Err(SlicesError::Unfinished);
        }
        let object = name.to_owned();
        let Some(top) = whole_nm(z_bottom_mm) else {
            return Err(SlicesError::BadNumber { object });
        };
        self.unfinished = true;
        self.last_id += 2;
        let (stack_id, object_id) = (self.last_id - 1, self.last_id);
        let _ = writeln!(self.text, "<s:slicestack id=\"{stack_id}\" zbottom=\"{}\">", Mm(top));
        let number = match part_number {
            "" => String::new(),
            number => format!(" partnumber=\"{}\"", escape(number)),
        };
        let _ = writeln!(self.items, "<item objectid=\"{object_id}\"{number}/>");
        Ok(ObjectWriter { file: self, object, number, top })
    }

    /// Writes the list of build items and the container's directory, and gives the output back.
    ///
    /// # Errors
    /// [`SlicesError::Unfinished`] if the last object lacks its mesh, or if the output fails.
    pub fn finish(mut self) -> Result<W, SlicesError> {
        if self.unfinished {
            return Err(SlicesError::Unfinished);
        }
        let _ = write!(self.text, "</resources>\n<build>\n{}</build>\n</model>\n", self.items);
        self.zip.write_all(self.text.as_bytes())?;
        Ok(self.zip.finish()?)
    }

    fn flush_pieces(&mut self) -> io::Result<()> {
        if self.text.len() >= PIECE {
            self.zip.write_all(self.text.as_bytes())?;
            self.text.clear();
        }
        Ok(())
    }
}

/// One object being written.
pub struct ObjectWriter<'a, W: Write + Seek> {
    file: &'a mut SlicesWriter<W>,
    object: String,
    /// The attribute with the part number, or nothing.
    number: String,
    /// Top of the last slice, nm.
    top: i64,
}

impl<W: Write + Seek> ObjectWriter<'_, W> {
    /// Writes the next slice, up to `z_top_mm`; rings as in [`Slice`]. Neighbouring points that
    /// coincide are written once; rings of fewer than three points enclose nothing and are left
    /// out.
    ///
    /// # Errors
    /// [`SlicesError::NotRising`] unless it lies above the slice before; or the output failed.
    pub fn slice<'r>(
        &mut self,
        z_top_mm: f64,
        rings: impl IntoIterator<Item = &'r [Point]>,
    ) -> Result<(), SlicesError> {
        let Some(top) = whole_nm(z_top_mm) else {
            return Err(SlicesError::BadNumber { object: self.object.clone() });
        };
        if top <= self.top {
            return Err(SlicesError::NotRising { object: self.object.clone(), z_mm: z_top_mm });
        }
        self.top = top;
        let rings: Vec<Vec<Point>> =
            rings.into_iter().map(without_repeats).filter(|ring| ring.len() >= 3).collect();
        let [dx, dy] = self.file.to_corner;
        let text = &mut self.file.text;
        let _ = write!(text, "<s:slice ztop=\"{}\">", Mm(top));
        if !rings.is_empty() {
            text.push_str("<s:vertices>");
            for p in rings.iter().flatten() {
                let (x, y) = (i64::from(p.x) + dx, i64::from(p.y) + dy);
                let _ = write!(text, "<s:vertex x=\"{}\" y=\"{}\"/>", Mm(x), Mm(y));
            }
            text.push_str("</s:vertices>");
        }
        let mut start = 0;
        for ring in &rings {
            let end = start + ring.len();
            let _ = write!(text, "<s:polygon startv=\"{start}\">");
            for vertex in (start + 1..end).chain([start]) {
                let _ = write!(text, "<s:segment v2=\"{vertex}\"/>");
            }
            text.push_str("</s:polygon>");
            start = end;
        }
        text.push_str("</s:slice>\n");
        Ok(self.file.flush_pieces()?)
    }

    /// Ends the stack and writes the mesh that 3MF wants with every object; see
    /// [`SlicedObject`]. Triangles with a repeated corner are left out, as 3MF forbids them.
    ///
    /// # Errors
    /// [`SlicesError::BadNumber`], [`SlicesError::NoSuchVertex`], or the output failed.
    pub fn finish(self, vertices: &[[f64; 3]], triangles: &[[u32; 3]]) -> Result<(), SlicesError> {
        let Self { file, object, number, .. } = self;
        let id = file.last_id;
        let (name, stack) = (escape(&object), id - 1);
        let _ = write!(
            file.text,
            "</s:slicestack>\n<object id=\"{id}\" type=\"model\" name=\"{name}\"{number} s:slicestackid=\"{stack}\"><mesh><vertices>\n"
        );
        for vertex in vertices {
            let [Some(x), Some(y), Some(z)] = vertex.map(whole_nm) else {
                return Err(SlicesError::BadNumber { object });
            };
            let (x, y) = (x + file.to_corner[0], y + file.to_corner[1]);
            let _ =
                writeln!(file.text, "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>", Mm(x), Mm(y), Mm(z));
            file.flush_pieces()?;
        }
        file.text.push_str("</vertices><triangles>\n");
        for (triangle, &[a, b, c]) in triangles.iter().enumerate() {
            if [a, b, c].iter().any(|&corner| corner as usize >= vertices.len()) {
                return Err(SlicesError::NoSuchVertex { object, triangle });
            }
            if a != b && b != c && c != a {
                let _ = writeln!(file.text, "<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
            }
            file.flush_pieces()?;
        }
        file.text.push_str("</triangles></mesh></object>\n");
        file.unfinished = false;
        Ok(())
    }
}

/// A ring without neighbouring points that coincide, across its closing edge, too.
fn without_repeats(ring: &[Point]) -> Vec<Point> {
    let mut ring = ring.to_vec();
    ring.dedup();
    while ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    ring
}
