//! Parts, placements, machine, recipe; the job file and its validation.
//!
//! Plain values with public fields. Reads and writes RON text; opens no file itself.
//!
//! Three kinds of file, each a value with the same methods: `from_ron` reads text and refuses
//! what is wrong, `to_ron` writes it (`to_ron_over` with the comments of an earlier text), `validate` finds all values out of range at once, `VERSION`
//! is the newest schema read and the one written; files of earlier versions are read by today's names
//! and keep their number until they are written. Whether values from different files go together
//! is asked separately: [`Recipe::check_on`], [`Recipe::check_beside`], [`Job::check_changes`].

pub mod energy;
pub mod machine;
pub mod recipe;

mod acceptance;
mod accepted;
mod bundle;
mod changes;
mod check;
mod exposure_change;
mod files;
mod job;
mod nest;
mod part_order;
mod part_text;
mod pose;
mod rewrite;
mod text;
mod tokens;
mod upgrade;

pub use acceptance::Acceptance;
pub use bundle::{Bundle, FileText, is_file_name};
pub use check::Invalid;
pub use exposure_change::ExposureChange;
pub use files::TextFile;
pub use job::{Job, PartEntry, Placement, free_name};
pub use machine::Machine;
pub use nest::{AllowedOrientations, Clearances, NestRules};
pub use part_order::{NextPart, PartOrder, Rounds};
pub use recipe::Recipe;
pub use rewrite::{Difference, differences, loses_comments};
pub use text::JobError;
