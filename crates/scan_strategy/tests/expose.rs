//! Whole sections exposed: contours, kinds of region, thin walls, every n-th layer.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Point;
use estimate::Beam;
use job::Recipe;
use job::recipe::{
    ContourOrder, ContourPass, Contours, Exposure, FacingStrategy, Hatch, HatchPass, Joins,
    Pattern, Sequence, StartPoint, Strategy, ThinWalls, Travel,
};
use region::{Join, Region, difference, inset};
use scan_path::{Block, ExposureKind, Layer, Paths, RegionKind, stats};
use scan_strategy::{
    Context, Exposed, Facing, Melt, Round, energy_factor, energy_steps, expose, facing,
};

fn exposure(name: &str) -> Exposure {
    let (name, runs) = (name.to_owned(), job::recipe::Runs::Typed);
    let (path_run_in_mm, path_run_out_mm) = (1.0, 1.0);
    Exposure { name, power_w: 30.0, speed_mm_s: 5000.0, runs, path_run_in_mm, path_run_out_mm }
}

/// Beam offset 0.2, two contours at 0.3, hatch at 0.2 with a gap of 0.1.
fn recipe() -> Recipe {
    Recipe {
        version: Recipe::VERSION,
        name: "test".to_owned(),
        notes: String::new(),
        layer_thickness_mm: 0.1,
        material: job::recipe::Material::PA12,
        shrinkage_percent: [0.0; 3],
        z_growth_mm: 0.0,
        beam_offset_mm: 0.2,
        hole_offset_mm: None,
        joins: Joins::Mitre { limit: 4.0 },
        thin_walls: ThinWalls::Expose {
            exposure: "line".to_owned(),
            min_length_mm: 0.5,
            min_width_mm: 0.1,
        },
        limits: job::recipe::Limits::default(),
        exposures: ["outer", "fill", "line", "soft"].map(exposure).into(),
        core: Strategy {
            sequence: Sequence::ContoursFirst,
            contours: Some(Contours {
                count: 2,
                spacing_mm: 0.3,
                order: ContourOrder::InsideOut,
                start: StartPoint::Nearest,
                exposures: vec!["outer".to_owned()],
                further_passes: Vec::new(),
            }),
            hatch: Some(Hatch {
                spacing_mm: 0.2,
                gap_mm: 0.1,
                angle_deg: 0.0,
                rotation_per_layer_deg: 67.0,
                forbidden: None,
                travel: Travel::Serpentine,
                pattern: Pattern::Lines,
                min_length_mm: 0.0,
                every_nth_layer: 1,
                exposures: vec!["fill".to_owned()],
                further_passes: Vec::new(),
            }),
        },
        up_facing: None,
        down_facing: None,
        path_order: job::recipe::PathOrder::ShortJumps,
        shortest_return_ms: None,
    }
}

/// Beam radius 0.25 mm, and what melts a layer of 0.1 mm of the reference powder.
fn melt() -> Melt {
    Melt { beam: Beam::new(0.25).unwrap(), threshold_j_mm2: 0.006_476_625 }
}

/// Rows of lines along walls: 100 and the step of their energy.
fn wall(step: i32) -> Option<u16> {
    u16::try_from(100 + step).ok()
}

fn centrelines(done: &Exposed) -> Vec<(i32, Vec<Point>)> {
    let lines = done.blocks.iter().filter(|b| b.kind == ExposureKind::Centreline);
    lines.flat_map(|b| paths(b).into_iter().map(|p| (i32::from(b.exposure) - 100, p))).collect()
}

/// Lines along a wall of 20 mm: how many of its length, each as often as its energy is the named one's.
fn lines_by_energy(lines: &[(i32, Vec<Point>)]) -> f64 {
    let weighted = |(step, line): &(i32, Vec<Point>)| {
        let length: f64 = line.windows(2).map(|w| w[0].distance(w[1])).sum();
        length * energy_factor(*step) / 20e6
    };
    lines.iter().map(weighted).sum()
}

fn run_in_layer(section: &Region, facing: Option<&Facing>, recipe: &Recipe, layer: u32) -> Exposed {
    run_round(section, facing, recipe, (layer, None))
}

