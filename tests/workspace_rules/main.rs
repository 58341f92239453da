//! Rules of the workspace that `cargo test` holds. DEVELOPERS.md says beside each invariant what holds
//! it; where that is `workspace_rules`, it is here.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod imports;
mod layers;
mod licences;
mod sizes;
mod source;
mod words;
