//! Measures proofs: `proofs [PLACEMENTS] [TRIANGLES]`, 300 and 100,000 when absent.
//!
//! Ten knobbly parts, each some 27 mm wide, in a lattice, all turned at random, about 3 mm from one
//! neighbour to the next. Prints how long it takes to make the parts ready, to prove all clearances,
//! to find how the parts come out, and to tell what is near one part while it is dragged,
//! and how far it may go.

#![expect(clippy::print_stdout, reason = "this is what it is for")]

use base::{Affine, Progress};
use mesh::Mesh;
use nesting::{Body, Neighbours, Solid, Space, proof, removal};
use std::error::Error;
use std::sync::Arc;
use std::time::Instant;

/// A ball with `lobes` bumps each way, about the origin.
fn knob(radius: f64, lobes: f64, triangles: usize) -> Mesh {
    let n = u32::try_from((triangles / 2).isqrt()).unwrap_or(u32::MAX).max(4);
    let mut mesh = Mesh::default();
    let at = |i: u32, j: u32| i * n + j % n;
    for i in 0..=n {
        for j in 0..n {
            let u = std::f64::consts::PI * f64::from(i) / f64::from(n);
            let v = std::f64::consts::TAU * f64::from(j) / f64::from(n);
            let r = radius * (0.9 + 0.1 * (lobes * u).cos() * (lobes * v).cos());
            mesh.vertices.push([r * u.sin() * v.cos(), r * u.sin() * v.sin(), r * u.cos()]);
            if i < n {
                mesh.triangles.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
                mesh.triangles.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
            }
        }
    }
    mesh
}

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().collect();
    let number = |i: usize, or: usize| args.get(i).map_or(Ok(or), |s| s.parse());
    let (count, triangles) = (number(1, 300)?, number(2, 100_000)?);
    let space = Space { size_mm: [200., 200., 400.], wall_clearance_mm: 3., clearance_mm: 3. };
    let progress = Progress::default();
    let start = Instant::now();
    let mut done = start;
    let mut lap = |what: &str| {
        println!("{what}: {:.3} s", done.elapsed().as_secs_f64());
        done = Instant::now();
    };
    let solids: Vec<Arc<Solid>> = (0..10)
        .map(|i| Arc::new(Solid::new(Arc::new(knob(13.5, 2.0 + f64::from(i), triangles)))))
        .collect();
    lap("ten parts made ready");
    let bodies: Vec<Body> = (0..count)
        .map(|i| {
            let cell = [i % 6, i / 6 % 6, i / 36];
            let place = [0, 1, 2].map(|k| 29.5 * cell[k] as f64 + [-75., -75., 17.][k]);
            let turns = [37.0, 101.0, 211.0].map(|step| step * i as f64);
            let pose = Affine::translation(place) * Affine::rotation_deg(turns);
            Body { solid: Arc::clone(&solids[i % 10]), pose }
        })
        .collect();
    lap("placed");
    let found = proof(&bodies, &space, &progress)?;
    lap("clearances proven");
    println!(
        "  {} pairs nearer than 6 mm, the nearest {:.4} mm; {} nearer than 3 mm",
        found.pairs.len(),
        found.pairs.first().map_or(f64::NAN, |p| p.distance_mm),
        found.pairs.iter().filter(|p| p.violates).count()
    );
    let out = removal(&bodies, &progress)?;
    lap("removal found");
    println!("  {} come out, {} findings", out.order.len(), out.trapped.len());
    let middle = count / 2;
    let home = bodies[middle].pose;
    let mut near = Neighbours::new(bodies, space);
    lap("neighbours made ready");
    let mut times = Vec::new();
    for step in 0..100 {
        let t = f64::from(step) * 0.1;
        let moved = Affine::translation([2.0 * t.sin(), 2.0 * (1.3 * t).cos(), 0.1 * t]) * home;
        let begin = Instant::now();
        let gaps = near.near(middle, moved, 6.0, &progress)?;
        times.push((begin.elapsed().as_secs_f64() * 1e3, gaps.len()));
    }
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    println!(
        "neighbours of a dragged part ({} of them): median {:.2} ms, worst of 100 {:.2} ms",
        times[50].1, times[50].0, times[99].0
    );
    near.place(middle, home);
    for (what, pushes) in [("stops", false), ("pushes", true)] {
        let mut times = Vec::new();
        for step in 0..100 {
            let t = f64::from(step) * 0.3;
            let by = [3.0 * t.sin(), 3.0 * (1.3 * t).cos(), 0.5 * t.cos()];
            let begin = Instant::now();
            near.carry(&[middle], by, |_| pushes, &progress)?;
            near.around(&[middle], 15.0, &progress)?;
            times.push(begin.elapsed().as_secs_f64() * 1e3);
        }
        times.sort_by(f64::total_cmp);
        println!(
            "dragged by 3 mm, and {what}: median {:.2} ms, worst of 100 {:.2} ms",
            times[50], times[99]
        );
    }
    println!("all: {:.3} s", start.elapsed().as_secs_f64());
    Ok(())
}
