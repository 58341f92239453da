//! The search for an arrangement.
//!
//! [`voxels`] turns parts into masks of voxels, [`state`] holds builds in which masks lie, and [`moves`]
//! takes parts out and puts them in again. [`run`] goes through the [`levels`] from coarse voxels to
//! fine ones; [`builds`] fills builds, [`lower_exactly`] lowers them from where exact distances put the
//! parts ([`transfer`]), and [`exact_cover`] packs a few parts made of cubes without gaps. Whatever is
//! found goes to the [`incumbent`], the best arrangement so far: [`refine`] makes it exact, [`repair`]
//! finds what stands against it, and only what is valid and better is handed out.
//!
//! Three lengths count here: a *voxel* is the step of positions, the *clearance* is kept between parts,
//! and the *margin* is half of it, which masks rounded to nearest hold around their part.

mod builds;
mod exact_cover;
mod incumbent;
mod input;
mod levels;
mod lower_exactly;
mod moves;
pub(crate) mod nest;
mod refine;
mod repair;
mod run;
mod state;
mod stop;
mod transfer;
mod voxels;
