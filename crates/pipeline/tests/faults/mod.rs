//! Small parts with one fault each, and parts without, made in code; and whether the checks tell them apart.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod parts;

use base::{Affine, Finding, Kind, Progress};
use job::Job;
use mesh::{Mesh, health};
use parts::{block_with_cavity, bored, cuboid, hinge, pin, pot};
use pipeline::look_at_shape_alone;
use pipeline::{Build, Loaded, load_machine_file, load_part_mesh, load_recipe_file};
use std::path::Path;
use std::sync::Arc;

/// A part and what is wrong with it.
pub(crate) struct Case {
    pub(crate) name: String,
    mesh: Mesh,
    /// Where its middle stands on the platform, mm, if bed and place are what is judged; else its shape is.
    at_mm: Option<[f64; 2]>,
    /// The fault that was planted, if any.
    pub(crate) planted: Option<Kind>,
    /// Faults that come with it.
    along: &'static [Kind],
}

/// What became of a case.
pub(crate) struct Judged {
    pub(crate) is_missed: bool,
    /// Whether something was found that is not there.
    pub(crate) is_false_alarm: bool,
    pub(crate) findings: Vec<Finding>,
}

/// All cases; those of shapes are turned in space, each another way.
pub(crate) fn cases() -> Vec<Case> {
    let mut cases = shapes();
    for (k, case) in cases.iter_mut().enumerate() {
        let turn = Affine::rotation_deg([17.0, 31.0, 53.0].map(|deg| deg * k as f64));
        case.mesh.vertices.iter_mut().for_each(|v| *v = turn.apply(*v));
    }
    cases.extend(beds());
    cases
}

/// Parts of a family, by a size: below or above which there is a fault.
fn family(
    name: &str,
    sizes: &[f64],
    fault: Kind,
    is_faulty: impl Fn(f64) -> bool,
    make: impl Fn(f64) -> Mesh,
) -> Vec<Case> {
    let case = |&size: &f64| Case {
        name: format!("{name} {size} mm"),
        mesh: make(size),
        at_mm: None,
        planted: is_faulty(size).then_some(fault),
        along: &[],
    };
    sizes.iter().map(case).collect()
}

fn shapes() -> Vec<Case> {
    let mut all = Vec::new();
    let cavities = [1.0, 2.0, 4.0, 6.0, 8.0];
    all.extend(family("cavity of", &cavities, Kind::TrappedPowder, |_| true, block_with_cavity));
    let blocks = [4.0, 8.0, 12.0, 16.0, 20.0];
    let block = |edge: f64| cuboid([0.0; 3], [edge, 0.8 * edge, 0.6 * edge]);
    all.extend(family("block of", &blocks, Kind::TrappedPowder, |_| false, block));
    let necks = [1.0, 1.4, 1.8, 2.2, 2.5, 2.8, 3.05, 3.2, 3.5, 4.0, 5.0, 6.0];
    all.extend(family("pot with a neck of", &necks, Kind::TrappedPowder, |d| d < 3.0, pot));
    let bores = [5.0, 8.0, 11.0, 14.0, 19.0, 22.0, 26.0, 30.0];
    let bore = |deep: f64| bored(2.0, deep);
    all.extend(family("bore 2 mm wide,", &bores, Kind::DeepPassage, |deep| deep > 17.0, bore));
    let wide = |deep: f64| bored(4.0, deep);
    all.extend(family("bore 4 mm wide,", &[20.0, 30.0], Kind::DeepPassage, |_| false, wide));
    let walls = [0.3, 0.4, 0.5, 0.6, 0.65, 0.69, 0.71, 0.75, 0.8, 1.0, 1.5, 2.0];
    let plate = |thick: f64| cuboid([0.0; 3], [12.0, 9.0, thick]);
    all.extend(family("plate of", &walls, Kind::WeakWall, |thick| thick < 0.7, plate));
    let pins = [0.3, 0.4, 0.5, 0.6, 0.69, 0.75, 0.8, 1.0, 1.5, 2.0];
    all.extend(family("pin of", &pins, Kind::WeakWall, |thick| thick < 0.7, pin));
    let gaps = [0.1, 0.2, 0.3, 0.4, 0.45, 0.49, 0.51, 0.55, 0.6, 0.8, 1.0, 2.0];
    all.extend(family("hinge with a gap of", &gaps, Kind::NarrowGap, |gap| gap < 0.5, hinge));
    all
}

