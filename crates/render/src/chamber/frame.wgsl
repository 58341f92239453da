// What every shader of the chamber knows of the frame. Mirrors `frame.rs`.
struct Frame {
    view_projection: mat4x4f,
    // The eye (w = 1), or the direction towards it (w = 0, parallel projection).
    eye: vec4f,
    // Towards the light, unit length.
    light: vec4f,
    // Width, height, pixels per point, mm per pixel (at 1 mm from the eye, or everywhere if parallel).
    viewport: vec4f,
    // Near plane, far plane, 1 if perspective, height of the section.
    depth: vec4f,
    // Where a section may be: low x, low y, high x, high y.
    floor: vec4f,
    ground: vec4f,
    crease: vec4f,
    outline: vec4f,
    shade: vec4f,
    section: vec4f,
    section_hatch: vec4f,
    inside: vec4f,
    selected: vec4f,
    hovered: vec4f,
    faulty: vec4f,
}

@group(0) @binding(0) var<uniform> frame: Frame;

// Marks: 0 is the ground, all ones a section; otherwise a number above three bits of state.
const SECTION: u32 = 65535u;
const HOVERED: u32 = 1u;
const SELECTED: u32 = 2u;
const FAULTY: u32 = 3u;
const PALE: u32 = 4u;

fn eye_direction(at: vec3f) -> vec3f {
    return select(frame.eye.xyz, normalize(frame.eye.xyz - at), frame.eye.w > 0.5);
}

fn mm_per_pixel(at: vec3f) -> f32 {
    return frame.viewport.w * select(1.0, distance(frame.eye.xyz, at), frame.eye.w > 0.5);
}
