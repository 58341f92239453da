//! What a section is exposed to, wherever it lies and whenever it is run: its insets, its walls and its
//! kinds of region.
//!
//! Copies of a part share it. Only the hatch, whose lines are anchored to the build space, and the order of
//! all marks are made for each.

use crate::body::Body;
use crate::distance::{distance_nm, off_grid};
use crate::error::ExposeError;
use crate::facing::Facing;
use crate::frame::MIN_SPACING_NM;
use crate::holes::with_holes_widened;
use crate::kind::{Kind, Rim, can_be_chained, kinds, rims};
use crate::polyline::{Group, Polyline};
use crate::thin::{Rescue, ThinReport};
use crate::walls::energy::{single_below, step_for};
use crate::walls::line::{line_energy, pass_energy};
use crate::walls::melt::Melt;
use crate::walls::rules::Rules;
use base::NM_PER_MM;
use job::Recipe;
use job::recipe::{ContourOrder, Contours, Joins, Sequence, StartPoint, ThinWalls};
use region::{Join, Region};
use scan_path::RegionKind;

/// A section made ready for [`expose_prepared`](crate::expose_prepared), with one recipe.
#[derive(Clone, Debug)]
pub struct Prepared {
    pub(crate) fillings: Vec<Filling>,
    pub(crate) outlines: Outlines,
    pub(crate) report: ThinReport,
    /// Centrelines of thin walls, with the step of their energy.
    pub(crate) singles: Vec<(i32, Polyline)>,
}

/// What is hatched of one kind of region.
#[derive(Clone, Debug)]
pub(crate) struct Filling {
    pub(crate) kind: RegionKind,
    /// What the ends of lines may touch.
    pub(crate) inside: Region,
    /// Narrow walls, which have no hatch.
    pub(crate) walls: Region,
    /// The kind of region; everywhere if absent.
    pub(crate) within: Option<Region>,
    /// For each pass of the hatch the lines along narrow walls, with the step of their energy.
    pub(crate) along: Vec<Vec<(i32, Polyline)>>,
}

/// The contours of a section.
#[derive(Clone, Debug)]
pub(crate) enum Outlines {
    /// One rim after the other.
    Apart(Vec<Outline>),
    /// All rims level by level, so that the beam can go on from one to the next.
    Chained {
        start: StartPoint,
        /// The first kind of region of each rim.
        rims: Vec<RegionKind>,
        /// Each line with the number of its rim.
        levels: Vec<Vec<(usize, Polyline)>>,
    },
}

/// The contours of one rim.
#[derive(Clone, Debug)]
pub(crate) struct Outline {
    /// The first of its kinds of region.
    pub(crate) kind: RegionKind,
    /// Of each island.
    pub(crate) contours: Vec<Group>,
    /// Of each island, for each further pass.
    pub(crate) passes: Vec<Vec<Group>>,
}

/// What was worked out about the last section of a part with one recipe: its insets and walls.
#[derive(Default)]
pub struct Known(Option<Worked>);

struct Worked {
    section: Region,
    bodies: Vec<Body>,
    /// What became of thin walls, and their centrelines.
    report: ThinReport,
    singles: Vec<(i32, Polyline)>,
}

/// Works out what a section is exposed to; fast where `known`, made with the same recipe and melt, is of
/// the same section.
///
/// `section` must be proper. Without `facing`, or where the recipe has no strategy for a kind, everything
/// counts as core.
///
/// # Errors
/// [`ExposeError`] if the recipe cannot be carried out; a validated recipe always can.
pub fn prepare(
    section: &Region,
    facing: Option<&Facing>,
    (recipe, melt): (&Recipe, Melt),
    known: &mut Known,
) -> Result<Prepared, ExposeError> {
    let single_below = single_below(recipe, melt)?;
    let kinds = kinds(section, facing, recipe, single_below)?;
    let mut worked = match known.0.take() {
        Some(worked) if worked.section == *section => worked,
        _ => work_out(section, recipe, melt, single_below)?,
    };
    let bodies = &mut worked.bodies;
    let fillings = |bodies: &mut [Body], sequence| {
        let kinds = kinds.iter().filter(move |kind| kind.strategy.sequence == sequence);
        let found = kinds.map(|kind| filling(recipe, bodies, kind));
        found.filter_map(Result::transpose).collect::<Result<Vec<_>, ExposeError>>()
    };
    let mut all = fillings(bodies, Sequence::HatchFirst)?;
    let outlines = outlines(recipe, bodies, &rims(&kinds))?;
    all.extend(fillings(bodies, Sequence::ContoursFirst)?);
    let (report, singles) = (worked.report.clone(), worked.singles.clone());
    known.0 = Some(worked);
    Ok(Prepared { fillings: all, outlines, report, singles })
}

