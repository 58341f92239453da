// What lines and fills are drawn in: the view, and the style of a layer. Stands before both.

struct View {
    centre_nm: vec2<i32>,
    // where that centre lies, pixels right of and above the middle of the picture
    offset_px: vec2<f32>,
    half_size_px: vec2<f32>,
    px_per_nm: f32,
    padding: f32,
}

struct Style {
    colour: vec4<f32>,
    dash_px: vec4<f32>,
    width_px: f32,
    blur_px: f32,
    opacity: f32,
    // 1: colour from the scale, 0: from `colour`
    uses_scale: f32,
    cap_px: f32,
}

@group(0) @binding(0) var<uniform> view: View;
@group(1) @binding(0) var<uniform> style: Style;

