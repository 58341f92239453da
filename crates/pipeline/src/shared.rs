//! What the placements of a layer share: copies of a part in the same orientation, as far up in their layers,
//! are prepared once, and so are layers with the same section.

use crate::build::Build;
use crate::kept::Kept;
use crate::layers::LayerError;
use crate::made::{KnownSections, Made, number_of};
use crate::sections::{Cut, Sections};
use base::Progress;
use job::recipe::FacingStrategy;
use region::Region;
use scan_strategy::{Facing, facing, prepare};
use slicing::Scratch;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

impl Build {
    /// Works every placement out alone, as if it had no copies, and every layer as if it had no neighbours
    /// that are alike: slower, with the same bytes. There to be compared with.
    #[must_use]
    pub fn without_sharing(mut self) -> Self {
        for (row, placed) in self.placed.iter_mut().enumerate() {
            placed.like = row;
        }
        self.kept = Kept::new(0);
        self
    }

    /// Finds out which placements are alike.
    pub(crate) fn find_alike(&mut self) {
        let mut first = BTreeMap::new();
        for (row, placed) in self.placed.iter_mut().enumerate() {
            let shape = placed.posed.shape_and_lift();
            let of_shape = |shape| *first.entry((shape, placed.recipe)).or_insert(row);
            placed.like = shape.map_or(row, of_shape);
        }
    }

    /// The sections of all placements, by row, for a run of layers.
    pub(crate) fn cut(
        &self,
        range: &Range<u32>,
        scratch: &mut Scratch,
        progress: &Progress,
    ) -> Result<Vec<Sections>, LayerError> {
        let mut cuts: BTreeMap<usize, Arc<Cut>> = BTreeMap::new();
        let mut sections = Vec::with_capacity(self.placed.len());
        for placed in &self.placed {
            progress.check()?;
            let cut = cuts.entry(placed.like).or_insert_with(|| {
                let recipe = self.recipe(placed);
                let reach = |facing: &Option<FacingStrategy>| {
                    facing.as_ref().map_or(0, |facing| facing.layers)
                };
                let below = range.start.saturating_sub(reach(&recipe.down_facing));
                // one more, so that it is known what ends below it
                let above = reach(&recipe.up_facing).max(placed.growth_layers.min(1));
                Arc::new(Cut::of(placed, below..range.end + above, scratch))
            });
            sections.push(Sections::copy_of(placed, cut));
        }
        Ok(sections)
    }

    /// What the sections of some placements are exposed to in a layer, by row.
    pub(crate) fn made(
        &self,
        rows: impl Iterator<Item = u32>,
        index: u32,
        sections: &[Sections],
        known: &mut KnownSections,
    ) -> Result<BTreeMap<u32, Arc<Made>>, LayerError> {
        let mut of_layer: BTreeMap<(usize, usize), Arc<Made>> = BTreeMap::new();
        let mut all = BTreeMap::new();
        for row in rows {
            let placed = &self.placed[row as usize];
            let alike = (placed.like, self.exposures.of(placed.id, placed.recipe).marks);
            let made = match of_layer.get(&alike) {
                Some(made) => Arc::clone(made),
                None => self.make(row, index, &sections[row as usize], known)?,
            };
            of_layer.insert(alike, Arc::clone(&made));
            all.insert(row, made);
        }
        Ok(all)
    }

    /// What the section of a placement is exposed to in a layer: kept from another one, or new.
    fn make(
        &self,
        row: u32,
        index: u32,
        sections: &Sections,
        known: &mut KnownSections,
    ) -> Result<Arc<Made>, LayerError> {
        let placed = &self.placed[row as usize];
        let variant = self.exposures.of(placed.id, placed.recipe);
        let section = sections.unmoved(i64::from(index));
        let facing = self.facing(row, index, sections);
        let of_facing = facing.as_ref().map_or(0, |facing| number_of([&facing.up, &facing.down]));
        let key = [variant.marks as u64, number_of([section]), of_facing];
        let is_same = |made: &Arc<Made>| made.is_of(section, facing.as_ref());
        if let Some(made) = self.kept.get(key).filter(is_same) {
            return Ok(made);
        }
        let known = known.entry((placed.like, variant.marks)).or_default();
        let with = (&variant.recipe, variant.melt);
        let prepared = prepare(section, facing.as_ref(), with, known);
        let prepared = prepared.map_err(|source| self.expose_error(placed, source))?;
        let made = Arc::new(Made::new(section.clone(), facing, prepared));
        self.kept.put(key, Arc::clone(&made), made.bytes());
        Ok(made)
    }

    /// What of a section faces powder, where the part is cut; `None` if its recipe does not ask.
    fn facing(&self, row: u32, index: u32, sections: &Sections) -> Option<Facing> {
        let recipe = self.recipe(&self.placed[row as usize]);
        let neighbours = |count: u32, step: i64| -> Vec<&Region> {
            let layer = |n| i64::from(index) + step * i64::from(n);
            (1..=count).map(|n| sections.unmoved(layer(n))).collect()
        };
        let below = recipe.down_facing.as_ref().map_or(Vec::new(), |f| neighbours(f.layers, -1));
        let above = recipe.up_facing.as_ref().map_or(Vec::new(), |f| neighbours(f.layers, 1));
        let section = sections.unmoved(i64::from(index));
        (!below.is_empty() || !above.is_empty()).then(|| facing(section, &below, &above))
    }
}
