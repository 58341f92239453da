//! Damaged files: whatever the bytes, an answer and no panic, and the promises hold.

use crate::{bytes, check_promises, read, stl, threemf};
use mesh::import::Format;
use proptest::prelude::*;

/// Small valid files of every format. The model of the 3MF file is also damaged before packing,
/// where the checksum of the archive does not catch it.
fn seeds() -> Vec<(Format, Vec<u8>)> {
    let facets =
        [[[0., 0., 0.], [1., 0., 0.], [0., 1., 0.]], [[0., 0., 1.], [1., 0., 0.], [0., 1., 0.]]];
    vec![
        (Format::Stl, stl::binary(b"solid", 2, &facets)),
        (Format::Stl, stl::text(&facets, "\r\n").into_bytes()),
        (Format::Obj, bytes("broken/two_objects.obj")),
        (Format::Obj, bytes("broken/negative_indices.obj")),
        (Format::ThreeMf, bytes("3mf/box.3mf")),
        (Format::ThreeMf, bytes("3mf_verify/MUSTPASS/MUSTPASS_Chapter4.2_Components.3mf")),
    ]
}

fn damage(bytes: &mut Vec<u8>, edits: &[(u8, u32, u8)]) {
    for &(kind, place, value) in edits {
        if bytes.is_empty() {
            return;
        }
        let at = place as usize % bytes.len();
        match kind {
            0 => bytes[at] = value,
            1 => bytes[at] ^= 1 << (value % 8),
            2 => bytes.truncate(at),
            3 => bytes.insert(at, value),
            4 => drop(bytes.remove(at)),
            _ => {
                let piece = bytes[at..bytes.len().min(at + usize::from(value))].to_vec();
                bytes.splice(at..at, piece);
            }
        }
    }
}

fn check(bytes: &[u8], format: Format) {
    if let Ok(imported) = read(bytes, format) {
        check_promises(&imported);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn damaged_files_never_panic(
        seed in 0..6_usize,
        edits in prop::collection::vec((0..6_u8, any::<u32>(), any::<u8>()), 1..6),
    ) {
        let (format, mut bytes) = seeds().swap_remove(seed);
        damage(&mut bytes, &edits);
        for format in [format, Format::Stl, Format::Obj, Format::ThreeMf] {
            check(&bytes, format);
        }
    }

    #[test]
    fn damaged_models_in_sound_packages_never_panic(
        edits in prop::collection::vec((0..6_u8, any::<u32>(), any::<u8>()), 1..6),
    ) {
        let mut model = threemf::example().into_bytes();
        damage(&mut model, &edits);
        check(&threemf::package(&[("3D/a.model", &model)]), Format::ThreeMf);
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        for format in [Format::Stl, Format::Obj, Format::ThreeMf] {
            check(&bytes, format);
        }
    }
}
