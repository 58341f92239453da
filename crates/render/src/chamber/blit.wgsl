// Copies the finished picture into the window, pixel by pixel or stretched.

override LINEAR: bool = false; // the target turns linear light into sRGB by itself

@group(0) @binding(0) var picture: texture_2d<f32>;
@group(0) @binding(1) var picture_sampler: sampler;

struct Screen {
    @builtin(position) clip: vec4f,
    @location(0) at: vec2f,
}

@vertex
fn vertex_screen(@builtin(vertex_index) index: u32) -> Screen {
    let corner = vec2f(f32(index & 1u), f32(index >> 1u)) * 2.0;
    return Screen(vec4f(corner * 2.0 - 1.0, 0.0, 1.0), vec2f(corner.x, 1.0 - corner.y));
}

@fragment
fn fragment_blit(s: Screen) -> @location(0) vec4f {
    let colour = textureSample(picture, picture_sampler, s.at).rgb;
    let linear = select(pow((colour + 0.055) / 1.055, vec3f(2.4)), colour / 12.92, colour <= vec3f(0.04045));
    return vec4f(select(colour, linear, LINEAR), 1.0);
}
