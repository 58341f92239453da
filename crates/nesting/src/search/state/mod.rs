//! The state of a search: builds in which parts lie at positions of voxels.
//!
//! [`voxel_space`] holds the room and the shapes of all items at one resolution, and does not change.
//! [`build`] is one build with the parts in it. It keeps an [`occupancy`] grid, in which free positions
//! are found fast; [`candidate_rows`], which remember where a shape was found to have no position; and
//! [`blocking`], what blocks what when parts are taken out.

pub(crate) mod blocking;
pub(crate) mod build;
pub(crate) mod candidate_rows;
pub(crate) mod occupancy;
pub(crate) mod rule;
pub(crate) mod voxel_space;
