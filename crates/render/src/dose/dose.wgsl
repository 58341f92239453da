// The dose at the centre of each pixel of a tile: one workgroup a tile, one invocation a pixel.

struct Band {
    // of the whole picture
    size_px: vec2<u32>,
    // tiles in a row of tiles
    columns: u32,
    // the row of tiles that this band begins with
    first_row: u32,
}

// What one stroke means to one tile. Lengths are in drawn beam radii / sqrt(2), so that the dose
// is half_peak * exp(-across^2) * (erf(along from start) - erf(along from end)).
struct TileStroke {
    // one pixel along the stroke
    direction: vec2<f32>,
    // how far the tile's middle lies behind the start and behind the end
    along: vec2<f32>,
    // how far it lies beside the stroke
    across: f32,
    // half the dose in the middle of an endless stroke, J/mm2
    half_peak: f32,
}

@group(0) @binding(0) var<uniform> band: Band;
// tile i has the strokes from starts[i] to before starts[i + 1]
@group(0) @binding(1) var<storage, read> starts: array<u32>;
@group(0) @binding(2) var<storage, read> strokes: array<TileStroke>;
@group(0) @binding(3) var dose_j_mm2: texture_storage_2d<r32float, write>;

// Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 7.1.26: error below 1.5e-7.
fn erf(x: vec2<f32>) -> vec2<f32> {
    let a = abs(x);
    let t = 1.0 / (1.0 + 0.3275911 * a);
    let sum = ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t
        + 0.254829592) * t;
    return sign(x) * (1.0 - sum * exp(-a * a));
}

@compute @workgroup_size(16, 16)
fn sum_up(
    @builtin(workgroup_id) tile: vec3<u32>,
    @builtin(local_invocation_id) within: vec3<u32>,
) {
    let pixel = vec2<u32>(tile.x, tile.y + band.first_row) * 16u + within.xy;
    if any(pixel >= band.size_px) {
        return;
    }
    let from_middle = vec2<f32>(within.xy) - 7.5;
    let index = tile.y * band.columns + tile.x;
    let end = starts[index + 1u];
    var dose = 0.0;
    for (var i = starts[index]; i < end; i++) {
        let stroke = strokes[i];
        let along = stroke.along + dot(stroke.direction, from_middle);
        let across = stroke.across
            + (stroke.direction.x * from_middle.y - stroke.direction.y * from_middle.x);
        let ends = erf(along);
        // rounding must not make a dose negative
        dose += stroke.half_peak * exp(-across * across) * max(ends.x - ends.y, 0.0);
    }
    textureStore(dose_j_mm2, pixel, vec4<f32>(dose, 0.0, 0.0, 0.0));
}
