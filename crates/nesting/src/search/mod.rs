//! The search for an arrangement.
//!
//! [`voxels`] turns parts into masks of voxels, [`state`] holds builds in which masks lie, and [`moves`]
//! takes parts out and puts them in again. [`run`] goes through the [`passes`] from coarse voxels to
//! fine ones; [`builds`] fills builds, [`lower_exactly`] lowers them from where exact distances put the
//! parts ([`transfer`]), and [`cube_packing`] packs a few parts made of cubes without gaps. Whatever is
//! found goes to the [`incumbent`], the best arrangement so far: [`refine`] makes its builds exact by
//! means of [`exact_build`], and only what is valid and better is reported.
//!
//! Four lengths count here. The *voxel* is the step of positions. The *clearance* is kept between
//! parts. The *margin*, half of the clearance, is what masks rounded to nearest hold around their part.
//! The *keep-out reach* is how far around a mask no other mask may lie: the clearance for conservative
//! masks, nothing for masks that hold a margin.

mod builds;
mod cube_packing;
mod exact_build;
mod incumbent;
mod input;
mod lower_exactly;
mod moves;
pub(crate) mod nest;
mod passes;
mod refine;
mod run;
mod state;
mod stop;
mod transfer;
mod voxels;
