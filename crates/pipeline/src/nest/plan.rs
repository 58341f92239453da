//! A job as items, locked placements, and what they were before.

use super::NestRequest;
use super::poses::placement;
use crate::clearance::poses;
use crate::load::Loaded;
use base::{Affine, PlacementId};
use job::{AllowedOrientations, ExposureChange, PartEntry, Placement};
use mesh::Mesh;
use nesting::{CopyId, Item, Locked, Orientations, Placed, Solid};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What is to be arranged, an item for each part of the job.
pub(super) struct Plan {
    pub(super) items: Vec<Item>,
    pub(super) locked: Vec<Locked>,
    /// All placements as they are, locked or not.
    pub(super) present: Vec<Placed>,
    /// Per part the numbers of the placements that stay, and, if the copies are those that there
    /// are, of those that may move: of each, the copies in order.
    stay: Vec<Vec<usize>>,
    moving: Option<Vec<Vec<usize>>>,
    /// Per part the rotation that its allowed orientations start from.
    bases: Vec<Affine>,
}

impl Plan {
    pub(super) fn new(loaded: &Loaded, request: &NestRequest) -> Self {
        let parts = &loaded.job.parts;
        let bases: Vec<Affine> = parts.iter().map(base_rotation).collect();
        let all = request.only.is_none() && !request.compact;
        let items = (0..parts.len()).map(|part| item(loaded, part, &bases[part], all)).collect();
        let mut stay = vec![Vec::new(); parts.len()];
        let mut moving = vec![Vec::new(); parts.len()];
        let mut locked = Vec::new();
        let mut present = Vec::new();
        for (id, pose) in poses(loaded) {
            let PlacementId { part, copy: number } = id;
            let fixed = parts[part].is_locked(number);
            let may_move = request.only.as_ref().is_none_or(|only| only.contains(&id));
            let pose = pose * transposed(&bases[part]);
            let locks = fixed || !may_move;
            if locks {
                locked.push(Locked { item: part, pose });
                stay[part].push(number);
            } else {
                moving[part].push(number);
            }
            present.push(Placed { item: part, copy: 0, pose, locked: locks });
        }
        // Locked copies are numbered first.
        for pass in [true, false] {
            let mut next: Vec<u32> = stay.iter().map(|s| if pass { 0 } else { count(s) }).collect();
            for p in present.iter_mut().filter(|p| p.locked == pass) {
                p.copy = next[p.item];
                next[p.item] += 1;
            }
        }
        Self { items, locked, present, stay, moving: (!all).then_some(moving), bases }
    }

    /// Whether the copies are those that the job has placed, no more and no fewer.
    pub(super) fn keeps_all(&self) -> bool {
        self.moving.is_some()
    }

    /// The placements of a build per part: those that stay as they are written, to the last digit.
    pub(super) fn placements(&self, loaded: &Loaded, build: &[Placed]) -> Vec<Vec<Placement>> {
        let parts = loaded.job.parts.iter().enumerate();
        parts
            .map(|(part, entry)| {
                let (mesh, recipe) = loaded.parts[part];
                let mesh = &loaded.meshes[mesh].mesh;
                let scale = loaded.recipes[recipe].recipe.scale();
                let new = |p: &Placed| placement(mesh, &(p.pose * self.bases[part]), scale);
                let free = build.iter().filter(|p| p.item == part && !p.locked);
                if self.keeps_all() {
                    let mut all = entry.placements.clone();
                    for p in free {
                        let old = self.placement_id(p.id()).and_then(|id| all.get_mut(id.copy));
                        if let Some(old) = old {
                            *old = new(p);
                        }
                    }
                    return all;
                }
                let locked = build.iter().filter(|p| p.item == part && p.locked);
                let ids = locked.filter_map(|p| self.placement_id(p.id()));
                ids.map(|id| entry.placements[id.copy]).chain(free.map(new)).collect()
            })
            .collect()
    }