/// The first layer of placement 7, with no exposure known by name.
fn context(recipe: &Recipe) -> Context<'_> {
    Context {
        recipe,
        layer: 0,
        spreading_direction_deg: 90.0,
        placement: 7,
        exposure_index: &|_| None,
        melt: melt(),
        wall_exposure_index: &wall,
        round: None,
        jumps: None,
        beam_at: None,
    }
}

fn run_round(
    section: &Region,
    facing: Option<&Facing>,
    recipe: &Recipe,
    (layer, round): (u32, Option<Round>),
) -> Exposed {
    let index = |name: &str| {
        recipe.exposures.iter().position(|e| e.name == name).and_then(|i| u16::try_from(i).ok())
    };
    let context = Context { layer, exposure_index: &index, round, ..context(recipe) };
    expose(section, facing, &context).expect("a recipe that works")
}

fn run(section: &Region, recipe: &Recipe) -> Exposed {
    run_in_layer(section, None, recipe, 0)
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)];
    Region::from_proper_rings([corners.map(|(x, y)| Point::from_mm(x, y).expect("on the grid"))])
}

fn paths(block: &Block) -> Vec<Vec<Point>> {
    match &block.paths {
        Paths::Segments(marks) => marks.iter().map(|m| m.to_vec()).collect(),
        Paths::Polylines { points, ends } => {
            let starts = std::iter::once(&0).chain(ends);
            starts.zip(ends).map(|(&a, &b)| points[a as usize..b as usize].to_vec()).collect()
        }
    }
}

fn length_mm(blocks: &[Block], kind: ExposureKind, region: RegionKind) -> f64 {
    let blocks = blocks.iter().filter(|b| b.kind == kind && b.region == region).cloned().collect();
    stats(&Layer { index: 0, blocks }).mark_length_mm()
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} instead of {expected}");
}

#[test]
fn a_square_gets_two_contours_and_a_hatch_at_the_stated_distances() {
    let done = run(&rectangle(0.0, 0.0, 40.0, 40.0), &recipe());
    let [contour, hatch] = &done.blocks[..] else { panic!("{:?}", done.blocks.len()) };
    assert_eq!((contour.kind, contour.exposure, contour.placement), (ExposureKind::Contour, 0, 7));
    assert_eq!(
        (hatch.kind, hatch.exposure, hatch.region),
        (ExposureKind::Hatch, 1, RegionKind::Core)
    );
    let contours = paths(contour);
    assert_eq!(contours.len(), 2);
    for (contour, distance) in contours.iter().zip([500_000, 200_000]) {
        assert_eq!(contour.len(), 5);
        assert_eq!(contour[0], contour[4]);
        let (lo, hi) = (distance, 40_000_000 - distance);
        assert!(contour.iter().all(|p| (p.x == lo || p.x == hi) && (p.y == lo || p.y == hi)));
    }
    // innermost contour at 0.5, gap 0.1: lines from 0.6 to 39.4, at 0.7, 0.9 … 39.3
    let lines = paths(hatch);
    assert_eq!(lines.len(), 194);
    assert!(
        lines.iter().all(|l| l[0].x.min(l[1].x) == 600_000 && l[0].x.max(l[1].x) == 39_400_000)
    );
    assert_eq!(done.beam_at, lines.last().map(|l| l[1]));
    assert_eq!(done.thin, scan_strategy::ThinReport::default());
}

#[test]
fn order_and_sequence_are_as_told() {
    let mut r = recipe();
    let contours = r.core.contours.as_mut().unwrap();
    contours.order = ContourOrder::OutsideIn;
    contours.exposures = vec!["soft".to_owned(), "outer".to_owned()];
    r.core.sequence = Sequence::HatchFirst;
    let done = run(&rectangle(0.0, 0.0, 10.0, 10.0), &r);
    let kinds: Vec<_> = done.blocks.iter().map(|b| (b.kind, b.exposure)).collect();
    let (hatch, contour) = (ExposureKind::Hatch, ExposureKind::Contour);
    assert_eq!(kinds, [(hatch, 1), (contour, 3), (contour, 0)]);
    let first = &paths(&done.blocks[1])[0];
    assert!(first.iter().all(|p| p.x == 200_000 || p.x == 9_800_000));
    // the same contours twice, whatever the start
    let set = |b: &Block| paths(b).into_iter().flatten().collect::<std::collections::BTreeSet<_>>();
    assert_eq!(set(&done.blocks[1]), set(&done.blocks[2]));
}

