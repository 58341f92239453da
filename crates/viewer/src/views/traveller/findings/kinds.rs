//! Findings put together by kind.

use base::{Kind, Severity};
use pipeline::Group;

/// All that was found of one kind.
pub(super) struct OfOneKind {
    pub(super) kind: Kind,
    pub(super) severity: Severity,
    pub(super) groups: Vec<Group>,
}

/// Puts together what is of one kind and as bad; kinds come in the order in which they were found.
pub(super) fn by_kind(groups: Vec<Group>) -> Vec<OfOneKind> {
    let mut kinds: Vec<OfOneKind> = Vec::new();
    for group in groups {
        let (kind, severity) = (group.first.kind(), group.first.severity());
        let known = kinds.iter_mut().find(|of| (of.kind, of.severity) == (kind, severity));
        match known {
            Some(of) => of.groups.push(group),
            None => kinds.push(OfOneKind { kind, severity, groups: vec![group] }),
        }
    }
    kinds
}
