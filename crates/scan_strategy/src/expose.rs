//! A section and a recipe to blocks of vectors.
//!
//! Contours follow only the part's true boundary: contour `i` is the boundary of the section
//! inset by offset + `i` · spacing, cut to the kinds of region whose strategy it is. Hatch fills
//! the section inset once more by the gap, cut likewise, so that the hatches of adjoining kinds
//! meet without a seam and no contour runs between them. Walls too narrow for that: see
//! [`walls`](crate::walls).

use crate::angle::pass_angle_deg;
use crate::error::ExposeError;
use crate::facing::Facing;
use crate::fill::{Area, FillScratch, fill_by};
use crate::kind::strategy_of;
use crate::moved::Move;
use crate::order::JumpsOf;
use crate::polyline::{Group, Polyline, go_on_from, order_each, order_polylines};
use crate::prepare::{Filling, Known, Outline, Outlines, Prepared, prepare};
use crate::thin::ThinReport;
use crate::walls::melt::Melt;
use base::Point;
use job::Recipe;
use job::recipe::{Contours, Hatch, PathOrder, Sequence, StartPoint};
use motion::Jumps;
use region::Region;
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
    let with = (context.recipe, context.melt);
    let prepared = prepare(section, facing, with, &mut Known::default())?;
    expose_prepared(&prepared, [0, 0], context)
}

/// The same as [`expose()`] of a section that is prepared with the recipe and the melt of `context`, and was
/// since moved to the right and to the back by whole nm.
///
/// # Errors
/// As for [`expose()`], or if a mark leaves the grid.
pub fn expose_prepared(
    prepared: &Prepared,
    moved_nm: [i32; 2],
    context: &Context<'_>,
) -> Result<Exposed, ExposeError> {
    let mut run = Run {
        context,
        moved: Move(moved_nm),
        scratch: FillScratch::default(),
        done: Exposed { beam_at: context.beam_at, ..Exposed::default() },
    };
    let is_due = |round| context.round.is_none_or(|only| only == round);
    if is_due(Round::BeforeContours) {
        run.hatch(prepared, Sequence::HatchFirst)?;
    }
    if is_due(Round::Contours) {
        match &prepared.outlines {
            Outlines::Apart(outlines) => {
                for outline in outlines {
                    run.contours(outline)?;
                }
            }
            Outlines::Chained { start, rims, levels } => {
                for level in levels {
                    run.chained_contours(*start, rims, level)?;
                }
            }
        }
    }
    if is_due(Round::AfterContours) {
        run.hatch(prepared, Sequence::ContoursFirst)?;
        run.along_walls(RegionKind::Core, &prepared.singles)?;
    }
    let at = prepared.report.largest_lost_at;
    let largest_lost_at = at.map(|at| run.moved.point(at)).transpose()?;
    run.done.thin = ThinReport { largest_lost_at, ..prepared.report.clone() };
    Ok(run.done)
}

/// The work on one section.
struct Run<'a> {
    context: &'a Context<'a>,
    /// From where the section was prepared.
    moved: Move,
    scratch: FillScratch,
    done: Exposed,
}

impl<'a> Run<'a> {
    fn exposure(&self, name: &str) -> Result<u16, ExposeError> {
        (self.context.exposure_index)(name)
            .ok_or_else(|| ExposeError::UnknownExposure { name: name.to_owned() })
    }