/// The islands of a section with their walls; the same for all kinds of region that it may have.
fn work_out(
    section: &Region,
    recipe: &Recipe,
    melt: Melt,
    single_below: i32,
) -> Result<Worked, ExposeError> {
    let mut narrow_below = 0;
    for strategy in recipe.strategies() {
        let rules = Rules::of(recipe, strategy, single_below)?;
        narrow_below = narrow_below.max(rules.as_ref().map_or(0, Rules::narrow_below));
    }
    let mut rescue = Rescue::new(recipe, melt, single_below)?;
    let mut bodies = Vec::new();
    let join = join(recipe.joins);
    let past = recipe.hole_offset_mm.map_or(0.0, |offset| offset - recipe.beam_offset_mm);
    let widened_by = distance_nm("a beam offset at holes", past)?;
    for island in section.islands() {
        for island in with_holes_widened(island, widened_by, join).islands() {
            let mut body = Body::new(island, join);
            rescue.add(&mut body, narrow_below)?;
            bodies.push(body);
        }
    }
    let (report, singles) = (rescue.report, rescue.lines);
    Ok(Worked { section: section.clone(), bodies, report, singles })
}

/// The contours of all rims.
fn outlines(
    recipe: &Recipe,
    bodies: &mut [Body],
    rims: &[Rim<'_>],
) -> Result<Outlines, ExposeError> {
    if can_be_chained(rims) {
        return chained(recipe, bodies, rims);
    }
    let of_rim = |rim: &Rim<'_>| Some(outline(recipe, bodies, rim, rim.contours?));
    Ok(Outlines::Apart(rims.iter().filter_map(of_rim).collect::<Result<_, _>>()?))
}

fn outline(
    recipe: &Recipe,
    bodies: &mut [Body],
    rim: &Rim<'_>,
    contours: &Contours,
) -> Result<Outline, ExposeError> {
    if contours.count > 1 {
        spacing_nm(contours.spacing_mm)?;
    }
    let mut groups: Vec<Group> = Vec::with_capacity(bodies.len());
    for body in bodies.iter_mut() {
        let mut levels = levels(recipe, body, rim, contours)?;
        if contours.order == ContourOrder::InsideOut {
            levels.reverse();
        }
        if levels.iter().any(|level| !level.is_empty()) {
            groups.push(levels);
        }
    }
    let mut passes = Vec::with_capacity(contours.further_passes.len());
    for pass in &contours.further_passes {
        let depth = recipe.contour_pass_depth_nm(pass);
        let depth = depth.map_err(|off| off_grid("a contour's distance", off))?;
        let of_body = |body: &mut Body| -> Group {
            // as the outermost contour, in no wall too narrow for two of them
            let below = rim.rules.map_or(0, |rules| rules.ring_from_width(0) / 2);
            let rings = body.wide(depth, below).rings();
            vec![rings.flat_map(|ring| rim.place.cut_ring(ring)).collect()]
        };
        let of_bodies = bodies.iter_mut().map(of_body);
        passes.push(of_bodies.filter(|levels| levels.iter().any(|l| !l.is_empty())).collect());
    }
    Ok(Outline { kind: rim.region, contours: groups, passes })
}

/// The contours of one island, from the outermost on, as far as there are any.
fn levels(
    recipe: &Recipe,
    body: &mut Body,
    rim: &Rim<'_>,
    contours: &Contours,
) -> Result<Group, ExposeError> {
    let mut levels = Group::new();
    for number in 0..contours.count {
        let region = if let Some(rules) = rim.rules {
            body.ring_region(number as usize, rules)
        } else {
            let depth = recipe.contour_depth_nm(contours, number);
            let depth = depth.map_err(|off| off_grid("a contour's distance", off))?;
            body.inset(depth)
        };
        if region.is_empty() {
            break; // deeper ones are empty too
        }
        levels.push(region.rings().flat_map(|ring| rim.place.cut_ring(ring)).collect());
    }
    Ok(levels)
}

/// The contours of several rims, level by level: where one exposure ends along a contour, the
/// next can go on.
fn chained(
    recipe: &Recipe,
    bodies: &mut [Body],
    rims: &[Rim<'_>],
) -> Result<Outlines, ExposeError> {
    let first = rims.iter().find_map(|rim| rim.contours);
    let is_inside_out = first.is_some_and(|first| first.order == ContourOrder::InsideOut);
    let start = first.map_or(StartPoint::Nearest, |first| first.start);
    let mut all: Vec<Vec<(usize, Polyline)>> = Vec::new();
    for body in bodies.iter_mut() {
        let mut of_body: Vec<Vec<(usize, Polyline)>> = Vec::new();
        for (tag, rim) in rims.iter().enumerate() {
            let Some(contours) = rim.contours else { continue };
            for (number, level) in levels(recipe, body, rim, contours)?.into_iter().enumerate() {
                of_body.resize(of_body.len().max(number + 1), Vec::new());
                of_body[number].extend(level.into_iter().map(|line| (tag, line)));
            }
        }
        if is_inside_out {
            of_body.reverse();
        }
        all.extend(of_body);
    }
    let rims = rims.iter().map(|rim| rim.region).collect();
    Ok(Outlines::Chained { start, rims, levels: all })
}

/// What is hatched of a kind of region; `None` if it has no hatch.
fn filling(
    recipe: &Recipe,
    bodies: &mut [Body],
    kind: &Kind<'_>,
) -> Result<Option<Filling>, ExposeError> {
    let Some(hatch) = kind.strategy.hatch.as_ref() else { return Ok(None) };
    let contours = kind.strategy.contours.as_ref();
    let distance = recipe.hatch_depth_nm(contours, hatch);
    let distance = distance.map_err(|off| off_grid("the hatch's depth", off))?;
    let below = kind.rules.as_ref().map_or(0, |rules| rules.narrow_below() / 2);
    let (mut inside, mut walls) = (Region::empty(), Region::empty());
    for body in bodies.iter_mut() {
        inside.append(body.inset(distance));
        if below > distance {
            walls.append(body.narrow(below));
        }
    }
    let mut along = Vec::new();
    for pass in hatch.passes() {
        along.push(lines_along(recipe, bodies, kind, pass_energy(recipe, hatch, &pass)?)?);
    }
    let within = kind.place.within.clone();
    Ok(Some(Filling { kind: kind.region, inside, walls, within, along }))
}

/// What narrow walls get instead of a pass of the hatch: rings and lines along them, each with the
/// step of its energy, from the pass's, J/mm.
fn lines_along(
    recipe: &Recipe,
    bodies: &mut [Body],
    kind: &Kind<'_>,
    energy_j_mm: f64,
) -> Result<Vec<(i32, Polyline)>, ExposeError> {
    let (Some(rules), ThinWalls::Expose { exposure, .. }) = (&kind.rules, &recipe.thin_walls)
    else {
        return Ok(Vec::new());
    };
    let of_hatch = energy_j_mm / line_energy(recipe, exposure)?;
    let mut lines = Vec::new();
    for body in bodies {
        let walls = body.narrow_walls(rules, kind.place.within.as_ref());
        if walls.is_empty() {
            continue;
        }
        let rings = body.rings_along(rules, &walls);
        lines.extend(rings.into_iter().map(|ring| (step_for(of_hatch), ring)));
        lines.extend(body.lines_along(rules, &walls, |share| step_for(share * of_hatch)));
    }
    Ok(lines)
}

impl Prepared {
    /// About how much memory it takes, bytes.
    pub fn bytes(&self) -> usize {
        let lines =
            |lines: &[(i32, Polyline)]| lines.iter().map(|(_, l)| of_line(l)).sum::<usize>();
        let fillings = self.fillings.iter().map(|filling| {
            let within = filling.within.as_ref().map_or(0, of_region);
            let along = filling.along.iter().map(|along| lines(along)).sum::<usize>();
            of_region(&filling.inside) + of_region(&filling.walls) + within + along
        });
        let groups =
            |groups: &[Group]| groups.iter().flatten().flatten().map(of_line).sum::<usize>();
        let outlines = match &self.outlines {
            Outlines::Apart(rims) => {
                let of_rim = |rim: &Outline| {
                    groups(&rim.contours) + rim.passes.iter().map(|p| groups(p)).sum::<usize>()
                };
                rims.iter().map(of_rim).sum::<usize>()
            }
            Outlines::Chained { levels, .. } => {
                levels.iter().flatten().map(|(_, line)| of_line(line)).sum()
            }
        };
        size_of::<Self>() + fillings.sum::<usize>() + outlines + lines(&self.singles)
    }
}

fn of_line(line: &Polyline) -> usize {
    size_of::<(i32, Polyline)>() + size_of_val(&line.points[..])
}

fn of_region(region: &Region) -> usize {
    size_of_val(region.points()) + region.ring_count() * size_of::<u32>()
}

fn spacing_nm(mm: f64) -> Result<i32, ExposeError> {
    let nm = distance_nm("a contour spacing", mm)?;
    if f64::from(nm) < MIN_SPACING_NM {
        let advice = "give at least 0.001 mm";
        return Err(ExposeError::Distance { what: "a contour spacing", mm, advice });
    }
    Ok(nm)
}

fn join(joins: Joins) -> Join {
    match joins {
        Joins::Round { chord_tolerance_um } => {
            // below 1 nm there is nothing left to approximate; NaN becomes 1
            let nm = (chord_tolerance_um * NM_PER_MM / 1000.0).clamp(1.0, 1e9);
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
            let chord_tolerance_nm = (nm as u32).max(1);
            Join::Round { chord_tolerance_nm }
        }
        Joins::Mitre { limit } => Join::Mitre { limit },
    }
}
