//! Edits of the machine.

use crate::state::actions::{Action, Edit};
use job::Machine;

/// An edit of the machine.
pub(super) fn edit(
    what: &str,
    merge: Option<u64>,
    set: impl FnOnce(&mut Machine) + Send + 'static,
) -> Action {
    let mut edit = Edit::new(format!("machine: {}", what.to_lowercase()), |content| {
        set(&mut content.machine);
    });
    if let Some(key) = merge {
        edit = edit.within(key);
    }
    edit.into()
}