#[test]
fn without_contours_the_gap_adds_to_the_beam_offset() {
    let mut r = recipe();
    r.core.contours = None;
    let done = run(&rectangle(0.0, 0.0, 10.0, 10.0), &r);
    assert_eq!(done.blocks.len(), 1);
    let (lo, hi) = paths(&done.blocks[0])
        .iter()
        .flatten()
        .fold((i32::MAX, 0), |(lo, hi), p| (lo.min(p.x), hi.max(p.x)));
    assert_eq!((lo, hi), (300_000, 9_700_000));
}

fn pass(spacing_mm: f64, rotated_by_deg: f64) -> HatchPass {
    HatchPass { exposure: "soft".to_owned(), spacing_mm, rotated_by_deg }
}

/// A square of 40 mm with contours inside it: what a run around it reaches is the depth at which it lies.
#[test]
fn a_further_pass_along_the_boundary_has_its_own_depth_and_exposure() {
    let mut r = one_contour();
    let deeper = |deeper_by_mm| ContourPass { exposure: "soft".to_owned(), deeper_by_mm };
    r.core.contours.as_mut().unwrap().further_passes = vec![deeper(0.15), deeper(-0.05)];
    let done = run(&rectangle(0.0, 0.0, 40.0, 40.0), &r);
    let contours = done.blocks.iter().filter(|block| block.kind == ExposureKind::Contour);
    let depths: Vec<(u16, i32)> = contours
        .map(|block| (block.exposure, paths(block).concat().iter().map(|p| p.x).min().unwrap()))
        .collect();
    assert_eq!(depths, [(0, 200_000), (3, 350_000), (3, 150_000)]);
}

/// Lines at (k + ½) · spacing, counted by hand between 0.6 and 39.4 mm.
#[test]
fn a_further_pass_has_its_own_angle_spacing_and_exposure() {
    let mut r = recipe();
    r.core.hatch.as_mut().unwrap().further_passes = vec![pass(0.3, 90.0)];
    let done = run(&rectangle(0.0, 0.0, 40.0, 40.0), &r);
    let [_, first, second] = &done.blocks[..] else { panic!("{:?}", done.blocks.len()) };
    assert_eq!((first.exposure, paths(first).len()), (1, 194));
    assert_eq!((second.exposure, second.kind), (3, ExposureKind::Hatch));
    let lines = paths(second);
    assert_eq!(lines.len(), 129);
    let places: std::collections::BTreeSet<i32> = lines.iter().map(|line| line[0].x).collect();
    assert_eq!(places.first().zip(places.last()), Some((&750_000, &39_150_000)));
    for line in &lines {
        assert_eq!(line[0].x, line[1].x);
        assert_eq!(line[0].y.min(line[1].y), 600_000);
        assert_eq!(line[0].y.max(line[1].y), 39_400_000);
    }
}

/// P/(v·h), summed over passes: 0.03 J/mm² at 0.2 mm and 0.02 J/mm² at 0.3 mm.
#[test]
fn lines_along_a_narrow_wall_bring_the_energy_per_area_of_all_passes() {
    let mut r = one_contour();
    r.core.hatch.as_mut().unwrap().further_passes = vec![pass(0.3, 90.0)];
    let steps = energy_steps(&r, melt()).unwrap().unwrap();
    for width in [0.8, 0.95, 1.05, 1.15, 1.3] {
        let done = run(&rectangle(0.0, -width / 2.0, 20.0, width / 2.0), &r);
        assert!(done.blocks.iter().all(|block| block.kind != ExposureKind::Hatch), "{width}");
        let lines = centrelines(&done);
        assert!(lines.iter().all(|(step, _)| steps.contains(step)));
        near((lines_by_energy(&lines) + 1.0) * 0.006 / (width - 0.4) / 0.05, 1.0, 0.16);
    }
    let done = run(&rectangle(0.0, -0.75, 20.0, 0.75), &r);
    assert!(done.blocks.iter().any(|block| block.kind == ExposureKind::Hatch));
}

