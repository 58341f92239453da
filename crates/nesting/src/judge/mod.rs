//! Judges arrangements, whoever made them: by the search, by hand or by a file.
//!
//! [`proof`] measures all clearances, [`removal`] finds whether every part can be taken out, and
//! [`figures`] measures height, density and areas. They import nothing that the search made: bodies are
//! meshes and poses, and no voxel is known here.
//!
//! What is shared: `proof` uses [`crate::exact::distance`], and with it [`mesh::distance`], as the moves
//! of [`crate::exact`] do, and both see parts through [`crate::solid`]. An error there would go unnoticed by both. Its tests therefore
//! compare with plain formulas, with balls and boxes whose distances are known, and in `mesh` with
//! another library. `removal` uses the sweeps of [`mesh::distance`]; the search decides by voxels
//! whether parts come apart and shares nothing with it.

pub(crate) mod figures;
pub(crate) mod proof;
pub(crate) mod removal;
