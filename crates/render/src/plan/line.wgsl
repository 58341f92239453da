// Segments on the nanometre grid as quads of a width in pixels, antialiased by coverage.
//
// A segment is described in the picture by its distance from the centre (`across`) and the
// stretch of its line that it takes up (`along`), both from exact 64-bit integers, then rounded
// once: a line whose ends lie a build space away still falls on the right pixel when one pixel
// is a nanometre.

@group(0) @binding(1) var scale: texture_2d<f32>;

struct Corner {
    @builtin(position) position: vec4<f32>,
    // from the line, px; from the segment's start, px; the segment's length, px
    @location(0) place: vec2<f32>,
    @location(1) @interpolate(flat, either) length_px: f32,
    @location(2) @interpolate(flat, either) phase_px: f32,
    @location(3) @interpolate(flat, either) colour: vec4<f32>,
}

// Exact product, two's complement: low and high word.
fn product(a: i32, b: i32) -> vec2<u32> {
    let ua = bitcast<u32>(abs(a));
    let ub = bitcast<u32>(abs(b));
    let al = ua & 0xffffu;
    let ah = ua >> 16u;
    let bl = ub & 0xffffu;
    let bh = ub >> 16u;
    let low = al * bl;
    let one = al * bh;
    let two = ah * bl;
    let middle = (low >> 16u) + (one & 0xffffu) + (two & 0xffffu);
    var result = vec2<u32>(
        (low & 0xffffu) | (middle << 16u),
        ah * bh + (one >> 16u) + (two >> 16u) + (middle >> 16u),
    );
    if ((a ^ b) < 0) {
        result = negated(result);
    }
    return result;
}

fn negated(x: vec2<u32>) -> vec2<u32> {
    let low = ~x.x + 1u;
    return vec2<u32>(low, ~x.y + select(0u, 1u, low == 0u));
}

// u.x v.y - u.y v.x, exact until it is rounded to a float.
fn cross_product(u: vec2<i32>, v: vec2<i32>) -> f32 {
    let p = product(u.x, v.y);
    let q = product(u.y, v.x);
    let low = p.x - q.x;
    var difference = vec2<u32>(low, p.y - q.y - select(0u, 1u, p.x < q.x));
    let is_negative = (difference.y & 0x80000000u) != 0u;
    if (is_negative) {
        difference = negated(difference);
    }
    let size = f32(difference.y) * 4294967296.0 + f32(difference.x);
    return select(size, -size, is_negative);
}

@vertex
fn corner(
    @builtin(vertex_index) index: u32,
    @location(0) ends: vec4<i32>,
    @location(1) shade: vec2<f32>,
) -> Corner {
    let a = ends.xy - view.centre_nm;
    let d = ends.zw - ends.xy;
    let length_nm = length(vec2<f32>(d));
    let u = select(vec2<f32>(1.0, 0.0), vec2<f32>(d) / max(length_nm, 1.0), length_nm > 0.0);
    let n = vec2<f32>(-u.y, u.x);

    let scale_px = view.px_per_nm;
    var across = dot(vec2<f32>(a), n) * scale_px;
    if (length_nm > 0.0) {
        across = cross_product(d, a) / length_nm * scale_px;
    }
    let start = dot(vec2<f32>(a), u) * scale_px;
    let length_px = length_nm * scale_px;

    let cap = min(style.cap_px, 0.5 * length_px);
    let reach = style.blur_px + 0.5;
    let limit = length(view.half_size_px) + length(view.offset_px) + style.width_px + 64.0;
    let first = clamp(start - cap - reach, -limit, limit);
    let last = clamp(start + length_px + cap + reach, -limit, limit);
    let half_width = 0.5 * style.width_px + reach;

    let s = select(first, last, (index & 1u) == 1u);
    let t = select(-half_width, half_width, (index & 2u) == 2u);
    let at = u * s + n * (across + t) + view.offset_px;

    var out: Corner;
    out.position = vec4<f32>(at / view.half_size_px, 0.0, 1.0);
    out.place = vec2<f32>(s - start, t);
    out.length_px = length_px;
    // hundredths of a mm, see `Shade::phase`
    out.phase_px = round(shade.y * 65535.0) * 1e4 * scale_px;
    let entry = textureLoad(scale, vec2<i32>(i32(round(shade.x * 255.0)), 0), 0);
    let inked = vec4<f32>(entry.rgb, style.colour.a);
    out.colour = select(style.colour, inked, style.uses_scale > 0.5);
    return out;
}

// Integral of a raised cosine of half-width 1.
fn edge(x: f32) -> f32 {
    let c = clamp(x, -1.0, 1.0);
    return 0.5 + 0.5 * (c + sin(3.14159265 * c) / 3.14159265);
}

// How much of a pixel at `x` lies between `low` and `high`.
fn overlap(x: f32, low: f32, high: f32) -> f32 {
    return clamp(x - low + 0.5, 0.0, 1.0) - clamp(x - high + 0.5, 0.0, 1.0);
}

@fragment
fn ink(in: Corner) -> @location(0) vec4<f32> {
    let half_width = 0.5 * style.width_px;
    let blur = style.blur_px;
    let side = in.place.y;
    var cover = edge((side + half_width) / blur) - edge((side - half_width) / blur);
    let cap = min(style.cap_px, 0.5 * in.length_px);
    cover *= overlap(in.place.x, -cap, in.length_px + cap);
    let period = dot(style.dash_px, vec4<f32>(1.0));
    if (period > 0.0) {
        let turns = (in.place.x + in.phase_px) / period;
        let x = (turns - floor(turns)) * period;
        let second = style.dash_px.x + style.dash_px.y;
        cover *= overlap(x, 0.0, style.dash_px.x)
            + overlap(x, second, second + style.dash_px.z)
            + overlap(x, period, period + style.dash_px.x);
    }
    let opacity = in.colour.a * style.opacity * clamp(cover, 0.0, 1.0);
    return vec4<f32>(in.colour.rgb * opacity, opacity);
}
