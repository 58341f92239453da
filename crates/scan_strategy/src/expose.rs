//! A section and a recipe to blocks of vectors.
//!
//! Contours follow only the part's true boundary: contour `i` is the boundary of the section
//! inset by offset + `i` · spacing, cut to the kind of region whose strategy it is. Hatch fills
//! the section inset once more by the gap, cut likewise, so that the hatches of adjoining kinds
//! meet without a seam and no contour runs between them.

use crate::angle::scan_angle_deg;
use crate::error::ExposeError;
use crate::facing::Facing;
use crate::fill::{FillScratch, fill};
use crate::frame::MIN_SPACING_NM;
use crate::kind::{Kind, kinds};
use crate::polyline::{Group, Polyline, order_polylines};
use crate::thin::{Rescue, ThinReport};
use base::{NM_PER_MM, OffGrid, Point, nm_from_mm};
use job::Recipe;
use job::recipe::{ContourOrder, Joins, Sequence, StartPoint, ThinWalls};
use region::{Join, Region, inset, inset_with_lost, intersection};
use scan_path::{Block, ExposureKind, Paths, RegionKind};

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
    /// Where the beam comes from; `None` at the start of a layer.
    pub beam_at: Option<Point>,
}

/// The vectors of one placement in one layer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Exposed {
    /// Blocks in the order they are run; none is empty.
    pub blocks: Vec<Block>,
    /// What became of walls too thin for contours.
    pub thin: ThinReport,
    /// Where the beam ends; where it came from if there is nothing to expose.
    pub beam_at: Option<Point>,
}

/// Contours, hatch and centrelines of a section, in the order they are run.
///
/// Core first, then up-facing, then down-facing regions, then centrelines. Without `facing`, or
/// where the recipe has no strategy for a kind, everything counts as core. Exposures listed one
/// after the other each run the whole of a region's contours or hatch. Hatch that is due only in
/// every n-th layer is left out in the others. `section` must be proper.
///
/// # Errors
/// [`ExposeError`] if the recipe cannot be carried out; a validated recipe always can.
pub fn expose(
    section: &Region,
    facing: Option<&Facing>,
    context: &Context<'_>,
) -> Result<Exposed, ExposeError> {
    let recipe = context.recipe;
    let beam_offset_nm = distance_nm("a beam offset", recipe.beam_offset_mm)?;
    let mut run = Run {
        context,
        join: join(recipe.joins),
        scratch: FillScratch::default(),
        done: Exposed { beam_at: context.beam_at, ..Exposed::default() },
    };
    let mut rescue = Rescue::new(&recipe.thin_walls, beam_offset_nm);
    let mut bodies = Vec::new();
    for island in section.islands() {
        let inset = inset_with_lost(&island, beam_offset_nm, run.join);
        rescue.add(&island, &inset.lost)?;
        bodies.push(Body { island, insets: vec![(beam_offset_nm, inset.region)] });
    }
    for kind in kinds(section, facing, recipe) {
        match kind.strategy.sequence {
            Sequence::ContoursFirst => {
                run.contours(&mut bodies, &kind)?;
                run.hatch(&mut bodies, &kind)?;
            }
            Sequence::HatchFirst => {
                run.hatch(&mut bodies, &kind)?;
                run.contours(&mut bodies, &kind)?;
            }
        }
    }
    if let ThinWalls::Expose { exposure, .. } = &recipe.thin_walls
        && !rescue.lines.is_empty()
    {
        let groups: Vec<Group> = rescue.lines.drain(..).map(|line| vec![vec![line]]).collect();
        run.polylines(ExposureKind::Centreline, RegionKind::Core, exposure, &groups, None)?;
    }
    run.done.thin = rescue.report;
    Ok(run.done)
}

/// One island of the section and its insets so far.
struct Body {
    island: Region,
    /// By distance, nm.
    insets: Vec<(i32, Region)>,
}

impl Body {
    fn inset(&mut self, distance_nm: i32, join: Join) -> &Region {
        let known = self.insets.iter().position(|(known, _)| *known == distance_nm);
        let index = known.unwrap_or_else(|| {
            self.insets.push((distance_nm, inset(&self.island, distance_nm, join)));
            self.insets.len() - 1
        });
        &self.insets[index].1
    }
}

/// The work on one section.
struct Run<'a> {
    context: &'a Context<'a>,
    join: Join,
    scratch: FillScratch,
    done: Exposed,
}

impl Run<'_> {
    fn exposure(&self, name: &str) -> Result<u16, ExposeError> {
        (self.context.exposure_index)(name)
            .ok_or_else(|| ExposeError::UnknownExposure { name: name.to_owned() })
    }

    fn contours(&mut self, bodies: &mut [Body], kind: &Kind<'_>) -> Result<(), ExposeError> {
        let Some(contours) = &kind.strategy.contours else { return Ok(()) };
        if contours.count > 1 {
            spacing_nm(contours.spacing_mm)?;
        }
        let mut groups: Vec<Group> = Vec::with_capacity(bodies.len());
        for body in bodies {
            let mut levels = Group::new();
            for number in 0..contours.count {
                let distance = self.context.recipe.contour_depth_nm(contours, number);
                let distance = distance.map_err(|off| off_grid("a contour's distance", off))?;
                let region = body.inset(distance, self.join);
                if region.is_empty() {
                    break; // deeper ones are empty too
                }
                levels.push(region.rings().flat_map(|ring| kind.cut_ring(ring)).collect());
            }
            match contours.order {
                ContourOrder::InsideOut => levels.reverse(),
                ContourOrder::OutsideIn => {}
            }
            if levels.iter().any(|level: &Vec<Polyline>| !level.is_empty()) {
                groups.push(levels);
            }
        }
        for name in &contours.exposures {
            self.polylines(
                ExposureKind::Contour,
                kind.region,
                name,
                &groups,
                Some(contours.start),
            )?;
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
        let mut region = Region::empty();
        for body in bodies {
            region.append(body.inset(distance, self.join));
        }
        if let Some(within) = &kind.within {
            region = intersection(&region, within);
        }
        let angle = scan_angle_deg(hatch, layer, self.context.spreading_direction_deg);
        for name in &hatch.exposures {
            let exposure = self.exposure(name)?;
            let beam_at = &mut self.done.beam_at;
            let marks = fill(&region, hatch, angle, beam_at, &mut self.scratch)?;
            if !marks.is_empty() {
                let paths = Paths::Segments(marks);
                self.push(exposure, ExposureKind::Hatch, kind.region, paths);
            }
        }
        Ok(())
    }

    fn polylines(
        &mut self,
        kind: ExposureKind,
        region: RegionKind,
        exposure: &str,
        groups: &[Group],
        start: Option<StartPoint>,
    ) -> Result<(), ExposeError> {
        let exposure = self.exposure(exposure)?;
        let start = start.unwrap_or(StartPoint::Nearest);
        let paths = order_polylines(groups, start, self.context.layer, &mut self.done.beam_at);
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

const ON_THE_GRID: &str = "give a finite number well below the size of the build space";

/// Rounds a length of the recipe to nm.
pub(crate) fn distance_nm(what: &'static str, mm: f64) -> Result<i32, ExposeError> {
    nm_from_mm(mm).map_err(|off| off_grid(what, off))
}

fn off_grid(what: &'static str, OffGrid { mm }: OffGrid) -> ExposeError {
    ExposeError::Distance { what, mm, advice: ON_THE_GRID }
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
