//! SHA-256 (FIPS 180-4), lower-case hexadecimal.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::io::{self, Read};

/// The digest of bytes, or of a text.
pub fn sha256(bytes: impl AsRef<[u8]>) -> String {
    hex(&Sha256::digest(bytes))
}

/// The digest of all that a source gives.
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
        assert_eq!(sha256("abc"), abc);
        assert_eq!(sha256_of(&mut &b"abc"[..]).unwrap(), abc);
        assert_eq!(sha256_of(&mut &vec![b'a'; 1_000_000][..]).unwrap(), million);
    }
}
