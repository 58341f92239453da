// Draws outlines over the resolved picture: where one thing ends, and where a thing hides itself.
// Follows `frame.wgsl`. SAMPLES and the texture types are put in by `pipelines.rs`.

@group(1) @binding(0) var picture: texture_2d<f32>;
@group(1) @binding(1) var marks: MARKS;
@group(1) @binding(2) var depths: DEPTHS;

@vertex
fn vertex_screen(@builtin(vertex_index) index: u32) -> @builtin(position) vec4f {
    return vec4f(f32(index & 1u) * 4.0 - 1.0, f32(index >> 1u) * 4.0 - 1.0, 0.0, 1.0);
}

fn inside(p: vec2i) -> vec2i {
    return clamp(p, vec2i(0), vec2i(frame.viewport.xy) - 1);
}

// By how many pixels the surface steps back around `p`, summed over both sides.
fn step_back(p: vec2i, side: vec2i, sample: i32) -> f32 {
    let here = textureLoad(depths, p, sample);
    let bend = textureLoad(depths, inside(p - side), sample)
        + textureLoad(depths, inside(p + side), sample) - 2.0 * here;
    let near = frame.depth.x;
    let far = frame.depth.y;
    if frame.depth.z > 0.5 {
        // Depth is affine in 1/distance, so planes do not bend; turn the bend into mm, then pixels.
        let away = near / max(1.0 - here * (far - near) / far, 1e-6);
        return bend * away * (far - near) / (far * near) / frame.viewport.w;
    }
    return bend * (far - near) / frame.viewport.w;
}

fn ink_of(mark: u32) -> vec4f {
    if mark == SECTION { return frame.outline; }
    switch mark & 7u {
        case HOVERED: { return frame.hovered; }
        case SELECTED: { return frame.selected; }
        case FAULTY: { return frame.faulty; }
        case PALE: { return vec4f(frame.outline.rgb, frame.outline.a * 0.3); }
        default: { return frame.outline; }
    }
}

fn stands_out(mark: u32) -> bool {
    let state = mark & 7u;
    return mark != SECTION && (state == SELECTED || state == HOVERED);
}

// Whether nothing near this pixel can be an outline, judged by first samples: most of a picture.
fn is_quiet(p: vec2i) -> bool {
    let reach = i32(max(round(frame.viewport.z), 1.0));
    let here = textureLoad(marks, p, 0).r;
    for (var sample = 1; sample < SAMPLES; sample++) {
        if textureLoad(marks, p, sample).r != here { return false; }
    }
    for (var k = 0; k < 4; k++) {
        let side = vec2i(select(-1, 1, (k & 1) == 1), 0);
        let step = select(side, side.yx, k >= 2) * reach;
        if textureLoad(marks, inside(p + step), 0).r != here { return false; }
        if textureLoad(marks, inside(p + step * 2), 0).r != here { return false; }
    }
    if here == 0u { return true; }
    return max(step_back(p, vec2i(reach, 0), 0), step_back(p, vec2i(0, reach), 0)) < 2.5;
}

// Ink of the outline through one sample, opacity not multiplied in.
fn outline(p: vec2i, sample: i32) -> vec4f {
    let reach = i32(max(round(frame.viewport.z), 1.0));
    let here = textureLoad(marks, p, sample).r;
    let depth = textureLoad(depths, p, sample);
    var ink = vec4f(0.0);
    for (var k = 0; k < 4; k++) {
        let side = vec2i(select(-1, 1, (k & 1) == 1), 0);
        let step = select(side, side.yx, k >= 2);
        let q = inside(p + step * reach);
        let other = textureLoad(marks, q, sample).r;
        if (other >> 3u) != (here >> 3u) {
            let ours = here != 0u && (other == 0u || depth <= textureLoad(depths, q, sample));
            let nearer = select(other, here, ours);
            var found = ink_of(nearer);
            // Full ink on the thing itself, a trace beside it: a line of about a pixel and a half.
            found.a *= select(0.4, 1.0, ours || stands_out(nearer));
            if found.a > ink.a || stands_out(nearer) { ink = found; }
        }
        let far = textureLoad(marks, inside(p + step * reach * 2), sample).r;
        if (far >> 3u) != (here >> 3u) && stands_out(far) { ink = ink_of(far); }
    }
    if ink.a == 0.0 && here != 0u && here != SECTION {
        let bend = max(step_back(p, vec2i(reach, 0), sample), step_back(p, vec2i(0, reach), sample));
        let found = ink_of(here);
        ink = vec4f(found.rgb, found.a * smoothstep(5.0, 14.0, bend));
    }
    return ink;
}

@fragment
fn fragment_compose(@builtin(position) at: vec4f) -> @location(0) vec4f {
    let p = vec2i(at.xy);
    let base = textureLoad(picture, p, 0).rgb;
    if is_quiet(p) { return vec4f(base, 1.0); }
    var sum = vec4f(0.0);
    for (var sample = 0; sample < SAMPLES; sample++) {
        let ink = outline(p, sample);
        sum += vec4f(ink.rgb * ink.a, ink.a);
    }
    sum /= f32(SAMPLES);
    return vec4f(base * (1.0 - sum.a) + sum.rgb, 1.0);
}
