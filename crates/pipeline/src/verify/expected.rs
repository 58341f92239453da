//! What a recipe requires in one layer, as distances, angles and rows of the table; worked out from
//! recipe, machine and table, and not by the rules of those that lay the vectors.

use super::by_place::ByPlace;
use super::pieces_of_lines::Division;
use super::rows::{exposure_row, steps_of};
use super::wall_rules::{self, WallRule};
use crate::build::Build;
use job::Recipe;
use job::recipe::{ContourOrder, ContourPass, Hatch, Joins, Sequence, Strategy, ThinWalls, Travel};
use scan_path::RegionKind;

/// Rounding to the grid moves a mark by at most 1 nm at each of a few steps, and every cut of one
/// section with another a boundary by at most 2 nm.
pub(super) const TOLERANCE_NM: f64 = 10.0;

const NM: f64 = base::NM_PER_MM;

/// How often each row of the exposure table is to be run; no row twice.
pub(super) type Passes = Vec<(u16, i32)>;

/// What is asked for in one layer of a placement.
pub(super) struct Required {
    /// Depth of the outermost contour, nm.
    pub(super) offset: f64,
    pub(super) corners: Corners,
    /// Half the width below which a wall has one centreline instead of contours, nm.
    pub(super) half_single: f64,
    pub(super) kinds: Vec<KindRule>,
    pub(super) centrelines: Option<CentrelineRule>,
}

/// What is asked for in one kind of region.
pub(super) struct KindRule {
    pub(super) region: RegionKind,
    pub(super) is_hatch_first: bool,
    pub(super) contours: Option<ContourRule>,
    pub(super) hatch: Option<HatchRule>,
    /// What narrow walls have along them instead of hatch.
    pub(super) walls: Option<WallRule>,
    /// The number of the first kind with the same contours; its own if there is none before.
    shares_contours_of: usize,
}

impl KindRule {
    fn shares_contours(&self, other: &Self) -> bool {
        let is_cut_alike = match (&self.walls, &other.walls) {
            (Some(a), Some(b)) => a.has_same_contours(b),
            (None, None) => true,
            (Some(_), None) | (None, Some(_)) => false,
        };
        is_cut_alike
            && self.contours.as_ref().zip(other.contours.as_ref()).is_some_and(|(a, b)| {
                let depths = |rule: &ContourRule| rule.all_depths().collect::<Vec<f64>>();
                let further = |rule: &ContourRule| -> Vec<u16> {
                    rule.further.iter().map(|(_, row)| *row).collect()
                };
                a.order == b.order
                    && further(a) == further(b)
                    && a.depths.len() == b.depths.len()
                    && same_depths(&depths(a), &depths(b))
            })
    }
}

pub(super) struct ContourRule {
    /// How far the contours lie inside the boundary, from the outermost on, nm.
    pub(super) depths: Vec<f64>,
    pub(super) is_inside_out: bool,
    /// Rows of the exposure table in the order in which they are run.
    pub(super) order: Vec<u16>,
    /// Further runs around the boundary, in order: depth, nm, and row.
    pub(super) further: Vec<(f64, u16)>,
}

/// What is asked for at one depth.
pub(super) struct Asked {
    /// Which of the contours lies there, if one does.
    pub(super) level: Option<usize>,
    /// How often each row that the rule names is to be run; no row twice, some not at all.
    pub(super) passes: Passes,
}

impl ContourRule {
    /// What is asked for at a depth, if anything is.
    pub(super) fn at(&self, depth: f64) -> Option<Asked> {
        let is_it = |d: &f64| (d - depth).abs() <= 1.0;
        let level = self.depths.iter().position(is_it);
        let further = || self.further.iter().filter(|(d, _)| is_it(d)).map(|(_, row)| *row);
        let here: Vec<u16> =
            level.iter().flat_map(|_| self.order.clone()).chain(further()).collect();
        let mut passes = passes(&here);
        let is_any = !passes.is_empty();
        for row in self.order.iter().copied().chain(self.further.iter().map(|(_, row)| *row)) {
            if !passes.iter().any(|(known, _)| *known == row) {
                passes.push((row, 0));
            }
        }
        is_any.then_some(Asked { level, passes })
    }

    /// The depths of all contours and further runs, nm.
    pub(super) fn all_depths(&self) -> impl Iterator<Item = f64> {
        self.depths.iter().copied().chain(self.further.iter().map(|(depth, _)| *depth))
    }
}

