//! Climbs a ladder of walls and prints what the dose says of each: `cargo run --example wall_ladder
//! [RECIPE… [WIDTH]]`: of one width
//! each shape by itself. The figures are those of the walls' middle layers, away from their ends.

#![expect(clippy::unwrap_used, reason = "an example ends where it unwraps nothing")]
#![expect(clippy::print_stdout, reason = "this is what it is for")]

#[path = "../tests/ladder/mod.rs"]
mod ladder;

use ladder::{Shape, climb, recipe};

fn main() {
    let mut names: Vec<String> = std::env::args().skip(1).collect();
    let only = names.pop_if(|last| last.parse::<f64>().is_ok()).map(|n| n.parse::<f64>().unwrap());
    let names =
        if names.is_empty() { ["pa12", "pa11", "tpu"].map(str::to_owned).into() } else { names };
    let straight = (0..13).map(|i| Shape::Straight(7.5 * f64::from(i)));
    let shapes: Vec<Shape> = straight.chain([3.0, 10.0].map(Shape::Curved)).collect();
    for name in names {
        let recipe = recipe(&name);
        println!("{name}\nwidth  melted, mm      least/threshold  most/mean  core/mean");
        let ladder = (4..=60).map(|i| 0.05 * f64::from(i)).collect();
        for width in only.map_or(ladder, |only| vec![only]) {
            let rungs: Vec<_> = shapes.iter().map(|&shape| climb(&recipe, shape, width)).collect();
            for (shape, rung) in shapes.iter().zip(&rungs).filter(|_| only.is_some()) {
                println!("{shape:?} {rung:?}");
            }
            let least = |f: fn(&ladder::Rung) -> f64| rungs.iter().map(f).fold(f64::MAX, f64::min);
            let most = |f: fn(&ladder::Rung) -> f64| rungs.iter().map(f).fold(0.0, f64::max);
            let core = [least(|r| r.core[0]), most(|r| r.core[1])];
            let has_core = core[0] <= core[1]; // narrow walls have no place away from their sides
            let core =
                if has_core { format!("{:.2} … {:.2}", core[0], core[1]) } else { "–".into() };
            println!(
                "{width:.2}   {:.3} … {:.3}   {:8.2}         {:5.2}      {core}",
                least(|r| r.melted_mm[0]),
                most(|r| r.melted_mm[1]),
                least(|r| r.least),
                most(|r| r.most),
            );
        }
    }
}