#[test]
fn rounds_share_out_what_a_section_is_exposed_to() {
    let mut r = recipe();
    let section = rectangle(0.0, 0.0, 10.0, 10.0);
    let of_round = |r: &Recipe, round| {
        let blocks = run_round(&section, None, r, (0, Some(round))).blocks;
        blocks.into_iter().map(|block| block.kind).collect::<Vec<_>>()
    };
    let (hatch, contour) = (ExposureKind::Hatch, ExposureKind::Contour);
    let all = [Round::BeforeContours, Round::Contours, Round::AfterContours];
    assert_eq!(all.map(|round| of_round(&r, round)), [vec![], vec![contour], vec![hatch]]);
    r.core.sequence = Sequence::HatchFirst;
    assert_eq!(all.map(|round| of_round(&r, round)), [vec![hatch], vec![contour], vec![]]);
}

#[test]
fn hatch_in_every_third_layer_only() {
    let mut r = recipe();
    r.core.hatch.as_mut().unwrap().every_nth_layer = 3;
    let section = rectangle(0.0, 0.0, 10.0, 10.0);
    for layer in 0..7 {
        let done = run_in_layer(&section, None, &r, layer);
        let has_hatch = done.blocks.iter().any(|b| b.kind == ExposureKind::Hatch);
        assert_eq!(has_hatch, layer % 3 == 0, "layer {layer}");
    }
}

#[test]
fn a_thin_wall_gets_a_centreline_and_an_account() {
    // 10 × 10 block with a fin 5 mm long and 0.3 mm thick, too narrow for two contours
    let fin = [
        (0., 0.),
        (10., 0.),
        (10., 4.85),
        (15., 4.85),
        (15., 5.15),
        (10., 5.15),
        (10., 10.),
        (0., 10.),
    ];
    let section = Region::from_proper_rings([fin.map(|(x, y)| Point::from_mm(x, y).unwrap())]);
    let done = run(&section, &recipe());
    let lines = centrelines(&done);
    let (step, fin) = lines.iter().find(|(_, l)| l.iter().any(|p| p.x > 14_000_000)).unwrap();
    // what it melts is as wide as the wall, and ends where the wall ends
    let energy = 30.0 / 5000.0 * energy_factor(*step);
    let (beam, threshold) = (melt().beam, melt().threshold_j_mm2);
    near(beam.width_of_line(energy, threshold), 0.3, 0.012);
    let end = fin.iter().map(|p| p.to_mm()[0]).fold(0.0, f64::max);
    let on_axis = beam.dose_at_edge(beam.peak_of_line(energy), 15.0 - end);
    near(on_axis / threshold, 1.0, 0.02);
    let xs = lines.iter().flat_map(|(_, line)| line).map(|p| p.x);
    assert!(xs.min().unwrap() < 10_200_000); // and into the reach of the contours
    assert!(fin.iter().all(|p| (p.y - 5_000_000).abs() <= 10_000 || p.x < 10_000_000));
    assert!(
        done.thin.rescued_length_mm > 4.6 && done.thin.rescued_length_mm < 5.2,
        "{:?}",
        done.thin
    );
    near(done.thin.rescued_area_mm2, 5.0 * 0.3, 0.1);
    near(done.thin.lost_area_mm2, 0.0, 1e-9);

    let mut r = recipe();
    r.thin_walls = ThinWalls::Skip;
    let done = run(&section, &r);
    assert!(done.blocks.iter().all(|b| b.kind != ExposureKind::Centreline));
    near(done.thin.rescued_length_mm, 0.0, 0.0);
    near(done.thin.lost_length_mm, 5.0, 0.2);
    near(done.thin.lost_area_mm2, 1.5, 0.1);
    assert!(done.thin.largest_lost_at.is_some_and(|p| p.x > 9_500_000));

    r.thin_walls =
        ThinWalls::Expose { exposure: "line".to_owned(), min_length_mm: 0.5, min_width_mm: 0.35 };
    let done = run(&section, &r);
    near(done.thin.lost_area_mm2, 1.5, 0.1);
    near(done.thin.lost_length_mm, 4.85, 0.3);
}

