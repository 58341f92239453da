//! Doses at places, for scripts: reads whitespace-separated numbers, prints a dose a line.
//!
//! The beam radius, the number of strokes, five numbers for each (from x, y, to x, y in mm; J/mm), the
//! number of places, two for each. Prints J/mm².
#![expect(clippy::print_stdout, reason = "an example for scripts")]

use estimate::{Beam, DoseField, Stroke};
use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let text = std::io::read_to_string(std::io::stdin())?;
    let mut numbers = text.split_whitespace().map(str::parse::<f64>);
    let mut next = || numbers.next().unwrap_or(Ok(f64::NAN));
    let beam = Beam::new(next()?)?;
    let mut strokes = Vec::new();
    for _ in 0..count(next()?) {
        let (from, to) = ([next()?, next()?], [next()?, next()?]);
        strokes.push(Stroke { from, to, energy_j_mm: next()? });
    }
    let field = DoseField::new(&strokes, beam)?;
    for _ in 0..count(next()?) {
        println!("{:e}", field.at([next()?, next()?]));
    }
    Ok(())
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
fn count(number: f64) -> usize {
    number as usize
}
