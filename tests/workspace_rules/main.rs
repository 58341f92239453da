//! Rules of the workspace that `cargo test` holds. DEVELOPERS.md names, beside each invariant, the
//! test here that holds it.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod imports;
mod layers;
mod sizes;
mod source;
mod words;