pub(super) struct HatchRule {
    /// How far it stays inside the boundary, nm.
    pub(super) depth: f64,
    pub(super) division: Division,
    pub(super) min_length: f64,
    pub(super) is_one_way: bool,
    /// Passes that differ in something.
    pub(super) passes: Vec<PassRule>,
    /// Which of them are run, in order.
    pub(super) order: Vec<usize>,
}

/// Runs over the lines of a hatch with one exposure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PassRule {
    pub(super) exposure: u16,
    pub(super) spacing: f64,
    /// Sine and cosine of the scan angle; two for cells.
    pub(super) directions: Vec<(f64, f64)>,
}

impl HatchRule {
    /// How often a pass is to be run.
    pub(super) fn times(&self, pass: usize) -> i32 {
        let same = self.order.iter().filter(|run| **run == pass);
        same.count().try_into().unwrap_or(i32::MAX)
    }

    /// From line to line in the first pass, nm, and the energies per length, J/mm, of lines as far apart that bring
    /// the energy of each pass.
    fn lines(&self, energy: &dyn Fn(u16) -> f64) -> Option<(f64, Vec<f64>)> {
        let runs = || self.order.iter().filter_map(|run| self.passes.get(*run));
        let spacing = runs().next()?.spacing;
        let of_pass = |pass: &PassRule| energy(pass.exposure) * (spacing / pass.spacing);
        Some((spacing, runs().map(of_pass).collect()))
    }
}

pub(super) struct CentrelineRule {
    pub(super) exposure: u16,
    /// Rows with the same exposure in other energies.
    pub(super) steps: Vec<u16>,
    /// The most that half a wall's width is where a line runs along its middle, nm.
    pub(super) half_narrow: f64,
    /// A wall longer and wider than this, nm, needs a centreline.
    pub(super) min_length: f64,
    pub(super) min_width: f64,
}

/// How the offset of a boundary goes around corners that open.
#[derive(Clone, Copy, Debug)]
pub(super) enum Corners {
    /// By chords of an arc.
    Round { chord_nm: f64 },
    /// By a tip, cut off at this many times the depth.
    Mitre { limit: f64 },
}

impl Corners {
    /// Radius of the disc about a corner that an offset certainly stays out of. A chord of another
    /// corner nearby may cross it as well as one of its own.
    pub(super) fn certain(self, depth: f64) -> f64 {
        depth - self.chord_nm() - TOLERANCE_NM
    }

    /// Radius of the disc about a corner that an offset may stay out of, for half the turn of the
    /// corner, rad.
    pub(super) fn possible(self, depth: f64, half_turn: f64) -> f64 {
        let (sin, cos) = half_turn.sin_cos();
        let tip = depth / cos.max(1e-3);
        let far = match self {
            Self::Round { chord_nm } => tip.min(depth + chord_nm),
            Self::Mitre { limit } if tip > limit * depth => {
                depth.hypot(depth * (limit - cos) / sin.max(1e-3))
            }
            Self::Mitre { .. } => tip,
        };
        far + TOLERANCE_NM
    }

    /// The farthest that a mark around such a corner may lie from it: a neighbour of another turn may
    /// have drawn it.
    pub(super) fn farthest(self, depth: f64, half_turn: f64) -> f64 {
        self.possible(depth, half_turn).max(depth + self.chord_nm() + TOLERANCE_NM)
    }

    /// How far a chord may lie off its arc, nm.
    pub(super) fn chord_nm(self) -> f64 {
        match self {
            Self::Round { chord_nm } => chord_nm,
            Self::Mitre { .. } => 0.0,
        }
    }

    /// The farthest that an offset may lie from the boundary, nm.
    pub(super) fn reach(self, depth: f64) -> f64 {
        match self {
            Self::Round { chord_nm } => depth + chord_nm + TOLERANCE_NM,
            Self::Mitre { limit } => depth * limit.hypot(1.0) + TOLERANCE_NM,
        }
    }
}