#[test]
fn facing_takes_the_layers_around_and_down_wins() {
    let section = rectangle(0.0, 0.0, 10.0, 10.0);
    let (left, right) = (rectangle(0.0, 0.0, 6.0, 10.0), rectangle(2.0, 0.0, 10.0, 10.0));
    let found = facing(&section, &[&section, &right], &[&left]);
    near(found.down.area_mm2(), 20.0, 1e-9);
    near(found.up.area_mm2(), 40.0, 1e-9);
    let found = facing(&section, &[&right], &[&section, &Region::empty()]);
    near(found.down.area_mm2(), 20.0, 1e-9);
    near(found.up.area_mm2(), 80.0, 1e-9);
    let found = facing(&section, &[&Region::empty()], &[&Region::empty()]);
    assert_eq!((found.down, found.up), (section.clone(), Region::empty()));
    assert_eq!(facing(&section, &[&section, &section], &[&section]), Facing::default());
    assert_eq!(facing(&section, &[], &[]), Facing::default());
    assert_eq!(facing(&Region::empty(), &[&section], &[&section]), Facing::default());
}

#[test]
fn kinds_share_contours_and_hatch_without_seam() {
    let section = rectangle(0.0, 0.0, 20.0, 20.0);
    let faces =
        Facing { up: rectangle(12.0, 0.0, 20.0, 20.0), down: rectangle(0.0, 0.0, 5.0, 5.0) };
    let mut r = recipe();
    let facing = FacingStrategy { layers: 2, strategy: r.core.clone() };
    (r.up_facing, r.down_facing) = (Some(facing.clone()), Some(facing));
    let split = run_in_layer(&section, Some(&faces), &r, 0);
    let whole = run(&section, &r);
    for kind in [ExposureKind::Contour, ExposureKind::Hatch] {
        let parts: f64 = [RegionKind::Core, RegionKind::UpFacing, RegionKind::DownFacing]
            .map(|region| length_mm(&split.blocks, kind, region))
            .iter()
            .sum();
        near(parts, length_mm(&whole.blocks, kind, RegionKind::Core), 1e-3);
    }
    // no contour runs inside the section
    let deep = inset(&section, 600_000, Join::Mitre { limit: 4.0 });
    for block in split.blocks.iter().filter(|b| b.kind == ExposureKind::Contour) {
        for p in paths(block).iter().flatten() {
            assert_eq!(deep.contains(*p), region::Containment::Outside, "{p:?}");
        }
    }
    // hatch of the down-facing corner: up to 5 mm
    let hatch = length_mm(&split.blocks, ExposureKind::Hatch, RegionKind::DownFacing);
    near(hatch, 22.0 * 4.4, 1e-3);
    // a kind without a strategy of its own counts as core
    r.up_facing = None;
    let split = run_in_layer(&section, Some(&faces), &r, 0);
    assert!(split.blocks.iter().all(|b| b.region != RegionKind::UpFacing));
    // a section that is all of one kind has whole contours of that kind
    let faces = Facing { up: Region::empty(), down: section.clone() };
    let down = run_in_layer(&section, Some(&faces), &r, 0);
    assert!(down.blocks.iter().all(|b| b.region == RegionKind::DownFacing));
    near(
        length_mm(&down.blocks, ExposureKind::Contour, RegionKind::DownFacing),
        2.0 * 4.0 * 20.0 - 8.0 * 0.7,
        1e-9,
    );
}

#[test]
fn contours_stay_closed_where_only_the_hatch_changes() {
    let section = rectangle(0.0, 0.0, 20.0, 20.0);
    let faces = Facing { up: Region::empty(), down: rectangle(0.0, 0.0, 5.0, 5.0) };
    let mut r = recipe();
    let mut strategy = r.core.clone();
    strategy.hatch.as_mut().unwrap().exposures = vec!["soft".to_owned()];
    strategy.contours.as_mut().unwrap().start = StartPoint::SharpestCorner;
    r.core.sequence = Sequence::HatchFirst;
    r.down_facing = Some(FacingStrategy { layers: 2, strategy });
    let done = run_in_layer(&section, Some(&faces), &r, 0);
    let order: Vec<_> = done.blocks.iter().map(|b| (b.kind, b.region)).collect();
    let (core, down) = (RegionKind::Core, RegionKind::DownFacing);
    let hatch = ExposureKind::Hatch;
    assert_eq!(order, [(hatch, core), (ExposureKind::Contour, core), (hatch, down)]);
    assert!(paths(&done.blocks[1]).iter().all(|path| path.first() == path.last()));
    // with an exposure of their own they are cut
    let facing = r.down_facing.as_mut().unwrap();
    facing.strategy.contours.as_mut().unwrap().exposures = vec!["soft".to_owned()];
    let done = run_in_layer(&section, Some(&faces), &r, 0);
    let contours = done.blocks.iter().filter(|b| b.kind == ExposureKind::Contour);
    assert!(contours.flat_map(paths).all(|path| path.first() != path.last()));
}

