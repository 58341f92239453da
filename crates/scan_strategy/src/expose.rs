//! A section and a recipe to blocks of vectors.
//!
//! Contours follow only the part's true boundary: contour `i` is the boundary of the section
//! inset by offset + `i` · spacing, cut to the kinds of region whose strategy it is. Hatch fills
//! the section inset once more by the gap, cut likewise, so that the hatches of adjoining kinds
//! meet without a seam and no contour runs between them. Walls too narrow for that: see
//! [`walls`](crate::walls).

use crate::angle::pass_angle_deg;
use crate::body::Body;
use crate::distance::{distance_nm, off_grid};
use crate::error::ExposeError;
use crate::facing::Facing;
use crate::fill::{Area, FillScratch, fill_by};
use crate::frame::MIN_SPACING_NM;
use crate::holes::with_holes_widened;
use crate::kind::{Kind, Rim, can_be_chained, kinds, rims};
use crate::order::JumpsOf;
use crate::polyline::{Group, Polyline, go_on_from, order_each, order_polylines};
use crate::thin::{Rescue, ThinReport};
use crate::walls::energy::{single_below, step_for};
use crate::walls::line::{line_energy, pass_energy};
use crate::walls::melt::Melt;
use crate::walls::rules::Rules;
use base::{NM_PER_MM, Point};
use job::Recipe;
use job::recipe::{ContourOrder, Contours, Joins, PathOrder, Sequence, StartPoint, ThinWalls};
use motion::Jumps;
use region::{Join, Region};
use scan_path::{Block, ExposureKind, Paths, RegionKind};

/// Part of what a section is exposed to, so that the same of all placements can come together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Round {
    /// Hatch that comes before contours, with the lines along narrow walls in its place.
    BeforeContours,
    /// Contours.
    Contours,
    /// The other hatch likewise, and centrelines of thin walls.
    AfterContours,
}

/// What a section is exposed with.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// The process parameters.
    pub recipe: &'a Recipe,
    /// Layer number, from 0.
    pub layer: u32,
    /// Direction in which the spreader travels, degrees from +X.
    pub spreading_direction_deg: f64,
    /// Index into the placement table, for the blocks.
    pub placement: u32,
    /// Index into the exposure table of an exposure of this recipe, by name.
    pub exposure_index: &'a (dyn Fn(&str) -> Option<u16> + Sync),
    /// What the beam melts.
    pub melt: Melt,
    /// Index into the exposure table of the exposure of thin walls with its energy changed by
    /// a step, see [`energy_steps`](crate::energy_steps).
    pub wall_exposure_index: &'a (dyn Fn(i32) -> Option<u16> + Sync),
    /// What of it is exposed; all when absent.
    pub round: Option<Round>,
    /// How long jumps take, for an order in which they are short; without it the nearest is always next.
    pub jumps: Option<&'a Jumps>,
    /// Where the beam comes from; `None` at the start of a layer.
    pub beam_at: Option<Point>,
}

impl<'a> Context<'a> {
    /// How long jumps of an exposure take, unless the recipe wants the nearest next.
    fn jumps_of(&self, exposure: u16) -> Option<JumpsOf<'a>> {
        match self.recipe.path_order {
            PathOrder::ShortJumps => self.jumps.map(|jumps| (jumps, exposure)),
            PathOrder::NearestNext => None,
        }
    }
}

/// The vectors of one placement in one layer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Exposed {
    /// Blocks in the order they are run; none is empty.
    pub blocks: Vec<Block>,
    /// What became of walls too thin for contours, whatever the round.
    pub thin: ThinReport,
    /// Where the beam ends; where it came from if there is nothing to expose.
    pub beam_at: Option<Point>,
}

/// Contours, hatch and centrelines of a section, in the order they are run.
///
/// The hatch of those kinds of region that want it first, the contours, the hatch of the others, centrelines;
/// of each core first, then up-facing, then down-facing regions. Without `facing`, or
/// where the recipe has no strategy for a kind, everything counts as core. Kinds with the same exposures
/// along their boundary share their contours, which then stay closed; where the exposure changes along
/// a contour, the beam goes on without a jump. Narrow walls get lines along them instead of hatch,
/// run after it. Exposures listed one after the other each run the whole of a region's contours or
/// hatch. Hatch that is due only in every n-th layer is left out in the others. `section` must be proper.
///
/// # Errors
/// [`ExposeError`] if the recipe cannot be carried out; a validated recipe always can.
pub fn expose(
    section: &Region,
    facing: Option<&Facing>,
    context: &Context<'_>,
) -> Result<Exposed, ExposeError> {
    expose_after(section, facing, context, &mut Known::default())
}

/// What was worked out about the last section of a placement with one recipe: its insets and walls.
#[derive(Default)]
pub struct Known(Option<Worked>);

struct Worked {
    section: Region,
    bodies: Vec<Body>,
    /// What became of thin walls, and their centrelines.
    report: ThinReport,
    singles: Vec<(i32, Polyline)>,
}

