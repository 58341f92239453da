//! 3MF: the conformity files of the 3MF consortium, and packages made here.

use crate::{check_promises, check_welded, kinds, meshes, only, open, read, volume};
use base::{Progress, Unit};
use mesh::Mesh;
use mesh::import::{Format, ImportError, Imported, centre_from_corner, import};
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;

/// Of the files that must fail, those that open here, each with the reason.
const MAY_OPEN: [(&str, &str); 14] = [
    (
        "Chapter3.4.1a_MissingMetadataName",
        "its metadata has a name, \"Undefined\"; that unknown names are ignored is what \
         MUSTPASS_Chapter3.4.1c asks for",
    ),
    ("Extension_Chapter2_MissingColorValue", COLOURS),
    ("Extension_Chapter3_MissingTexId", COLOURS),
    ("Extension_Chapter4b_MatId_IsNotBaseMaterials", COLOURS),
    ("Extension_Chapter4c_MissingMatidMatIndices", COLOURS),
    ("Extension_Chapter4d_MissingMatIndices", COLOURS),
    ("Extension_Chapter5a_MissingPIDs", COLOURS),
    ("Extension_Chapter5b_MultipleReferenceTo", COLOURS),
    ("Extension_Chapter5b_ReferToAnotherMultiProperties", COLOURS),
    ("Extension_Chapter5c_MultipleReferenceToColorgroup", COLOURS),
    ("Extension_Chapter5d_MultipleReferenceToCompositeMaterials", COLOURS),
    ("Extension_Chapter5e_ReferenceToMultiProperties", COLOURS),
    ("Extension_Chapter6_2DTexture_InvalidContentType", COLOURS),
    ("Extension_Chapter6_2DTexture_MissingPath", COLOURS),
];
const COLOURS: &str = "a rule of the materials extension; colours and textures are not read";

fn files(folder: &str) -> Vec<String> {
    let entries = std::fs::read_dir(meshes(folder)).unwrap();
    let mut names: Vec<_> = entries
        .map(|e| format!("{folder}/{}", e.unwrap().file_name().into_string().unwrap()))
        .collect();
    names.sort();
    names
}

#[test]
fn every_mustpass_file_opens() {
    let names = files("3mf_verify/MUSTPASS");
    assert_eq!(names.len(), 13);
    for name in names {
        let imported = open(&name).unwrap_or_else(|e| panic!("{name}: {e}"));
        check_promises(&imported);
    }
}

#[test]
fn every_mustfail_file_of_the_core_specification_is_refused() {
    let names = files("3mf_verify/MUSTFAIL");
    assert_eq!(names.len(), 38);
    let mut used = [false; MAY_OPEN.len()];
    for name in names {
        let exception = MAY_OPEN.iter().position(|(part, _)| name.contains(part));
        match (open(&name), exception) {
            (Err(ImportError::Package { .. } | ImportError::Model { .. }), None) => {}
            (Err(error), None) => panic!("{name}: {error}"),
            (Ok(_), None) => panic!("{name} opens"),
            (Ok(_), Some(k)) => used[k] = true,
            (Err(error), Some(_)) => panic!("{name} is an exception no more: {error}"),
        }
    }
    assert!(used.iter().all(|&used| used), "an exception names no file");
}

