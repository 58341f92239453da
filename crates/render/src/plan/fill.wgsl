// Fans of rings into the stencil, then one triangle over the picture where the count is not zero.

@vertex
fn point(@location(0) point_nm: vec2<i32>) -> @builtin(position) vec4<f32> {
    let at = vec2<f32>(point_nm - view.centre_nm) * view.px_per_nm + view.offset_px;
    return vec4<f32>(at / view.half_size_px, 0.0, 1.0);
}

@vertex
fn everywhere(@builtin(vertex_index) index: u32) -> @builtin(position) vec4<f32> {
    let x = f32(i32(index & 1u) * 4 - 1);
    let y = f32(i32(index & 2u) * 2 - 1);
    return vec4<f32>(x, y, 0.0, 1.0);
}

@fragment
fn tint() -> @location(0) vec4<f32> {
    let opacity = style.colour.a * style.opacity;
    return vec4<f32>(style.colour.rgb * opacity, opacity);
}
