// The finished picture onto the window.

@group(0) @binding(0) var picture: texture_2d<f32>;
@group(0) @binding(1) var nearest: sampler;

struct Corner {
    @builtin(position) position: vec4<f32>,
    @location(0) at: vec2<f32>,
}

@vertex
fn corner(@builtin(vertex_index) index: u32) -> Corner {
    let at = vec2<f32>(f32(index & 1u) * 2.0, f32(index & 2u));
    var out: Corner;
    out.position = vec4<f32>(at.x * 2.0 - 1.0, 1.0 - at.y * 2.0, 0.0, 1.0);
    out.at = at;
    return out;
}

@fragment
fn copy(in: Corner) -> @location(0) vec4<f32> {
    return textureSample(picture, nearest, in.at);
}
