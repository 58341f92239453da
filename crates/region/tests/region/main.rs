//! The public face of the crate against other libraries, closed forms and its own invariants.

mod booleans;
mod check_values;
mod clipping;
mod measures;
mod offsets;
mod shapes;