impl Required {
    pub(super) fn new(build: &Build, row: usize, layer: u32) -> Self {
        let placed = &build.placed[row];
        let offset_mm = ByPlace::of(build, placed.id).offset_mm;
        let plain = build.recipe(placed);
        let recipe = &Recipe {
            beam_offset_mm: (plain.beam_offset_mm + offset_mm).max(0.0),
            ..plain.clone()
        };
        let rows = |name: &str| exposure_row(build, placed, name);
        let corners = match recipe.joins {
            Joins::Round { chord_tolerance_um } => {
                Corners::Round { chord_nm: chord_tolerance_um * 1e3 }
            }
            Joins::Mitre { limit } => Corners::Mitre { limit },
        };
        let facing = [
            (RegionKind::UpFacing, &recipe.up_facing),
            (RegionKind::DownFacing, &recipe.down_facing),
        ];
        let facing = facing.into_iter().filter_map(|(kind, f)| Some((kind, &f.as_ref()?.strategy)));
        let spreading = build.loaded.machine.spreading_direction_deg;
        let kinds = [(RegionKind::Core, &recipe.core)].into_iter().chain(facing);
        let energy = |row: u16| wall_rules::line_energy(build, row);
        let half_single = wall_rules::half_single(build, placed.recipe, recipe, &rows, &energy);
        let mut kinds: Vec<KindRule> = kinds
            .map(|(region, strategy)| {
                let mut kind = kind_rule(recipe, region, strategy, (layer, spreading), &rows);
                kind.walls = kind.contours.as_ref().zip(kind.hatch.as_ref()).and_then(|(c, h)| {
                    let hatch = h.lines(&energy)?;
                    let of_contours = c.order.iter().map(|row| energy(*row)).sum();
                    WallRule::new(recipe, (&c.depths, of_contours), hatch, half_single)
                });
                kind
            })
            .collect();
        for number in 0..kinds.len() {
            let first = kinds.iter().position(|kind| kind.shares_contours(&kinds[number]));
            kinds[number].shares_contours_of = first.unwrap_or(number);
        }
        let half_narrow = kinds.iter().filter_map(|kind| Some(kind.walls.as_ref()?.half_narrow()));
        let half_narrow = half_narrow.fold(half_single, f64::max);
        Self {
            half_single,
            offset: recipe.beam_offset_mm * NM,
            corners,
            kinds,
            centrelines: match &recipe.thin_walls {
                ThinWalls::Expose { exposure, min_length_mm, min_width_mm } => {
                    Some(CentrelineRule {
                        exposure: rows(exposure),
                        steps: steps_of(build, rows(exposure)),
                        half_narrow,
                        min_length: min_length_mm * NM,
                        min_width: min_width_mm * NM,
                    })
                }
                ThinWalls::Skip => None,
            },
        }
    }

    /// What narrow walls have in a kind of region.
    pub(super) fn walls(&self, region: RegionKind) -> Option<&WallRule> {
        self.kind(region)?.walls.as_ref()
    }

    pub(super) fn kind(&self, region: RegionKind) -> Option<&KindRule> {
        self.kinds.iter().find(|kind| kind.region == region)
    }

    /// The rule of contours of a kind of region, and the first of the kinds that share it: they have their
    /// contours in one, labelled as any of them.
    pub(super) fn shared_contours(&self, region: RegionKind) -> Option<(&ContourRule, RegionKind)> {
        let first = &self.kinds[self.kind(region)?.shares_contours_of];
        Some((first.contours.as_ref()?, first.region))
    }

    /// Whether contours of several kinds go on from one to the other, so that their blocks come in turn: each
    /// is run once, as many and in the same order.
    pub(super) fn are_contours_chained(&self) -> bool {
        let groups = self.kinds.iter().filter_map(|kind| {
            let (rule, first) = self.shared_contours(kind.region)?;
            (first == kind.region).then_some(rule)
        });
        let rules: Vec<&ContourRule> = groups.collect();
        rules.len() > 1
            && rules.iter().all(|rule| {
                rule.order.len() == 1
                    && rule.further.is_empty()
                    && rule.depths.len() == rules[0].depths.len()
                    && rule.is_inside_out == rules[0].is_inside_out
            })
    }

    /// All depths of contours, nm; each once.
    pub(super) fn contour_depths(&self) -> Vec<f64> {
        let all = self.kinds.iter().filter_map(|kind| kind.contours.as_ref());
        let mut depths: Vec<f64> = all.flat_map(ContourRule::all_depths).collect();
        depths.sort_by(f64::total_cmp);
        depths.dedup();
        depths
    }
}

