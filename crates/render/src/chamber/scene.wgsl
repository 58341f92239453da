// Faces, creases, the section, and lines. Follows `frame.wgsl`.

// Whether what lies above the section height is left out; off where nothing is, to spare the adapter.
override CUT: bool = false;

struct Corner {
    @location(0) position: vec3f,
    @location(1) normal: vec4f,
    @location(2) row_x: vec4f,
    @location(3) row_y: vec4f,
    @location(4) row_z: vec4f,
    @location(5) colour: vec4f,
    @location(6) mark: u32,
}

struct Surface {
    @builtin(position) clip: vec4f,
    @location(0) normal: vec3f,
    @location(1) height: f32,
    @location(2) @interpolate(flat) colour: vec4f,
    @location(3) @interpolate(flat) mark: u32,
}

struct Painted {
    @location(0) colour: vec4f,
    @location(1) mark: u32,
}

fn placed(corner: Corner) -> vec3f {
    let p = vec4f(corner.position, 1.0);
    return vec3f(dot(corner.row_x, p), dot(corner.row_y, p), dot(corner.row_z, p));
}

@vertex
fn vertex_face(corner: Corner) -> Surface {
    let at = placed(corner);
    let n = corner.normal.xyz;
    let normal = vec3f(dot(corner.row_x.xyz, n), dot(corner.row_y.xyz, n), dot(corner.row_z.xyz, n));
    return Surface(frame.view_projection * vec4f(at, 1.0), normal, at.z, corner.colour, corner.mark);
}

// The same, brought forward by about a pixel, so that creases lie on their faces.
@vertex
fn vertex_crease(corner: Corner) -> Surface {
    var at = placed(corner);
    let height = at.z;
    at += eye_direction(at) * mm_per_pixel(at) * 1.2;
    return Surface(frame.view_projection * vec4f(at, 1.0), vec3f(0.0), height, corner.colour, corner.mark);
}

fn tinted(tone: vec3f, mark: u32) -> vec3f {
    switch mark & 7u {
        case HOVERED: { return mix(tone, frame.hovered.rgb, 0.16); }
        case SELECTED: { return mix(tone, frame.selected.rgb, 0.26); }
        case FAULTY: { return mix(tone, frame.faulty.rgb, 0.14); }
        case PALE: { return mix(tone, frame.ground.rgb, 0.62); }
        default: { return tone; }
    }
}

@fragment
fn fragment_face(s: Surface, @builtin(front_facing) front: bool) -> Painted {
    if CUT && s.height > frame.depth.w {
        discard;
    }
    if !front {
        return Painted(vec4f(tinted(frame.inside.rgb, s.mark), 1.0), s.mark);
    }
    // Shade grows slowly and stays quiet: tones of a drawing, without highlights.
    let lit = dot(normalize(s.normal), frame.light.xyz) * 0.5 + 0.5;
    let shade = (1.0 - lit) * (1.0 - 0.35 * lit) * frame.shade.a;
    return Painted(vec4f(tinted(mix(s.colour.rgb, frame.shade.rgb, shade), s.mark), 1.0), s.mark);
}

@fragment
fn fragment_crease(s: Surface) -> Painted {
    if CUT && s.height > frame.depth.w {
        discard;
    }
    var ink = vec4f(tinted(frame.crease.rgb, select(0u, PALE, (s.mark & 7u) == PALE)), frame.crease.a);
    return Painted(ink, s.mark);
}

// Counts faces into the stencil: what is left over lies inside.
@fragment
fn fragment_count(s: Surface) {
    if s.height > frame.depth.w {
        discard;
    }
}

@vertex
fn vertex_section(@builtin(vertex_index) index: u32) -> @builtin(position) vec4f {
    let x = select(frame.floor.x, frame.floor.z, (index & 1u) == 1u);
    let y = select(frame.floor.y, frame.floor.w, (index & 2u) == 2u);
    return frame.view_projection * vec4f(x, y, frame.depth.w, 1.0);
}

// Drafting hatch at 45 degrees, in pixels, so that it looks the same from everywhere.
@fragment
fn fragment_section(@builtin(position) pixel: vec4f) -> Painted {
    let spacing = 6.0 * frame.viewport.z;
    let half_width = 0.42 * frame.viewport.z;
    let across = (pixel.x + pixel.y) * 0.70710678;
    let off = abs(fract(across / spacing) - 0.5) * spacing;
    let ink = clamp(half_width + 0.5 - off, 0.0, 1.0) * frame.section_hatch.a;
    return Painted(vec4f(mix(frame.section.rgb, frame.section_hatch.rgb, ink), 1.0), SECTION);
}

struct LineEnds {
    @location(0) a: vec3f,
    @location(1) b: vec3f,
    @location(2) colour: vec4f,
    @location(3) width: f32,
}

struct Stroke {
    @builtin(position) clip: vec4f,
    @location(0) @interpolate(flat) colour: vec4f,
    // Ends on the screen, half the width, and nothing: pixels.
    @location(1) @interpolate(flat) ends: vec4f,
    @location(2) @interpolate(flat) half_width: f32,
}

fn pixel_of(clip: vec4f) -> vec2f {
    return (vec2f(clip.x, -clip.y) / clip.w * 0.5 + 0.5) * frame.viewport.xy;
}

@vertex
fn vertex_line(line: LineEnds, @builtin(vertex_index) index: u32) -> Stroke {
    let forward_a = line.a + eye_direction(line.a) * mm_per_pixel(line.a) * 1.5;
    let forward_b = line.b + eye_direction(line.b) * mm_per_pixel(line.b) * 1.5;
    var a = frame.view_projection * vec4f(forward_a, 1.0);
    var b = frame.view_projection * vec4f(forward_b, 1.0);
    // What lies behind the eye is cut off, else it would come back upside down.
    let nearest = select(-1.0, frame.depth.x * 0.5, frame.depth.z > 0.5);
    if a.w < nearest && b.w < nearest {
        return Stroke(vec4f(2.0, 2.0, 2.0, 1.0), line.colour, vec4f(0.0), 0.0);
    }
    if a.w < nearest { a = mix(a, b, (nearest - a.w) / (b.w - a.w)); }
    if b.w < nearest { b = mix(b, a, (nearest - b.w) / (a.w - b.w)); }
    let pa = pixel_of(a);
    let pb = pixel_of(b);
    var along = pb - pa;
    along = select(vec2f(1.0, 0.0), normalize(along), length(along) > 1e-3);
    let reach = line.width * 0.5 + 1.0;
    let at_b = (index & 1u) == 1u;
    let side = select(-1.0, 1.0, (index & 2u) == 2u);
    let shift = along * select(-reach, reach, at_b) + vec2f(-along.y, along.x) * side * reach;
    var clip = select(a, b, at_b);
    clip = clip + vec4f(shift.x, -shift.y, 0.0, 0.0) * 2.0 / vec4f(frame.viewport.xy, 1.0, 1.0) * clip.w;
    return Stroke(clip, line.colour, vec4f(pa, pb), line.width * 0.5);
}

// A stroke with round ends; its rim is softened over one pixel.
@fragment
fn fragment_line(s: Stroke) -> @location(0) vec4f {
    let ab = s.ends.zw - s.ends.xy;
    let ap = s.clip.xy - s.ends.xy;
    let t = clamp(dot(ap, ab) / max(dot(ab, ab), 1e-6), 0.0, 1.0);
    let ink = clamp(s.half_width + 0.5 - distance(ap, ab * t), 0.0, 1.0);
    if ink <= 0.0 {
        discard;
    }
    return vec4f(s.colour.rgb, s.colour.a * ink);
}
