// The dose in colours, where it belongs in the window.

struct Show {
    // where the upper left corner of the window's picture lies in the picture of the dose
    origin_px: vec2<f32>,
    // pixels of the dose in a pixel of the window
    step: f32,
    // dose of the first colour, and colours in a J/mm2
    low_j_mm2: f32,
    colours_per_j_mm2: f32,
    last_colour: f32,
    opacity: f32,
    // 1: nothing is drawn below the range
    clears_below: f32,
    colours: array<vec4<f32>, 256>,
}

@group(0) @binding(0) var<uniform> show: Show;
@group(0) @binding(1) var dose_j_mm2: texture_2d<f32>;

@vertex
fn corner(@builtin(vertex_index) index: u32) -> @builtin(position) vec4<f32> {
    return vec4<f32>(f32(index & 1u) * 4.0 - 1.0, f32(index & 2u) * 2.0 - 1.0, 0.0, 1.0);
}

@fragment
fn colour(@builtin(position) at: vec4<f32>) -> @location(0) vec4<f32> {
    let pixel = floor(show.origin_px + at.xy * show.step);
    let size = vec2<f32>(textureDimensions(dose_j_mm2));
    if any(pixel < vec2<f32>(0.0)) || any(pixel >= size) {
        return vec4<f32>(0.0);
    }
    let dose = textureLoad(dose_j_mm2, vec2<i32>(pixel), 0).r;
    if dose == 0.0 || (dose < show.low_j_mm2 && show.clears_below > 0.5) {
        return vec4<f32>(0.0);
    }
    let place = clamp((dose - show.low_j_mm2) * show.colours_per_j_mm2, 0.0, show.last_colour);
    let below = u32(place);
    let above = min(below + 1u, u32(show.last_colour));
    let colour = mix(show.colours[below], show.colours[above], fract(place));
    let opacity = colour.a * show.opacity;
    return vec4<f32>(colour.rgb * opacity, opacity);
}
