//! Health report, measures, hierarchy and exact triangle tests, against sources outside the crate
//! and with planted faults.

mod contact_oracle;
mod faults;
mod hierarchy;
mod real_meshes;
mod solids;
mod support;