/// The right reason is found, not just any.
#[test]
fn refusals_name_what_is_wrong() {
    #[track_caller]
    fn refused(chapter: &str, words: &str) {
        let names = files("3mf_verify/MUSTFAIL");
        let name = names.iter().find(|name| name.contains(chapter)).unwrap();
        let error = open(name).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
    }
    refused("2.1.1a", "names no 3D model part");
    refused("2.1.1b", "C:/Metadata/thumbnail.png\", which is not in the package");
    refused("2.1.2", "more than one 3D model part");
    refused("2.1.3", "nothumbnailfile.png\", which is not in the package");
    refused("2.1.4", "\"rel0\" twice"); // two print tickets, and both with the same id
    refused("2.3.2a", "neither UTF-8 nor UTF-16");
    refused("2.3.2b", "document type");
    refused("2.3.2c", "\"newproperty\" of the unknown namespace");
    refused("2.3.2d", "\"dcterms\" is not bound");
    refused("2.3.4", "does not allow the attribute xml:space");
    refused("3.4.1b", "two \"metadata\" have the name \"Title\"");
    refused("3.4.3.1a", "object 14 is used, but not defined");
    refused("3.4.3.1b", "type is \"other\"");
    refused("3.4a", "more than one root");
    refused("3.4b", "no \"build\"");
    refused("3.4c", "\"build\" stands where it must not"); // no resources before it
    refused("Chapter4a_InvalidObjectType", "\"invalidtype\" is not a type");
    refused("Chapter4b_PID", "object 7 has a \"pindex\" without a \"pid\"");
    refused("Chapter5a_DuplicatedBase", "two resources have the id 1");
}

#[test]
fn conformity_files_have_the_geometry_their_comments_state() {
    let inch_cube = open("3mf_verify/MUSTPASS/MUSTPASS_Chapter2.2_PartNaming.3mf").unwrap();
    assert!((volume(only(&inch_cube)) - 25.4_f64.powi(3)).abs() < 1e-9);
    assert_eq!(inch_cube.objects[0].name, "dice");
    assert_eq!(inch_cube.objects[0].part_number.as_deref(), Some("A15T6"));
    // components and items say the same in two ways
    let by_items =
        open("3mf_verify/MUSTPASS/MUSTPASS_Chapter3.2c_MultipleItemsTransform.3mf").unwrap();
    let by_components = open("3mf_verify/MUSTPASS/MUSTPASS_Chapter4.2_Components.3mf").unwrap();
    assert_eq!((by_items.objects.len(), by_components.objects.len()), (2, 1));
    let sum: f64 = by_items.objects.iter().map(|object| volume(&object.mesh)).sum();
    assert!(sum > 0.0 && (volume(only(&by_components)) - sum).abs() < 1e-9);
    // "cube2" is not in the build
    let names = "3mf_verify/MUSTPASS/MUSTPASS_Chapter3.4.3a_MustNotOutputNonReferencedObjects.3mf";
    assert_eq!(open(names).unwrap().objects[0].name, "cube1");
    let support = open("3mf_verify/MUSTPASS/MUSTPASS_Chapter4.1_ExplicitSupport.3mf").unwrap();
    assert_eq!((support.objects.len(), kinds(&support)), (1, vec!["supports_left_out"]));
}

#[test]
fn samples_open_with_their_extensions_set_aside() {
    let box_ = open("3mf/box.3mf").unwrap();
    check_welded(only(&box_));
    assert!((volume(only(&box_)) - 6000.0).abs() < 1e-9); // 10 × 20 × 30 mm
    assert_eq!(only(&open("3mf/box_prod.3mf").unwrap()).triangles, only(&box_).triangles);
    assert_eq!(open("3mf/multiple_cylinders.3mf").unwrap().objects.len(), 6);
    assert_eq!(only(&open("3mf/rhombicuboctahedron_color.3mf").unwrap()).triangles.len(), 44);
    let inches = open("3mf/featuretype.3MF").unwrap();
    let (lo, hi) = only(&inches).bounds().unwrap();
    for (k, inches) in [5.0, 2.5, 1.375].into_iter().enumerate() {
        assert!((hi[k] - lo[k] - inches * 25.4).abs() < 1e-4);
    }
    let lattice = open("3mf/pyramid.3mf").unwrap_err();
    assert!(matches!(lattice, ImportError::RequiredExtension { .. }), "{lattice}");
}

// ---- packages made here ----

const RELS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/a.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;
const TETRAHEDRON: &str = r#"<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/><vertex x="0" y="0" z="1"/></vertices><triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/></triangles></mesh>"#;