/// One contour at 0.2 mm, hatch every 0.2 mm.
/// A stripe and a corner that face powder cut the contour of a square of 20 mm into five pieces; run in turn they
/// are the whole contour, 4 · (20 − 2 · 0.2) mm, and the beam stays down.
#[test]
fn where_the_exposure_changes_along_a_contour_the_beam_goes_on_without_a_jump() {
    let section = rectangle(0.0, 0.0, 20.0, 20.0);
    let mut down = rectangle(0.0, 0.0, 5.0, 5.0);
    down.append(&rectangle(12.013, 0.0, 15.007, 20.0));
    let faces = Facing { up: Region::empty(), down };
    let mut r = one_contour();
    let mut facing = FacingStrategy { layers: 2, strategy: r.core.clone() };
    facing.strategy.contours.as_mut().unwrap().exposures = vec!["soft".to_owned()];
    r.down_facing = Some(facing);
    let done = run_in_layer(&section, Some(&faces), &r, 0);
    let contours: Vec<&Block> =
        done.blocks.iter().filter(|block| block.kind == ExposureKind::Contour).collect();
    assert!(contours.len() >= 6, "{}", contours.len());
    for pair in contours.windows(2) {
        assert_ne!(pair[0].exposure, pair[1].exposure);
        assert_eq!(pair[0].paths.points().last(), pair[1].paths.points().first());
    }
    let all = [RegionKind::Core, RegionKind::DownFacing];
    let length = all.map(|kind| length_mm(&done.blocks, ExposureKind::Contour, kind));
    near(length.iter().sum(), 4.0 * 19.6, 1e-5);
}

fn one_contour() -> Recipe {
    let mut recipe = recipe();
    recipe.core.contours.as_mut().unwrap().count = 1;
    recipe
}

#[test]
fn a_narrow_wall_gets_lines_along_it_by_its_width() {
    let r = one_contour();
    let steps = energy_steps(&r, melt()).unwrap().unwrap();
    // width; contours, lines along the wall, hatch
    for (width, wanted) in [
        (0.3, [0, 1, 0]),
        (0.48, [0, 1, 0]), // two contours would push each other out
        (0.6, [1, 0, 0]),  // they do without more
        (0.8, [1, 1, 0]),  // one spacing between contour and middle
        (0.95, [1, 1, 0]), // a ring, closed, and no room in it
        (1.15, [1, 2, 0]), // a ring and a middle
        (1.5, [1, 0, 1]),
    ] {
        let done = run(&rectangle(0.0, -width / 2.0, 20.0, width / 2.0), &r);
        let count = |kind| -> usize {
            let blocks = done.blocks.iter().filter(|b| b.kind == kind);
            blocks.map(|b| b.paths.len()).sum()
        };
        let lines = centrelines(&done);
        let hatched = usize::from(count(ExposureKind::Hatch) > 0);
        let found = [count(ExposureKind::Contour), lines.len(), hatched];
        assert_eq!(found, wanted, "{width} mm");
        assert!(lines.iter().all(|(step, _)| steps.contains(step)));
        // the energy between the contours is that of the hatch, 0.03 J/mm²
        if width > 0.7 && hatched == 0 {
            near((lines_by_energy(&lines) + 1.0) * 0.006 / (width - 0.4) / 0.03, 1.0, 0.16);
        }
    }
}

#[test]
fn a_wall_that_widens_changes_its_lines_without_a_gap() {
    let corners = [(0.0, -0.1), (20.0, -0.75), (20.0, 0.75), (0.0, 0.1)];
    let wedge = corners.map(|(x, y)| Point::from_mm(x, y).unwrap());
    let done = run(&Region::from_proper_rings([wedge]), &one_contour());
    // until the contours begin the line goes on without a jump
    let mut middle: Vec<_> = centrelines(&done)
        .into_iter()
        .filter(|(_, line)| line.iter().all(|p| p.y.abs() < 20_000))
        .map(|(step, line)| {
            let ends = [line[0].x, line[line.len() - 1].x];
            (ends[0].min(ends[1]), ends[0].max(ends[1]), step)
        })
        .collect();
    middle.sort_unstable();
    let single = middle.iter().take_while(|line| line.1 < 4_800_000).count();
    assert!(single >= 8, "{middle:?}");
    for pair in middle[..single].windows(2) {
        assert!((pair[0].1 - pair[1].0).abs() <= 1 && pair[0].2 < pair[1].2, "{pair:?}");
    }
}