/// The same as [`expose()`], and as fast as it gets where the section is the one before.
///
/// # Errors
/// As for [`expose()`].
pub fn expose_after(
    section: &Region,
    facing: Option<&Facing>,
    context: &Context<'_>,
    known: &mut Known,
) -> Result<Exposed, ExposeError> {
    let mut run = Run {
        context,
        scratch: FillScratch::default(),
        done: Exposed { beam_at: context.beam_at, ..Exposed::default() },
    };
    let single_below = single_below(context.recipe, context.melt)?;
    let kinds = kinds(section, facing, context.recipe, single_below)?;
    let mut worked = match known.0.take() {
        Some(worked) if worked.section == *section => worked,
        _ => work_out(section, context, single_below)?,
    };
    let bodies = &mut worked.bodies;
    let is_due = |round| context.round.is_none_or(|only| only == round);
    let hatched = |sequence| kinds.iter().filter(move |k| k.strategy.sequence == sequence);
    if is_due(Round::BeforeContours) {
        for kind in hatched(Sequence::HatchFirst) {
            run.hatch(bodies, kind)?;
        }
    }
    if is_due(Round::Contours) {
        let rims = rims(&kinds);
        if can_be_chained(&rims) {
            run.chained_contours(bodies, &rims)?;
        } else {
            for rim in rims {
                run.contours(bodies, &rim)?;
            }
        }
    }
    if is_due(Round::AfterContours) {
        for kind in hatched(Sequence::ContoursFirst) {
            run.hatch(bodies, kind)?;
        }
        run.along_walls(RegionKind::Core, &worked.singles)?;
    }
    run.done.thin = worked.report.clone();
    known.0 = Some(worked);
    Ok(run.done)
}

/// The islands of a section with their walls; the same for all kinds of region that it may have.
fn work_out(
    section: &Region,
    context: &Context<'_>,
    single_below: i32,
) -> Result<Worked, ExposeError> {
    let recipe = context.recipe;
    let mut narrow_below = 0;
    for strategy in recipe.strategies() {
        let rules = Rules::of(recipe, strategy, single_below)?;
        narrow_below = narrow_below.max(rules.as_ref().map_or(0, Rules::narrow_below));
    }
    let mut rescue = Rescue::new(recipe, context.melt, single_below)?;
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

/// The work on one section.
struct Run<'a> {
    context: &'a Context<'a>,
    scratch: FillScratch,
    done: Exposed,
}