pub(crate) fn package(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let common: [(&str, &[u8]); 2] =
        [("[Content_Types].xml", b"<Types/>"), ("_rels/.rels", RELS.as_bytes())];
    for (name, content) in common.iter().chain(parts) {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(content).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn model(attributes: &str, resources: &str, build: &str) -> String {
    format!(
        r#"<model xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" {attributes}><resources>{resources}</resources><build>{build}</build></model>"#
    )
}

fn import_model(text: &str) -> Result<Imported, ImportError> {
    read(&package(&[("3D/a.model", text.as_bytes())]), Format::ThreeMf)
}

fn tetrahedron(build: &str) -> Result<Imported, ImportError> {
    let object = format!(r#"<object id="1" name="t">{TETRAHEDRON}</object>"#);
    import_model(&model(r#"unit="inch""#, &object, build))
}

#[track_caller]
fn check_near(mesh: &Mesh, lo: [f64; 3], hi: [f64; 3]) {
    let bounds = mesh.bounds().unwrap();
    for k in 0..3 {
        assert!(
            (bounds.0[k] - lo[k]).abs() < 1e-9 && (bounds.1[k] - hi[k]).abs() < 1e-9,
            "{bounds:?}"
        );
    }
}

/// Row vectors to the left of the matrix: `x' = x·m00 + y·m10 + z·m20 + m30`
/// (3MF core specification, chapter 3.3).
#[test]
fn transforms_move_in_the_unit_of_the_file() {
    let imported =
        tetrahedron(r#"<item objectid="1" transform="0 2 0 -3 0 0 0 0 4 10 20 30"/>"#).unwrap();
    let inch = |v: [f64; 3]| v.map(|c| c * 25.4);
    check_near(only(&imported), inch([7., 20., 30.]), inch([10., 22., 34.]));
    assert!((volume(only(&imported)) - 4.0 * 25.4_f64.powi(3)).abs() < 1e-6);
    let location = imported.objects[0].item_location_mm.unwrap();
    assert!((location[0] - 8.5 * 25.4).abs() < 1e-9);
    assert_eq!(centre_from_corner([10., 20., 30.], [300., 200.]), [-140., -80., 30.]);
}

#[test]
fn mirrors_turn_triangles_over_and_nesting_multiplies() {
    let mirrored =
        tetrahedron(r#"<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>"#).unwrap();
    assert!(volume(only(&mirrored)) > 0.0);
    let resources = format!(
        r#"<object id="1">{TETRAHEDRON}</object>
        <object id="2"><components><component objectid="1" transform="2 0 0 0 2 0 0 0 2 0 0 0"/></components></object>
        <object id="5" partnumber="P"><components><component objectid="2" transform="1 0 0 0 1 0 0 0 -1 1 0 0"/><component objectid="1"/></components></object>"#
    );
    let build = r#"<item objectid="5" transform="1 0 0 0 1 0 0 0 1 0 0 10"/>"#;
    let imported = import_model(&model("", &resources, build)).unwrap();
    check_near(only(&imported), [0., 0., 8.], [3., 2., 11.]);
    assert!((volume(only(&imported)) - (8.0 + 1.0) / 6.0).abs() < 1e-12);
    assert_eq!(imported.objects[0].part_number.as_deref(), Some("P"));
    let said = import(
        &package(&[("3D/a.model", model("", &resources, build).as_bytes())]),
        Format::ThreeMf,
        Some(Unit::Centimetre),
        &Progress::default(),
    );
    let said = said.unwrap();
    check_near(only(&said), [0., 0., 80.], [30., 20., 110.]);
    assert_eq!(kinds(&said), ["unit_overruled"]);
}

#[test]
fn objects_of_other_model_parts_are_found_in_their_own_unit() {
    let other =
        model(r#"unit="centimeter""#, &format!(r#"<object id="1">{TETRAHEDRON}</object>"#), "");
    let root = model(
        r#"requiredextensions="p""#,
        r#"<object id="1"><components><component objectid="1" p:path="/3D/other.model" transform="1 0 0 0 1 0 0 0 1 5 0 0"/></components></object>"#,
        r#"<item objectid="1"/><item objectid="1" p:path="/3D/other.model"/>"#,
    );
    let bytes = package(&[("3D/a.model", root.as_bytes()), ("3D/other.model", other.as_bytes())]);
    let imported = read(&bytes, Format::ThreeMf).unwrap();
    check_near(&imported.objects[0].mesh, [5., 0., 0.], [15., 10., 10.]);
    check_near(&imported.objects[1].mesh, [0.; 3], [10.; 3]);
    let missing = read(&package(&[("3D/a.model", root.as_bytes())]), Format::ThreeMf).unwrap_err();
    assert!(missing.to_string().contains("/3d/other.model is missing"), "{missing}");
}

#[test]
fn utf_16_is_read() {
    let text = model(
        "",
        &format!(r#"<object id="1" name="Größe">{TETRAHEDRON}</object>"#),
        r#"<item objectid="1"/>"#,
    );
    let words: Vec<u16> = "\u{feff}".encode_utf16().chain(text.encode_utf16()).collect();
    let little: Vec<u8> = words.iter().flat_map(|w| w.to_le_bytes()).collect();
    let big: Vec<u8> = words.iter().flat_map(|w| w.to_be_bytes()).collect();
    for bytes in [little.clone(), big, little[2..].to_vec()] {
        let imported = read(&package(&[("3D/a.model", &bytes)]), Format::ThreeMf).unwrap();
        assert_eq!(imported.objects[0].name, "Größe");
    }
}

#[test]
fn what_must_not_be_is_refused() {
    let object = |id: &str, content: &str| format!(r#"<object id="{id}">{content}</object>"#);
    let one = object("1", TETRAHEDRON);
    let component = |id: u32| format!(r#"<components><component objectid="{id}"/></components>"#);
    let item = r#"<item objectid="1"/>"#;
    let cases = [
        (model("", &object("1", &component(1)), item), "object 1 is used, but not defined before"),
        (
            model("", &(object("2", &component(1)) + &one), item),
            "object 1 is used, but not defined before",
        ),
        (
            model("", &one, r#"<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>"#),
            "flattens",
        ),
        (model("", &one, r#"<item objectid="1" transform="1 0 0"/>"#), "\"\" is not a number"),
        (model(r#"unit="furlong""#, &one, item), "\"furlong\" is not a unit"),
        (model(r#"requiredextensions="q""#, &one, item), "\"q\" is not bound"),
        (model("", &one.replace("v2=\"2\"", "v2=\"4\""), item), "vertex 4 of 4"),
        (model("", &one.replace("v2=\"2\"", "v2=\"-1\""), item), "v2 is \"-1\""),
        (model("", &one.replace("x=\"1\"", "x=\"NaN\""), item), "\"NaN\" is not a number"),
        (model("", &one.replace("x=\"1\"", ""), item), "lacks x, y or z"),
        (model("", &one.replace("id=\"1\"", "id=\"0\""), item), "the id 0"),
        (model("", &one.replace("<mesh>", "<mesh><mesh/>"), item), "does not belong inside"),
        (model("", &one.replace("</mesh>", "</mesh><mesh/>"), item), "more than one \"mesh\""),
        (model("", &object("1", ""), item), "neither a mesh nor components"),
        (model("", &one, item).replace("</model>", ""), "cut short"),
        (model("", &one, item).replace("</mesh>", "</mish>"), "not well-formed"),
        (model("", &one, item).replace("core/2015/02", "core/2525/02"), "not a 3MF core model"),
    ];
    for (text, words) in cases {
        let error = import_model(&text).unwrap_err().to_string();
        assert!(error.contains(words), "{error} does not say: {words}");
    }
    let nothing = import_model(&model("", &one, "")).unwrap_err();
    assert!(matches!(nothing, ImportError::NoTriangles { .. }));
}

#[test]
fn components_that_multiply_beyond_the_limit_are_refused_before_they_are_built() {
    for content in [TETRAHEDRON, "<components/>"] {
        let mut resources = format!(r#"<object id="1">{content}</object>"#);
        for id in 2..60 {
            let component = format!(r#"<component objectid="{}"/>"#, id - 1);
            resources += &format!(
                r#"<object id="{id}"><components>{component}{component}</components></object>"#
            );
        }
        let error = import_model(&model("", &resources, r#"<item objectid="59"/>"#)).unwrap_err();
        assert!(matches!(error, ImportError::TooLarge { .. }), "{error}");
        assert!(error.to_string().contains("counting those within others each time"), "{error}");
    }
    // deep, but small: a chain of 20,000 objects is no problem
    let mut resources = format!(r#"<object id="1">{TETRAHEDRON}</object>"#);
    for id in 2..20_000 {
        let component = format!(r#"<component objectid="{}"/>"#, id - 1);
        resources += &format!(r#"<object id="{id}"><components>{component}</components></object>"#);
    }
    let chain = import_model(&model("", &resources, r#"<item objectid="19999"/>"#)).unwrap();
    assert_eq!(only(&chain).triangles.len(), 4);
}

#[test]
fn what_unpacks_beyond_the_limit_is_refused() {
    // 24 MB of spaces pack to 24 kB: 1000 times
    let text = model("", &" ".repeat(24 << 20), "");
    let bytes = package(&[("3D/a.model", text.as_bytes())]);
    assert!(bytes.len() < 100_000);
    let error = read(&bytes, Format::ThreeMf).unwrap_err();
    assert!(matches!(error, ImportError::TooLarge { limit: 0x100_0000, .. }), "{error}");
    // the same with a directory that claims 16 bytes: the size is in the local and central headers
    let size = u32::try_from(text.len()).unwrap().to_le_bytes();
    let mut lying = bytes.clone();
    let mut patched = 0;
    for at in 0..lying.len() - 4 {
        if lying[at..at + 4] == size {
            lying[at..at + 4].copy_from_slice(&16_u32.to_le_bytes());
            patched += 1;
        }
    }
    assert!(patched >= 1);
    assert!(read(&lying, Format::ThreeMf).is_err());
}

/// The second model is written under another name, which is then changed to that of the first.
#[test]
fn two_entries_of_one_name_are_refused() {
    let object = format!(r#"<object id="1">{TETRAHEDRON}</object>"#);
    let text = model("", &object, r#"<item objectid="1"/>"#);
    let bytes = package(&[("3D/a.model", text.as_bytes()), ("3D/b.model", b"<other/>")]);
    assert!(read(&bytes, Format::ThreeMf).is_ok());
    let mut twice = bytes;
    for at in 0..twice.len() - 10 {
        if twice[at..].starts_with(b"3D/b.model") {
            twice[at + 3] = b'a';
        }
    }
    let error = read(&twice, Format::ThreeMf).unwrap_err().to_string();
    assert!(error.contains("same name"), "{error}");
}

#[test]
fn archives_that_are_not_3mf_are_refused_in_words() {
    let error = |bytes: &[u8]| read(bytes, Format::ThreeMf).unwrap_err().to_string();
    assert!(error(b"solid x").contains("not a ZIP archive"));
    assert!(error(b"PK\x03\x04 and nothing else").contains("damaged or cut short"));
    let whole = std::fs::read(meshes("3mf/box.3mf")).unwrap();
    for length in [4, 100, whole.len() / 2, whole.len() - 1] {
        assert!(read(&whole[..length], Format::ThreeMf).is_err());
    }
    assert_eq!(Format::from_extension("3MF"), Some(Format::ThreeMf));
}

/// A model with most of what there is, for damaging.
pub(crate) fn example() -> String {
    let resources = format!(
        r#"<basematerials id="9"><base name="a" displaycolor="red"/></basematerials><object id="1" pid="9" pindex="0" name="&lt;t&#62;">{TETRAHEDRON}</object><object id="2" type="model"><components><component objectid="1" transform="2 0 0 0 2 0 0 0 2 0 0 0"/></components></object>"#
    );
    model(
        r#"unit="inch" xml:lang="en""#,
        &resources,
        r#"<item objectid="2" partnumber="7" p:UUID="x"/>"#,
    )
}