#[test]
fn holes_have_a_beam_offset_of_their_own() {
    let section = difference(&rectangle(0.0, 0.0, 20.0, 20.0), &rectangle(5.0, 5.0, 12.0, 12.0));
    for at_holes in [0.1, 0.2, 0.3] {
        let mut r = one_contour();
        r.hole_offset_mm = Some(at_holes);
        let done = run(&section, &r);
        let block = done.blocks.iter().find(|b| b.kind == ExposureKind::Contour).unwrap();
        let mut lows: Vec<_> =
            paths(block).iter().map(|path| path.iter().map(|p| p.x).min().unwrap()).collect();
        lows.sort_unstable();
        near(f64::from(lows[0]), 0.2e6, 1.0);
        near(f64::from(lows[1]), (5.0 - at_holes) * 1e6, 1.0);
    }
}

#[test]
fn islands_are_finished_one_after_the_other_from_where_the_beam_is() {
    let mut section = Region::empty();
    for x in [0.0, 30.0, 10.0, 20.0] {
        section.append(&rectangle(x, 0.0, x + 5.0, 5.0));
    }
    let done = run(&section, &recipe());
    let lefts: Vec<_> = paths(&done.blocks[0])
        .iter()
        .map(|p| p.iter().map(|p| p.x).min().unwrap() / 1_000_000)
        .collect();
    assert_eq!(lefts, [0, 0, 10, 10, 20, 20, 30, 30]);
    let found = stats(&Layer { index: 0, blocks: done.blocks });
    // twice along the row and once per line; whole-line sweeps would take 19 × 30 mm
    assert!(found.jump_length_mm() < 100.0, "{found:?}");
}

#[test]
fn a_recipe_that_cannot_be_carried_out_says_why() {
    let section = rectangle(0.0, 0.0, 5.0, 5.0);
    let index = |name: &str| (name != "fill").then_some(0);
    let r = recipe();
    let run = |recipe: &Recipe, section: &Region| {
        let context = Context { exposure_index: &index, ..context(recipe) };
        expose(section, None, &context)
    };
    let sentence = run(&r, &section).unwrap_err().to_string();
    assert!(sentence.contains("no exposure named \"fill\""), "{sentence}");
    for break_it in [
        (|r| r.beam_offset_mm = f64::NAN) as fn(&mut Recipe),
        |r| r.core.contours.as_mut().unwrap().spacing_mm = 0.0,
        |r| r.core.contours.as_mut().unwrap().spacing_mm = f64::INFINITY,
        |r| r.core.hatch.as_mut().unwrap().gap_mm = 1e9,
        |r| r.core.hatch.as_mut().unwrap().rotation_per_layer_deg = f64::NAN,
    ] {
        let mut r = recipe();
        r.core.hatch.as_mut().unwrap().exposures = vec!["outer".to_owned()];
        break_it(&mut r);
        assert!(run(&r, &section).is_err());
    }
    let mut r = recipe();
    r.core.hatch = None;
    let nothing = run(&r, &Region::empty()).unwrap();
    assert!(nothing.blocks.is_empty());
}

#[test]
fn empty_blocks_are_left_out_and_marks_stay_inside_the_offset() {
    // too small for two contours and a hatch
    let done = run(&rectangle(0.0, 0.0, 0.9, 0.9), &recipe());
    assert_eq!(done.blocks.len(), 1);
    let ring = rectangle(0.0, 0.0, 12.0, 9.0);
    let section = difference(&ring, &rectangle(3.0, 3.0, 8.0, 5.0));
    let mut r = recipe();
    r.joins = Joins::Round { chord_tolerance_um: 2.0 };
    let allowed = inset(&section, 199_998, Join::Round { chord_tolerance_nm: 100 });
    for layer in 0..4 {
        for block in run_in_layer(&section, None, &r, layer).blocks {
            for p in paths(&block).iter().flatten() {
                assert_ne!(allowed.contains(*p), region::Containment::Outside, "{p:?}");
            }
        }
    }
}
