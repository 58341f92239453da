//! Health report, measures, hierarchy and exact triangle tests, against sources outside the crate
//! and with planted faults.

#![expect(clippy::cast_possible_truncation, reason = "the meshes of these tests are small")]

mod contact_oracle;
mod faults;
mod hierarchy;
mod powder;
mod real_meshes;
mod solids;
mod support;
mod thickness;
