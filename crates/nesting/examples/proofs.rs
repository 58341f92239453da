//! Measures proofs: `proofs [PLACEMENTS] [TRIANGLES]`, 300 and 100,000 when absent.
//!
//! Ten knobbly parts, each some 27 mm wide, in a lattice, all rotated differently, about 3 mm from one
//! to the next. Prints how long it takes to make the parts ready, to prove all clearances, to find how
//! the parts come out, and to tell what is near one part while it is dragged, and how far it may go.

#![expect(clippy::print_stdout, reason = "this is what it is for")]

use base::{Affine, Progress};
use mesh::Mesh;
use nesting::{Body, PlacedBodies, Solid, Space, proof, removal};
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

type Result<T> = std::result::Result<T, Box<dyn Error>>;

/// Prints how long each stage takes.
struct Laps(Instant);

impl Laps {
    fn lap(&mut self, what: &str) {
        println!("{what}: {:.3} s", self.0.elapsed().as_secs_f64());
        self.0 = Instant::now();
    }
}

/// Median and worst of some times, ms.
fn median_and_worst(mut times: Vec<f64>) -> [f64; 2] {
    times.sort_by(f64::total_cmp);
    [times[times.len() / 2], times[times.len() - 1]]
}

fn main() -> Result<()> {
    let args: Vec<String> = std::env::args().collect();
    let number = |i: usize, or: usize| args.get(i).map_or(Ok(or), |s| s.parse());
    let (count, triangles) = (number(1, 300)?, number(2, 100_000)?);
    let space = Space { size_mm: [200., 200., 400.], wall_clearance_mm: 3., clearance_mm: 3. };
    let progress = Progress::default();
    let start = Instant::now();
    let mut laps = Laps(start);
    let solids: Vec<Arc<Solid>> = (0..10)
        .map(|i| Arc::new(Solid::new(Arc::new(knob(13.5, 2.0 + f64::from(i), triangles)))))
        .collect();
    laps.lap("ten parts made ready");
    let bodies: Vec<Body> = (0..count)
        .map(|i| {
            let cell = [i % 6, i / 6 % 6, i / 36];
            let place = [0, 1, 2].map(|k| 29.5 * cell[k] as f64 + [-75., -75., 17.][k]);
            let angles_deg = [37.0, 101.0, 211.0].map(|step| step * i as f64);
            let pose = Affine::translation(place) * Affine::rotation_deg(angles_deg);
            Body { solid: Arc::clone(&solids[i % 10]), pose }
        })
        .collect();
    laps.lap("placed");
    let found = proof(&bodies, &space, &progress)?;
    laps.lap("clearances proven");
    println!(
        "  {} pairs nearer than 6 mm, the nearest {:.4} mm; {} nearer than 3 mm",
        found.pairs.len(),
        found.pairs.first().map_or(f64::NAN, |p| p.distance_mm),
        found.pairs.iter().filter(|p| p.violates).count()
    );
    let out = removal(&bodies, &progress)?;
    laps.lap("removal found");
    println!("  {} come out, {} findings", out.order.len(), out.trapped.len());
    let all = PlacedBodies::new(bodies, space);
    laps.lap("all placed for moving");
    drag(all, count / 2, &progress)?;
    println!("all: {:.3} s", start.elapsed().as_secs_f64());
    Ok(())
}

/// Drags one part about, without and with clearances to keep.
fn drag(mut all: PlacedBodies, dragged: usize, progress: &Progress) -> Result<()> {
    let home = all.bodies()[dragged].pose;
    let (mut times, mut counts) = (Vec::new(), Vec::new());
    for step in 0..100 {
        let t = f64::from(step) * 0.1;
        let moved = Affine::translation([2.0 * t.sin(), 2.0 * (1.3 * t).cos(), 0.1 * t]) * home;
        let begin = Instant::now();
        counts.push(all.near(dragged, moved, 6.0, progress)?.len());
        times.push(begin.elapsed().as_secs_f64() * 1e3);
    }
    let [median, worst] = median_and_worst(times);
    println!(
        "near a dragged part ({} to {} others): median {median:.2} ms, worst of 100 {worst:.2} ms",
        counts.iter().min().unwrap_or(&0),
        counts.iter().max().unwrap_or(&0)
    );
    all.place(dragged, home);
    for (what, pushes) in [("stops", false), ("pushes", true)] {
        let mut times = Vec::new();
        for step in 0..100 {
            let t = f64::from(step) * 0.3;
            let by = [3.0 * t.sin(), 3.0 * (1.3 * t).cos(), 0.5 * t.cos()];
            let begin = Instant::now();
            all.carry(&[dragged], by, |_| pushes, progress)?;
            all.around(&[dragged], 15.0, progress)?;
            times.push(begin.elapsed().as_secs_f64() * 1e3);
        }
        let [median, worst] = median_and_worst(times);
        println!("dragged by 3 mm, and {what}: median {median:.2} ms, worst of 100 {worst:.2} ms");
    }
    Ok(())
}
