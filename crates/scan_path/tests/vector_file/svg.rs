//! The drawing of a layer.

use crate::samples::{header, small_layer};
use scan_path::{SvgOptions, layer_svg};

#[test]
fn a_small_layer_as_a_drawing() {
    insta::assert_snapshot!(layer_svg(&header(3), &small_layer(2), SvgOptions { jumps: true }));
}

#[test]
fn the_page_is_the_build_space_and_y_points_up() {
    let svg = layer_svg(&header(3), &small_layer(0), SvgOptions::default());
    assert!(svg.contains("width=\"250mm\" height=\"300mm\" viewBox=\"0 0 250 300\""));
    // (−45, −5) mm from the centre is 80 mm from the left and 155 mm from the top.
    assert!(svg.contains("M80 155L90 155L90 145L80 145Z"), "{svg}");
    assert!(!svg.contains("class=\"jump\""));
}