    fn contours_of(&self, kind: RegionKind) -> Option<&'a Contours> {
        strategy_of(self.context.recipe, kind)?.contours.as_ref()
    }

    fn contours(&mut self, outline: &Outline) -> Result<(), ExposeError> {
        let Some(contours) = self.contours_of(outline.kind) else { return Ok(()) };
        for name in &contours.exposures {
            self.polylines(outline.kind, name, &outline.contours, contours.start)?;
        }
        for (pass, groups) in contours.further_passes.iter().zip(&outline.passes) {
            self.polylines(outline.kind, &pass.exposure, groups, contours.start)?;
        }
        Ok(())
    }

    /// Contours of several rims: where one exposure ends along a contour, the next goes on, since its
    /// piece is the nearest.
    fn chained_contours(
        &mut self,
        start: StartPoint,
        rims: &[RegionKind],
        lines: &[(usize, Polyline)],
    ) -> Result<(), ExposeError> {
        let lines = self.moved.lines(lines)?;
        let mut at = self.done.beam_at;
        let start = (start, self.context.layer);
        for (tag, mut paths) in order_each(&lines, start, None, &mut self.done.beam_at) {
            go_on_from(at, &mut paths);
            at = paths.points().last().copied();
            let Some(&kind) = rims.get(tag) else { continue };
            let name = self.contours_of(kind).and_then(|contours| contours.exposures.first());
            if let Some(name) = name {
                let exposure = self.exposure(name)?;
                self.push(exposure, ExposureKind::Contour, kind, paths);
            }
        }
        Ok(())
    }

    /// The hatch of all kinds of region that have it before or after their contours.
    fn hatch(&mut self, prepared: &Prepared, when: Sequence) -> Result<(), ExposeError> {
        for filling in &prepared.fillings {
            let strategy = strategy_of(self.context.recipe, filling.kind);
            let Some(strategy) = strategy.filter(|strategy| strategy.sequence == when) else {
                continue;
            };
            let Some(hatch) = strategy.hatch.as_ref() else { continue };
            if self.context.layer.is_multiple_of(hatch.every_nth_layer.max(1)) {
                self.fill(filling, hatch)?;
            }
        }
        Ok(())
    }

    fn fill(&mut self, filling: &Filling, hatch: &Hatch) -> Result<(), ExposeError> {
        let inside = self.moved.region(&filling.inside)?;
        let walls = self.moved.region(&filling.walls)?;
        let within = filling.within.as_ref().map(|within| self.moved.region(within)).transpose()?;
        let without = Some(&walls).filter(|walls| !walls.is_empty());
        let area = Area { region: &inside, without, within: within.as_ref() };
        for (pass, along) in hatch.passes().zip(&filling.along) {
            let exposure = self.exposure(&pass.exposure)?;
            let Context { layer, spreading_direction_deg, .. } = *self.context;
            let angle_deg = pass_angle_deg(hatch, &pass, layer, spreading_direction_deg);
            let lines = (angle_deg, pass.spacing_mm);
            let jumps = self.context.jumps_of(exposure);
            let beam_at = &mut self.done.beam_at;
            let marks = fill_by(area, hatch, lines, jumps, beam_at, &mut self.scratch)?;
            if !marks.is_empty() {
                let paths = Paths::Segments(marks);
                self.push(exposure, ExposureKind::Hatch, filling.kind, paths);
            }
            self.along_walls(filling.kind, along)?;
        }
        Ok(())
    }

    /// Lines with the step of their energy, nearest first; one block for as long as the energy stays.
    fn along_walls(
        &mut self,
        region: RegionKind,
        lines: &[(i32, Polyline)],
    ) -> Result<(), ExposeError> {
        let lines = self.moved.lines(lines)?;
        let first = lines.first().and_then(|(step, _)| (self.context.wall_exposure_index)(*step));
        let jumps = first.and_then(|exposure| self.context.jumps_of(exposure));
        let beam_at = &mut self.done.beam_at;
        let start = (StartPoint::Nearest, self.context.layer);
        for (step, paths) in order_each(&lines, start, jumps, beam_at) {
            let exposure = (self.context.wall_exposure_index)(step);
            let exposure = exposure.ok_or(ExposeError::UnknownStep { step })?;
            self.push(exposure, ExposureKind::Centreline, region, paths);
        }
        Ok(())
    }

    /// One run of contours.
    fn polylines(
        &mut self,
        region: RegionKind,
        exposure: &str,
        groups: &[Group],
        start: StartPoint,
    ) -> Result<(), ExposeError> {
        let exposure = self.exposure(exposure)?;
        let groups = self.moved.groups(groups)?;
        let jumps = self.context.jumps_of(exposure);
        let start = (start, self.context.layer);
        let paths = order_polylines(&groups, start, jumps, &mut self.done.beam_at);
        if let Some(paths) = paths {
            self.push(exposure, ExposureKind::Contour, region, paths);
        }
        Ok(())
    }

    fn push(&mut self, exposure: u16, kind: ExposureKind, region: RegionKind, paths: Paths) {
        let placement = self.context.placement;
        self.done.blocks.push(Block { placement, exposure, kind, region, paths });
    }
}
