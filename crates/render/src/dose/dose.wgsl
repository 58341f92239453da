// The dose at the centre of each pixel of a tile: one workgroup a tile, one invocation eight pixels
// of a column, so that what is read of a stroke serves eight times.

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
// Tile i has the strokes that only pass through it from starts[2i] to before starts[2i + 1], and
// those with an end near it from there to before starts[2i + 2].
@group(0) @binding(1) var<storage, read> starts: array<u32>;
@group(0) @binding(2) var<storage, read> strokes: array<TileStroke>;
@group(0) @binding(3) var dose_j_mm2: texture_storage_2d<r32float, write>;

// Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 7.1.26: error below 1.5e-7.
fn erf(x: vec4<f32>) -> vec4<f32> {
    let a = abs(x);
    let t = 1.0 / (1.0 + 0.3275911 * a);
    let sum = ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t
        + 0.254829592) * t;
    return sign(x) * (1.0 - sum * exp(-a * a));
}

// Half the dose of a stroke without ends, at four pixels from the tile's middle.
fn endless(stroke: TileStroke, x: f32, y: vec4<f32>) -> vec4<f32> {
    let across = stroke.across + (stroke.direction.x * y - stroke.direction.y * x);
    return stroke.half_peak * exp(-across * across);
}

fn with_ends(stroke: TileStroke, x: f32, y: vec4<f32>) -> vec4<f32> {
    let along = stroke.direction.x * x + stroke.direction.y * y;
    let part = erf(stroke.along.x + along) - erf(stroke.along.y + along);
    // rounding must not make a dose negative
    return endless(stroke, x, y) * max(part, vec4<f32>(0.0));
}

@compute @workgroup_size(16, 2)
fn sum_up(
    @builtin(workgroup_id) tile: vec3<u32>,
    @builtin(local_invocation_id) within: vec3<u32>,
) {
    let first = vec2<u32>(within.x, within.y * 8u);
    let x = f32(first.x) - 7.5;
    let upper = f32(first.y) - 7.5 + vec4<f32>(0.0, 1.0, 2.0, 3.0);
    let lower = upper + 4.0;
    let index = (tile.y * band.columns + tile.x) * 2u;
    let ending = starts[index + 1u];
    let end = starts[index + 2u];
    var doses = array<vec4<f32>, 2>();
    for (var i = starts[index]; i < ending; i++) {
        let stroke = strokes[i];
        doses[0] += endless(stroke, x, upper);
        doses[1] += endless(stroke, x, lower);
    }
    doses[0] *= 2.0;
    doses[1] *= 2.0;
    for (var i = ending; i < end; i++) {
        let stroke = strokes[i];
        doses[0] += with_ends(stroke, x, upper);
        doses[1] += with_ends(stroke, x, lower);
    }
    let pixel = vec2<u32>(tile.x, tile.y + band.first_row) * 16u + first;
    for (var k = 0u; k < 8u; k++) {
        let at = pixel + vec2<u32>(0u, k);
        if all(at < band.size_px) {
            textureStore(dose_j_mm2, at, vec4<f32>(doses[k / 4u][k % 4u], 0.0, 0.0, 0.0));
        }
    }
}