/// Flat starts, jumps of area, walls and long parts: on a bed of 170 × 170 mm, spread along X.
fn beds() -> Vec<Case> {
    let case = |size: [f64; 2], at_mm: [f64; 2], planted, along| Case {
        name: format!("{} × {} mm at {at_mm:?}", size[0], size[1]),
        mesh: cuboid([0.0; 3], [size[0], size[1], 0.3]),
        at_mm: Some(at_mm),
        planted,
        along,
    };
    let plates = |edges: &[f64], planted: Option<Kind>, along: &'static [Kind]| -> Vec<Case> {
        edges.iter().map(|e| case([*e, *e], [0.0; 2], planted, along)).collect()
    };
    let mut all = plates(&[40.0, 45.0, 52.0], Some(Kind::FlatStart), &[]);
    all.extend(plates(&[55.0, 60.0, 80.0], Some(Kind::AreaJump), &[Kind::FlatStart]));
    all.extend(plates(&[10.0, 20.0, 30.0, 36.0, 38.0], None, &[]));
    for (from_wall, is_near) in [(1.0, true), (3.0, true), (4.8, true), (5.2, false), (9.0, false)]
    {
        let x = 85.0 - 5.0 - from_wall;
        all.push(case([10.0; 2], [x, 0.0], is_near.then_some(Kind::NearWall), &[]));
        all.push(case([10.0; 2], [0.0, -x], is_near.then_some(Kind::NearWall), &[]));
    }
    for (size, is_long) in [
        ([100.0, 5.0], true),
        ([90.0, 10.0], true),
        ([120.0, 8.0], true),
        ([5.0, 100.0], false),
        ([70.0, 5.0], false),
        ([100.0, 14.0], false),
    ] {
        all.push(case(size, [0.0; 2], is_long.then_some(Kind::LongAlongSpreading), &[]));
    }
    all
}

/// What the checks say of a case.
pub(crate) fn judge(case: &Case) -> Judged {
    let progress = Progress::default();
    let findings = match case.at_mm {
        None => {
            let report = health(&case.mesh, &progress).unwrap();
            assert_eq!(
                report.open_edges.count + report.inconsistent_edges.count,
                0,
                "{}",
                case.name
            );
            look_at_shape_alone(&case.mesh, &report, &progress).unwrap().findings(None)
        }
        Some(at_mm) => {
            let build = Build::new(loaded(&case.mesh, at_mm), &progress).unwrap();
            let survey = build.survey(&progress, &mut |_| Ok(())).unwrap();
            build.heat_findings(&survey)
        }
    };
    let is = |finding: &Finding| Some(finding.kind()) == case.planted;
    let is_along = |finding: &Finding| case.along.contains(&finding.kind());
    Judged {
        is_missed: case.planted.is_some() && !findings.iter().any(is),
        is_false_alarm: !findings.iter().all(|finding| is(finding) || is_along(finding)),
        findings,
    }
}

/// A job of one part without shrinkage.
fn loaded(mesh: &Mesh, [x, y]: [f64; 2]) -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("part.obj"), parts::obj(mesh)).unwrap();
    let job = format!(
        "(version: 3, name: \"test\", machine: \"m.ron\", recipe: \"r.ron\", parts: [(name: \"part\", \
         mesh: \"part.obj\", unit: Some(Millimetre), placements: [(location_mm: ({x}, {y}, 0.15), \
         rotation_deg: (0, 0, 0))])])"
    );
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
    let mut machine = load_machine_file(&assets.join("machines/bench_co2_30w.ron")).unwrap();
    machine.head = None;
    machine.build_space_mm = [170.0, 170.0, 200.0];
    machine.spreading_direction_deg = 0.0;
    let mut recipe = load_recipe_file(&assets.join("recipes/pa12_fine.ron")).unwrap();
    recipe.shrinkage_percent = [0.0; 3];
    let mesh_of = |part: &job::PartEntry| {
        Ok(Arc::new(load_part_mesh(folder.path(), part, &Progress::default())?))
    };
    let job = Job::from_ron(&job).unwrap();
    Loaded::assemble(job, machine, |_| Ok(recipe.clone()), mesh_of).unwrap()
}