    /// What the copies of a part in a build have otherwise than the recipe, by their new numbers: a copy
    /// keeps what it had by its number in the job. Those that stay come first, as in
    /// [`Self::placements`].
    pub(super) fn exposure_changes(
        &self,
        entry: &PartEntry,
        part: usize,
        build: &[Placed],
    ) -> BTreeMap<usize, Vec<ExposureChange>> {
        let stay = &self.stay[part];
        let others = (0..entry.placements.len()).filter(|number| !stay.contains(number));
        let numbers: Vec<usize> = stay.iter().copied().chain(others).collect();
        let of_part = |locked| build.iter().filter(move |p| p.item == part && p.locked == locked);
        let before = of_part(true).chain(of_part(false)).map(|p| numbers.get(p.copy as usize));
        let changes = before.map(|number| number.map_or(&[][..], |n| entry.changes_of(*n)));
        let changed = changes.enumerate().filter(|(_, changes)| !changes.is_empty());
        changed.map(|(number, changes)| (number, changes.to_vec())).collect()
    }

    /// Which placement of the job a copy stands for; `None` for a copy that the job has not placed. This
    /// is the one way from the numbers of nesting to a placement: item `n` is part `n`, and its copies
    /// are first the placements that stay, then those that may move, each in the order of the job.
    /// (The bodies of a proof are the placements of the job in their own order.)
    fn placement_id(&self, copy: CopyId) -> Option<PlacementId> {
        let CopyId { item: part, copy: number } = copy;
        let moving = self.moving.iter().flat_map(|moving| &moving[part]);
        let copy = self.stay[part].iter().chain(moving).nth(number as usize)?;
        Some(PlacementId { part, copy: *copy })
    }
}

fn count(list: &[usize]) -> u32 {
    u32::try_from(list.len()).unwrap_or(u32::MAX)
}

/// The rotation that a part's allowed orientations start from.
fn base_rotation(part: &PartEntry) -> Affine {
    let allowed = part.nest.as_ref().map(|rules| rules.allowed_orientations).unwrap_or_default();
    match allowed {
        AllowedOrientations::AsPlaced | AllowedOrientations::RotatedAboutZ => {
            let first = part.placements.first();
            first.map_or(Affine::IDENTITY, |first| Affine::rotation_deg(first.rotation_deg))
        }
        AllowedOrientations::QuarterTurns | AllowedOrientations::Many => Affine::IDENTITY,
    }
}

/// The inverse of a rotation.
fn transposed(rotation: &Affine) -> Affine {
    let mut map = Affine::IDENTITY;
    for i in 0..3 {
        for j in 0..3 {
            map.rows[i][j] = rotation.rows[j][i];
        }
    }
    map
}

fn item(loaded: &Loaded, part: usize, base: &Affine, all: bool) -> Item {
    let entry = &loaded.job.parts[part];
    let (mesh, recipe) = loaded.parts[part];
    let mesh = &loaded.meshes[mesh];
    let rules = entry.nest.clone().unwrap_or_default();
    let placed = u32::try_from(entry.placements.len()).unwrap_or(u32::MAX);
    Item {
        name: entry.name.clone(),
        solid: if *base == Affine::IDENTITY {
            mesh.solid()
        } else {
            let vertices = mesh.mesh.vertices.iter().map(|v| base.apply(*v)).collect();
            let triangles = mesh.mesh.triangles.clone();
            Arc::new(Solid::new(Arc::new(Mesh { vertices, triangles })))
        },
        scale: loaded.recipes[recipe].recipe.scale(),
        quantity: rules.quantity.filter(|_| all).unwrap_or(placed),
        orientations: match rules.allowed_orientations {
            AllowedOrientations::AsPlaced => Orientations::Fixed,
            AllowedOrientations::RotatedAboutZ => Orientations::AboutZ { steps: 24 },
            AllowedOrientations::QuarterTurns => Orientations::QuarterTurns,
            AllowedOrientations::Many => Orientations::Many { extra: 48 },
        },
        due: rules.due,
    }
}
