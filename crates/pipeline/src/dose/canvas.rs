//! A picture in memory: pixels, and lines with smooth edges on them. X right, Y down, a pixel's centre
//! half a pixel inside it.

/// Red, green, blue.
pub(super) type Colour = [u8; 3];

/// Lines are drawn in pieces no longer than this, pixels, so that each concerns few pixels.
const LONGEST: f64 = 16.0;

/// A straight line with round ends, in pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Segment {
    pub(super) ends: [[f64; 2]; 2],
    pub(super) half_width: f64,
}

/// The picture.
pub(super) struct Canvas {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) pixels: Vec<Colour>,
}

impl Canvas {
    /// A picture of one colour.
    pub(super) fn new(width: usize, height: usize, ground: Colour) -> Self {
        Self { width, height, pixels: vec![ground; width * height] }
    }

    /// Sets a pixel; outside of the picture nothing happens.
    pub(super) fn set(&mut self, x: usize, y: usize, colour: Colour) {
        if x < self.width && y < self.height {
            self.pixels[y * self.width + x] = colour;
        }
    }

    /// Draws lines in one colour. Where they overlap they cover no more than one of them does, so that a
    /// curve of many short pieces has smooth edges, too.
    pub(super) fn draw(&mut self, lines: &[Segment], colour: Colour) {
        let mut cover = vec![0_u8; self.pixels.len()];
        for line in lines {
            let [a, b] = line.ends;
            let pieces = ((b[0] - a[0]).hypot(b[1] - a[1]) / LONGEST).ceil().max(1.0);
            let at = |t: f64| [0, 1].map(|k| a[k] + (b[k] - a[k]) * t / pieces);
            let mut piece = 0.0;
            while piece < pieces {
                self.cover(&mut cover, [at(piece), at(piece + 1.0)], line.half_width);
                piece += 1.0;
            }
        }
        for (pixel, &cover) in self.pixels.iter_mut().zip(&cover).filter(|(_, cover)| **cover > 0) {
            *pixel = blend(*pixel, colour, f64::from(cover) / 255.0);
        }
    }

    fn cover(&self, cover: &mut [u8], ends: [[f64; 2]; 2], half_width: f64) {
        let [a, b] = ends;
        let reach = half_width + 1.0;
        let first = |k: usize| whole(a[k].min(b[k]) - reach);
        let end = |k: usize, size: usize| whole(a[k].max(b[k]) + reach + 1.0).min(size);
        for y in first(1)..end(1, self.height) {
            for x in first(0)..end(0, self.width) {
                let centre = [x as f64 + 0.5, y as f64 + 0.5];
                let share = (half_width + 0.5 - distance(centre, ends)).clamp(0.0, 1.0);
                let here = &mut cover[y * self.width + x];
                *here = (*here).max(byte(255.0 * share));
            }
        }
    }
}

/// A colour, part of the way to another.
pub(super) fn blend(from: Colour, to: Colour, share: f64) -> Colour {
    let mix = |k: usize| f64::from(from[k]) + share * (f64::from(to[k]) - f64::from(from[k]));
    std::array::from_fn(|k| byte(mix(k)))
}

/// How far a point is from a line.
fn distance(point: [f64; 2], [a, b]: [[f64; 2]; 2]) -> f64 {
    let along = [b[0] - a[0], b[1] - a[1]];
    let from = [point[0] - a[0], point[1] - a[1]];
    let square = along[0] * along[0] + along[1] * along[1];
    let t = (from[0] * along[0] + from[1] * along[1]) / square.max(f64::MIN_POSITIVE);
    let t = t.clamp(0.0, 1.0);
    (from[0] - t * along[0]).hypot(from[1] - t * along[1])
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "`as` saturates")]
fn byte(x: f64) -> u8 {
    x.round() as u8
}

/// The whole number below; 0 for what is negative or no number.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "`as` saturates")]
pub(super) fn whole(x: f64) -> usize {
    x as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_covers_its_pixels_whole_and_its_edges_in_part() {
        let mut canvas = Canvas::new(40, 7, [255; 3]);
        // 3 pixels wide, from the middle of a pixel to that of another, in many pieces
        let at = |x: f64| [x, 3.25];
        let line = |from, to| Segment { ends: [at(from), at(to)], half_width: 1.5 };
        canvas.draw(&[line(5.5, 20.0), line(20.0, 35.5)], [0; 3]);
        let column = |canvas: &Canvas, x: usize| -> Vec<u8> {
            (0..7).map(|y| canvas.pixels[y * 40 + x][0]).collect()
        };
        // from 1.75 to 4.75: a quarter of pixel 1, pixels 2 and 3, three quarters of pixel 4
        let wanted = vec![255, 191, 0, 0, 64, 255, 255];
        assert_eq!(column(&canvas, 6), wanted);
        assert_eq!((column(&canvas, 20), column(&canvas, 35)), (wanted.clone(), wanted));
        assert_eq!(column(&canvas, 1), vec![255; 7]);
        canvas.draw(&[Segment { ends: [[-9.0; 2], [90.0, -9.0]], half_width: 1.0 }], [0; 3]);
        canvas.set(40, 0, [0; 3]);
        assert_eq!(column(&canvas, 1), vec![255; 7]);
    }
}
