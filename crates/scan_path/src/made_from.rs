//! What a vector file was made from, as digests: whoever has the files can tell whether they are still the same.

use serde::{Deserialize, Serialize};

/// SHA-256 digests, lower-case hexadecimal, of everything that a build was made from.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct MadeFrom {
    /// The job, as the writer of the file puts it into text: comments and layout do not count.
    pub job: String,
    /// The machine, likewise.
    pub machine: String,
    /// The recipes, likewise; `name` is the file's, as the job names it.
    pub recipes: Vec<SourceRow>,
    /// The mesh files, byte for byte; `name` is the file's, as the job names it.
    pub meshes: Vec<SourceRow>,
}

/// One file that a build was made from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourceRow {
    /// How the job names it.
    pub name: String,
    /// Its digest.
    pub sha256: String,
}

impl MadeFrom {
    /// Whether every digest is one.
    pub(crate) fn is_valid(&self) -> bool {
        let rows = self.recipes.iter().chain(&self.meshes).map(|row| &row.sha256);
        let is_digest = |text: &String| {
            text.len() == 64 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
        };
        [&self.job, &self.machine].into_iter().chain(rows).all(is_digest)
    }

    /// What is not the same in `now`, in words: "the job", "the recipe pa12.ron", "the mesh cup.stl". A mesh that
    /// was changed and one that is new are not told apart.
    pub fn changed_in(&self, now: &Self) -> Vec<String> {
        let mut changed = Vec::new();
        for (what, was, is) in
            [("the job", &self.job, &now.job), ("the machine", &self.machine, &now.machine)]
        {
            if was != is {
                changed.push(what.to_owned());
            }
        }
        for (what, was, is) in
            [("the recipe", &self.recipes, &now.recipes), ("the mesh", &self.meshes, &now.meshes)]
        {
            let other = is.iter().filter(|row| !was.contains(row));
            changed.extend(other.map(|row| format!("{what} {}", row.name)));
            let gone = was.iter().filter(|row| !is.iter().any(|new| new.name == row.name));
            changed.extend(gone.map(|row| format!("{what} {}, which is gone", row.name)));
        }
        changed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sha256;

    #[test]
    fn what_changed_is_named() {
        let row = |name: &str, sum: &str| SourceRow { name: name.into(), sha256: sha256(sum) };
        let then = MadeFrom {
            job: sha256("job"),
            machine: sha256("machine"),
            recipes: vec![row("pa12.ron", "24 W")],
            meshes: vec![row("cup.stl", "cup"), row("lid.stl", "lid")],
        };
        assert!(then.is_valid());
        assert!(then.changed_in(&then).is_empty());
        let mut now = then.clone();
        now.machine = sha256("another");
        now.recipes[0] = row("pa12.ron", "26 W");
        now.meshes = vec![row("cup.stl", "cup"), row("plug.stl", "plug")];
        let changed = then.changed_in(&now);
        let wanted = [
            "the machine",
            "the recipe pa12.ron",
            "the mesh plug.stl",
            "the mesh lid.stl, which is gone",
        ];
        assert_eq!(changed, wanted);
        now.job = "no digest".to_owned();
        assert!(!now.is_valid());
    }
}