fn kind_rule(
    recipe: &Recipe,
    region: RegionKind,
    strategy: &Strategy,
    (layer, spreading): (u32, f64),
    rows: &dyn Fn(&str) -> u16,
) -> KindRule {
    let offset = recipe.beam_offset_mm;
    let in_turn = |names: &[String]| names.iter().map(|name| rows(name)).collect::<Vec<u16>>();
    let contours = strategy.contours.as_ref().map(|contours| {
        let order = in_turn(&contours.exposures);
        let depth = |i: u32| (offset + f64::from(i) * contours.spacing_mm) * NM;
        let further = |pass: &ContourPass| {
            (((offset + pass.deeper_by_mm) * NM).max(0.0), rows(&pass.exposure))
        };
        ContourRule {
            depths: (0..contours.count).map(depth).collect(),
            is_inside_out: contours.order == ContourOrder::InsideOut,
            order,
            further: contours.further_passes.iter().map(further).collect(),
        }
    });
    let innermost = contours.as_ref().and_then(|c| c.depths.last().copied()).unwrap_or(offset * NM);
    let hatch = strategy.hatch.as_ref();
    let hatch = hatch.filter(|hatch| layer.is_multiple_of(hatch.every_nth_layer.max(1)));
    let hatch = hatch.map(|hatch| {
        let (passes, order) = hatch_passes(hatch, (layer, spreading), rows);
        HatchRule {
            depth: innermost + hatch.gap_mm * NM,
            division: Division::new(&hatch.pattern),
            min_length: hatch.min_length_mm * NM,
            is_one_way: hatch.travel == Travel::OneWay,
            passes,
            order,
        }
    });
    let is_hatch_first = strategy.sequence == Sequence::HatchFirst;
    KindRule { region, is_hatch_first, contours, hatch, walls: None, shares_contours_of: 0 }
}

fn same_depths(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1.0)
}

fn passes(order: &[u16]) -> Passes {
    let mut rows = order.to_vec();
    rows.sort_unstable();
    rows.chunk_by(|a, b| a == b).map(|same| (same[0], same.len().try_into().unwrap_or(1))).collect()
}

/// The different passes of a hatch, and in which order they are run.
fn hatch_passes(
    hatch: &Hatch,
    (layer, spreading): (u32, f64),
    rows: &dyn Fn(&str) -> u16,
) -> (Vec<PassRule>, Vec<usize>) {
    let angle = hatch.angle_deg + f64::from(layer) * hatch.rotation_per_layer_deg;
    let angle = kept_off(hatch, angle, spreading);
    let first = hatch.exposures.iter().map(|name| (name, hatch.spacing_mm, angle));
    let further = hatch.further_passes.iter().map(|pass| {
        let angle = kept_off(hatch, angle + pass.rotated_by_deg, spreading);
        (&pass.exposure, pass.spacing_mm, angle)
    });
    let (mut passes, mut order) = (Vec::new(), Vec::new());
    for (name, spacing_mm, angle) in first.chain(further) {
        let directions = turns(hatch).iter().map(|turn| (angle + turn).to_radians().sin_cos());
        let directions = directions.collect();
        let pass = PassRule { exposure: rows(name), spacing: spacing_mm * NM, directions };
        let known = passes.iter().position(|other| *other == pass);
        order.push(known.unwrap_or(passes.len()));
        if known.is_none() {
            passes.push(pass);
        }
    }
    (passes, order)
}

/// By how much lines are rotated from the scan angle, degrees.
fn turns(hatch: &Hatch) -> &'static [f64] {
    if Division::new(&hatch.pattern).is_crossed() { &[0.0, 90.0] } else { &[0.0] }
}

/// An angle, rotated until its lines, and those across if there are any, keep off the spreading direction.
fn kept_off(hatch: &Hatch, mut angle: f64, spreading_deg: f64) -> f64 {
    for turn in turns(hatch) {
        // Signed distance to the spreading direction, a line: −90..90.
        let off = (angle + turn - spreading_deg + 90.0).rem_euclid(180.0) - 90.0;
        if let Some(within) = hatch.forbidden.map(|f| f.within_deg).filter(|w| off.abs() < *w) {
            // what is in the middle but for rounding is rotated to the left
            let side = if off < -1e-9 { -1.0 } else { 1.0 };
            // The same way along the line as before: half turns are taken off, not added.
            angle += side * within - off;
        }
    }
    angle
}