impl Run<'_> {
    fn exposure(&self, name: &str) -> Result<u16, ExposeError> {
        (self.context.exposure_index)(name)
            .ok_or_else(|| ExposeError::UnknownExposure { name: name.to_owned() })
    }

    fn contours(&mut self, bodies: &mut [Body], rim: &Rim<'_>) -> Result<(), ExposeError> {
        let Some(contours) = rim.contours else { return Ok(()) };
        if contours.count > 1 {
            spacing_nm(contours.spacing_mm)?;
        }
        let mut groups: Vec<Group> = Vec::with_capacity(bodies.len());
        for body in bodies.iter_mut() {
            let mut levels = self.levels(body, rim, contours)?;
            if contours.order == ContourOrder::InsideOut {
                levels.reverse();
            }
            if levels.iter().any(|level| !level.is_empty()) {
                groups.push(levels);
            }
        }
        for name in &contours.exposures {
            self.polylines(ExposureKind::Contour, rim.region, name, &groups, contours.start)?;
        }
        for pass in &contours.further_passes {
            let depth = self.context.recipe.contour_pass_depth_nm(pass);
            let depth = depth.map_err(|off| off_grid("a contour's distance", off))?;
            let groups: Vec<Group> = bodies
                .iter_mut()
                .map(|body| {
                    // as the outermost contour, in no wall too narrow for two of them
                    let below = rim.rules.map_or(0, |rules| rules.ring_from_width(0) / 2);
                    let rings = body.wide(depth, below).rings();
                    vec![rings.flat_map(|ring| rim.place.cut_ring(ring)).collect()]
                })
                .filter(|levels: &Group| levels.iter().any(|level| !level.is_empty()))
                .collect();
            self.polylines(
                ExposureKind::Contour,
                rim.region,
                &pass.exposure,
                &groups,
                contours.start,
            )?;
        }
        Ok(())
    }

    /// The contours of one island, from the outermost on, as far as there are any.
    fn levels(
        &self,
        body: &mut Body,
        rim: &Rim<'_>,
        contours: &Contours,
    ) -> Result<Group, ExposeError> {
        let mut levels = Group::new();
        for number in 0..contours.count {
            let region = if let Some(rules) = rim.rules {
                body.ring_region(number as usize, rules)
            } else {
                let depth = self.context.recipe.contour_depth_nm(contours, number);
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
    /// next goes on, since its piece is the nearest.
    fn chained_contours(
        &mut self,
        bodies: &mut [Body],
        rims: &[Rim<'_>],
    ) -> Result<(), ExposeError> {
        let mut levels: Vec<Vec<(usize, Polyline)>> = Vec::new();
        let Some(first) = rims.iter().find_map(|rim| rim.contours) else { return Ok(()) };
        for body in bodies.iter_mut() {
            let mut of_body: Vec<Vec<(usize, Polyline)>> = Vec::new();
            for (tag, rim) in rims.iter().enumerate() {
                let Some(contours) = rim.contours else { continue };
                for (number, level) in self.levels(body, rim, contours)?.into_iter().enumerate() {
                    of_body.resize(of_body.len().max(number + 1), Vec::new());
                    of_body[number].extend(level.into_iter().map(|line| (tag, line)));
                }
            }
            if first.order == ContourOrder::InsideOut {
                of_body.reverse();
            }
            levels.extend(of_body);
        }
        for lines in levels {
            let mut at = self.done.beam_at;
            let runs =
                order_each(&lines, (first.start, self.context.layer), None, &mut self.done.beam_at);
            for (tag, mut paths) in runs {
                go_on_from(at, &mut paths);
                at = paths.points().last().copied();
                let exposure = rims[tag].contours.and_then(|contours| contours.exposures.first());
                let exposure = exposure.map(|name| self.exposure(name)).transpose()?;
                if let Some(exposure) = exposure {
                    self.push(exposure, ExposureKind::Contour, rims[tag].region, paths);
                }
            }
        }
        Ok(())
    }

    fn hatch(&mut self, bodies: &mut [Body], kind: &Kind<'_>) -> Result<(), ExposeError> {
        let layer = self.context.layer;
        let Some(hatch) = kind.strategy.hatch.as_ref() else { return Ok(()) };
        if !layer.is_multiple_of(hatch.every_nth_layer.max(1)) {
            return Ok(());
        }
        let contours = kind.strategy.contours.as_ref();
        let distance = self.context.recipe.hatch_depth_nm(contours, hatch);
        let distance = distance.map_err(|off| off_grid("the hatch's depth", off))?;
        let below = kind.rules.as_ref().map_or(0, |rules| rules.narrow_below() / 2);
        let (mut region, mut walls) = (Region::empty(), Region::empty());
        for body in bodies.iter_mut() {
            region.append(body.inset(distance));
            if below > distance {
                walls.append(body.narrow(below));
            }
        }
        let without = Some(&walls).filter(|walls| !walls.is_empty());
        let area = Area { region: &region, without, within: kind.place.within.as_ref() };
        for pass in hatch.passes() {
            let exposure = self.exposure(&pass.exposure)?;
            let spreading = self.context.spreading_direction_deg;
            let lines = (pass_angle_deg(hatch, &pass, layer, spreading), pass.spacing_mm);
            let jumps = self.context.jumps_of(exposure);
            let beam_at = &mut self.done.beam_at;
            let marks = fill_by(area, hatch, lines, jumps, beam_at, &mut self.scratch)?;
            if !marks.is_empty() {
                let paths = Paths::Segments(marks);
                self.push(exposure, ExposureKind::Hatch, kind.region, paths);
            }
            self.lines_along(bodies, kind, pass_energy(self.context.recipe, hatch, &pass)?)?;
        }
        Ok(())
    }

    /// What narrow walls get instead of a pass of the hatch: rings and lines along them, each with the
    /// pass's energy, J/mm.
    fn lines_along(
        &mut self,
        bodies: &mut [Body],
        kind: &Kind<'_>,
        energy_j_mm: f64,
    ) -> Result<(), ExposeError> {
        let recipe = self.context.recipe;
        let (Some(rules), ThinWalls::Expose { exposure, .. }) = (&kind.rules, &recipe.thin_walls)
        else {
            return Ok(());
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
        self.along_walls(kind.region, &lines)
    }

    /// Lines with the step of their energy, nearest first; one block for as long as the energy stays.
    fn along_walls(
        &mut self,
        region: RegionKind,
        lines: &[(i32, Polyline)],
    ) -> Result<(), ExposeError> {
        let first = lines.first().and_then(|(step, _)| (self.context.wall_exposure_index)(*step));
        let jumps = first.and_then(|exposure| self.context.jumps_of(exposure));
        let beam_at = &mut self.done.beam_at;
        let start = (StartPoint::Nearest, self.context.layer);
        for (step, paths) in order_each(lines, start, jumps, beam_at) {
            let exposure = (self.context.wall_exposure_index)(step);
            let exposure = exposure.ok_or(ExposeError::UnknownStep { step })?;
            self.push(exposure, ExposureKind::Centreline, region, paths);
        }
        Ok(())
    }

    fn polylines(
        &mut self,
        kind: ExposureKind,
        region: RegionKind,
        exposure: &str,
        groups: &[Group],
        start: StartPoint,
    ) -> Result<(), ExposeError> {
        let exposure = self.exposure(exposure)?;
        let jumps = self.context.jumps_of(exposure);
        let start = (start, self.context.layer);
        let paths = order_polylines(groups, start, jumps, &mut self.done.beam_at);
        if let Some(paths) = paths {
            self.push(exposure, kind, region, paths);
        }
        Ok(())
    }

    fn push(&mut self, exposure: u16, kind: ExposureKind, region: RegionKind, paths: Paths) {
        let placement = self.context.placement;
        self.done.blocks.push(Block { placement, exposure, kind, region, paths });
    }
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
