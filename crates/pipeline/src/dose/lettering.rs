//! Letters of a few straight strokes, as on a drawing: what the legend of a picture is written in.
//!
//! A letter lives on a lattice 4 units wide; lines of text stand on height 2, small letters reach
//! up to 6, tall ones to 8.

use super::canvas::Segment;

/// Units between letters, and the width of a space.
const BETWEEN: f64 = 2.0;
const SPACE: f64 = 2.0;
/// The height that text stands on, and that of tall letters above it.
const STANDS_ON: f64 = 2.0;
pub(super) const TALL: f64 = 6.0;
/// Half the width of a stroke, in units.
const HALF_STROKE: f64 = 0.4;

/// The strokes of a letter: runs of points, each two digits, x and y. `None` for what has no letter.
fn strokes(letter: char) -> Option<&'static str> {
    Some(match letter {
        '0' => "120307183847433212",
        '1' => "071822 0242",
        '2' => "07183847460242",
        '3' => "0718384746354443321203 3525",
        '4' => "32380444",
        '5' => "480805354443321203",
        '6' => "473818070312324344351504",
        '7' => "084812",
        '8' => "15060718384746351504031232434435",
        '9' => "031232434738180706153546",
        'a' => "4642 4536160503123243",
        'b' => "0802 0516364543321203",
        'c' => "4536160503123243",
        'd' => "4842 4536160503123243",
        'e' => "04444536160503123243",
        'f' => "38281712 0636",
        'g' => "4641301001 4536160503123243",
        'h' => "0802 0516364542",
        'i' => "0602 0808",
        'j' => "26211000 2828",
        'k' => "0802 3603 1432",
        'l' => "0802",
        'm' => "0602 05162522 25364542",
        'n' => "0602 0516364542",
        'o' => "120305163645433212",
        'p' => "0600 0516364543321203",
        'q' => "4640 4536160503123243",
        'r' => "0602 051636",
        's' => "45361605143443321203",
        't' => "18132232 0636",
        'u' => "0603123243 4642",
        'v' => "062246",
        'w' => "0612263246",
        'x' => "0642 0246",
        'y' => "0623 4600",
        'z' => "06460242",
        'J' => "3833221203",
        '²' => "0819280525",
        '/' => "0048",
        '.' => "0202",
        ',' => "0201",
        ':' => "0202 0505",
        '-' => "0434",
        _ => return None,
    })
}

/// The strokes of a letter as points; none for a space and for what has no letter.
fn points(letter: char) -> Vec<Vec<[f64; 2]>> {
    let digits = |stroke: &str| -> Vec<f64> {
        stroke.chars().filter_map(|digit| digit.to_digit(10)).map(f64::from).collect()
    };
    let pairs = |stroke| digits(stroke).chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect();
    strokes(letter).unwrap_or("").split(' ').map(pairs).collect()
}

fn width(letter: char) -> f64 {
    if letter == ' ' {
        return SPACE;
    }
    points(letter).iter().flatten().map(|point| point[0]).fold(0.0, f64::max)
}

/// How long a text is, in units.
pub(super) fn text_width(text: &str) -> f64 {
    let letters: f64 = text.chars().map(|letter| width(letter) + BETWEEN).sum();
    (letters - BETWEEN).max(0.0)
}

/// Writes a text: its lower left corner, and how many pixels a unit is; Y points down.
pub(super) fn write(text: &str, [x, y]: [f64; 2], unit: f64, into: &mut Vec<Segment>) {
    let mut left = 0.0;
    for letter in text.chars() {
        let place = |[u, v]: [f64; 2]| [x + (left + u) * unit, y - (v - STANDS_ON) * unit];
        for stroke in points(letter) {
            let ends = stroke.windows(2).map(|pair| [place(pair[0]), place(pair[1])]);
            into.extend(ends.map(|ends| Segment { ends, half_width: HALF_STROKE * unit }));
        }
        left += width(letter) + BETWEEN;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_lie_on_their_lattice_in_whole_strokes() {
        for letter in ('a'..='z').chain('0'..='9').chain("J²/.,:-".chars()) {
            let strokes = strokes(letter).unwrap_or_else(|| panic!("no letter {letter}"));
            for stroke in strokes.split(' ') {
                let is_whole = stroke.len() % 2 == 0 && stroke.len() >= 4;
                assert!(
                    is_whole && stroke.chars().all(|c| c.is_ascii_digit()),
                    "{letter}: {stroke}"
                );
            }
            for [x, y] in points(letter).into_iter().flatten() {
                assert!(x <= 4.0 && y <= 9.0, "{letter}");
            }
        }
        assert_eq!((text_width("i l"), text_width("")), (6.0, 0.0));
    }
}
