//! What a vector file was made from, as digests: whoever has the files can tell whether they are still the same.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::io::{self, Read};

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

/// SHA-256 of a text in lower-case hexadecimal.
pub fn sha256_of_text(text: &str) -> String {
    hex(&Sha256::digest(text))
}

/// SHA-256 in lower-case hexadecimal of all that a source gives.
///
/// # Errors
/// Those of the source.
pub fn sha256_of(source: &mut impl Read) -> io::Result<String> {
    let mut digest = Sha256::new();
    let mut buffer = vec![0; 1 << 16];
    loop {
        match source.read(&mut buffer) {
            Ok(0) => return Ok(hex(&digest.finalize())),
            Ok(length) => digest.update(&buffer[..length]),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        let _ = write!(text, "{byte:02x}"); // writing to a `String` cannot fail
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of FIPS 180-4's test vectors ("abc"), and one that takes more than a buffer: a million "a".
    #[test]
    fn digests_are_those_of_the_standard() {
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        let million = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0";
        assert_eq!(sha256_of_text("abc"), abc);
        assert_eq!(sha256_of(&mut &b"abc"[..]).unwrap(), abc);
        assert_eq!(sha256_of(&mut &vec![b'a'; 1_000_000][..]).unwrap(), million);
    }

    #[test]
    fn what_changed_is_named() {
        let row =
            |name: &str, sum: &str| SourceRow { name: name.into(), sha256: sha256_of_text(sum) };
        let then = MadeFrom {
            job: sha256_of_text("job"),
            machine: sha256_of_text("machine"),
            recipes: vec![row("pa12.ron", "24 W")],
            meshes: vec![row("cup.stl", "cup"), row("lid.stl", "lid")],
        };
        assert!(then.is_valid());
        assert!(then.changed_in(&then).is_empty());
        let mut now = then.clone();
        now.machine = sha256_of_text("another");
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
