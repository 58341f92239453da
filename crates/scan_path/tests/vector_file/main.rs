//! Tests of the vector file, the drawing and the 3MF slices from outside.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod faults;
mod header;
mod outside_reader;
mod repack;
mod round_trip;
mod samples;
mod slices_3mf;
mod svg;
