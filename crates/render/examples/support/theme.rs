//! The two themes, for pictures without a window.

use render::chamber::{Colour, Palette};

/// Dark ink on a warm light sheet, and tones of parts.
pub(crate) fn paper() -> (Palette, Vec<Colour>) {
    let palette = Palette {
        ground: [247, 243, 233, 255],
        crease: [40, 38, 34, 150],
        outline: [28, 27, 25, 255],
        shade: [92, 84, 74, 165],
        section: [250, 236, 208, 255],
        section_hatch: [60, 54, 46, 210],
        inside: [214, 150, 110, 255],
        selected: [0, 96, 160, 255],
        hovered: [0, 130, 140, 255],
        faulty: [176, 32, 40, 255],
    };
    (
        palette,
        vec![
            [236, 229, 214, 255],
            [224, 221, 212, 255],
            [240, 226, 200, 255],
            [222, 226, 218, 255],
        ],
    )
}

/// Light ink on deep blue, and tones of parts.
pub(crate) fn blueprint() -> (Palette, Vec<Colour>) {
    let palette = Palette {
        ground: [18, 44, 82, 255],
        crease: [222, 234, 250, 140],
        outline: [236, 243, 255, 255],
        shade: [16, 38, 72, 215],
        section: [34, 74, 124, 255],
        section_hatch: [214, 228, 250, 200],
        inside: [120, 84, 104, 255],
        selected: [255, 214, 110, 255],
        hovered: [140, 232, 226, 255],
        faulty: [255, 138, 128, 255],
    };
    (
        palette,
        vec![[86, 126, 178, 255], [78, 118, 172, 255], [96, 134, 182, 255], [80, 124, 166, 255]],
    )
}
