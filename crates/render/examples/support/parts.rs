//! Closed parts of any number of triangles, each within a ball of radius 1.

use std::f64::consts::TAU;

/// Vertices and triangles.
pub(crate) type Part = (Vec<[f64; 3]>, Vec<[u32; 3]>);

/// Eight kinds of parts with about this many triangles each: smooth, ribbed, threaded, toothed.
pub(crate) fn kinds(triangles: usize) -> Vec<Part> {
    let ring = |p: f64, q: f64| (p * TAU, q * TAU);
    vec![
        wrapped(triangles, |p, q| {
            let (u, v) = ring(p, q);
            torus(u, v, 0.68, 0.30)
        }),
        wrapped(triangles, |p, q| {
            let (u, v) = ring(p, q);
            let tooth = 0.05 * (u * 24.0).sin().clamp(-0.6, 0.6);
            torus(u, v, 0.70, 0.20 + tooth)
        }),
        wrapped(triangles, |p, q| {
            let (u, v) = ring(p, q);
            torus(u, v, 0.66, 0.24 + 0.05 * (u * 9.0 + v * 3.0).sin())
        }),
        wrapped(triangles, |p, q| knot(p * TAU, q * TAU, 2.0, 3.0)),
        wrapped(triangles, |p, q| knot(p * TAU, q * TAU, 3.0, 4.0)),
        wrapped(triangles, |p, q| bushing(p * TAU, q, 0.62, 0.36, 0.7)),
        wrapped(triangles, |p, q| bushing(p * TAU, q, 0.86, 0.22, 0.25)),
        wrapped(triangles, |p, q| {
            let (u, v) = ring(p, q);
            let square = |c: f64| c.signum() * c.abs().powf(0.25);
            let r = 0.62 + 0.22 * square(v.cos());
            [r * u.cos(), r * u.sin(), 0.42 * square(v.sin())]
        }),
    ]
}

fn torus(u: f64, v: f64, large: f64, small: f64) -> [f64; 3] {
    let r = large + small * v.cos();
    [r * u.cos(), r * u.sin(), small * v.sin()]
}

fn knot(u: f64, v: f64, p: f64, q: f64) -> [f64; 3] {
    let at = |u: f64| {
        let r = 0.52 + 0.24 * (q * u).cos();
        [r * (p * u).cos(), r * (p * u).sin(), 0.30 * (q * u).sin()]
    };
    let (here, next) = (at(u), at(u + 1e-4));
    let along = unit([0, 1, 2].map(|k| next[k] - here[k]));
    let side = unit(cross(along, [0.0, 0.0, 1.0]));
    let up = cross(side, along);
    let r = 0.115;
    [0, 1, 2].map(|k| here[k] + r * (v.cos() * up[k] - v.sin() * side[k]))
}

/// A turned sleeve with sharp rims: `q` runs round its profile.
fn bushing(u: f64, q: f64, outer: f64, inner: f64, half: f64) -> [f64; 3] {
    let s = q * 4.0;
    let f = s.fract();
    let (r, z) = if s < 1.0 {
        (outer, -half + 2.0 * half * f)
    } else if s < 2.0 {
        (outer + (inner - outer) * f, half)
    } else if s < 3.0 {
        (inner, half - 2.0 * half * f)
    } else {
        (inner + (outer - inner) * f, -half)
    };
    let flat = 1.0 + 0.06 * (u * 6.0).cos().max(0.0);
    let r = if r > (inner + outer) * 0.5 { r / flat } else { r };
    [r * u.cos(), r * u.sin(), z]
}

/// A closed surface over a rectangle whose opposite sides meet.
fn wrapped(triangles: usize, at: impl Fn(f64, f64) -> [f64; 3]) -> Part {
    let rows = u32::try_from((triangles / 8).isqrt() / 4 * 4).unwrap_or(u32::MAX).clamp(4, 8000);
    let columns = rows * 4;
    let mut vertices = Vec::new();
    for c in 0..columns {
        for r in 0..rows {
            vertices.push(at(f64::from(c) / f64::from(columns), f64::from(r) / f64::from(rows)));
        }
    }
    let mut faces = Vec::new();
    for c in 0..columns {
        for r in 0..rows {
            let index = |c: u32, r: u32| c % columns * rows + r % rows;
            let [a, b, d, e] = [index(c, r), index(c + 1, r), index(c + 1, r + 1), index(c, r + 1)];
            faces.extend([[a, b, d], [a, d, e]]);
        }
    }
    (vertices, faces)
}

fn cross(p: [f64; 3], q: [f64; 3]) -> [f64; 3] {
    [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]]
}

fn unit(p: [f64; 3]) -> [f64; 3] {
    let length = p.iter().map(|c| c * c).sum::<f64>().sqrt();
    p.map(|c| c / length)
}
