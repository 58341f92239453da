//! The lower envelope of functions over an interval: which of them is lowest where.

/// Functions of one family, any two of which meet twice at most.
pub(super) trait Front: Copy {
    /// The function's value.
    fn radius(&self, at: f64) -> f64;
    /// Where two functions meet; anything that is not a number for meetings that do not exist.
    fn meetings(&self, other: &Self) -> [f64; 2];
}

/// How much lower a function must be to take the place of another: rounding errors do not count.
const LOWER: f64 = 1e-4;

/// A stretch of the envelope.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece<F> {
    pub(super) from: f64,
    pub(super) to: f64,
    /// Whose function it is; `None` for that which was there from the start.
    pub(super) site: Option<u32>,
    pub(super) front: F,
}

/// The envelope so far: pieces one after the other.
pub(super) struct Envelope<F> {
    pieces: Vec<Piece<F>>,
    fresh: Vec<Piece<F>>,
}

impl<F> Default for Envelope<F> {
    fn default() -> Self {
        Self { pieces: Vec::new(), fresh: Vec::new() }
    }
}

impl<F: Front> Envelope<F> {
    /// Begins anew with one function over an interval.
    pub(super) fn restart(&mut self, [from, to]: [f64; 2], front: F) {
        self.pieces.clear();
        self.pieces.push(Piece { from, to, site: None, front });
    }

    pub(super) fn pieces(&self) -> &[Piece<F>] {
        &self.pieces
    }

    /// The envelope's largest value, if it is largest at the ends of its pieces.
    pub(super) fn largest(&self) -> f64 {
        let at_ends =
            |piece: &Piece<F>| piece.front.radius(piece.from).max(piece.front.radius(piece.to));
        self.pieces.iter().map(at_ends).fold(0.0, f64::max)
    }

    /// Lowers the envelope to a function on an interval.
    pub(super) fn lower(&mut self, site: u32, front: F, [low, high]: [f64; 2]) {
        if low.partial_cmp(&high) != Some(std::cmp::Ordering::Less) {
            return;
        }
        let begin = self.pieces.partition_point(|piece| piece.to <= low);
        let end = begin + self.pieces[begin..].partition_point(|piece| piece.from < high);
        self.fresh.clear();
        for piece in &self.pieces[begin..end] {
            let [first, second] = front.meetings(&piece.front);
            let mut cuts = [low, high, first, second, piece.to];
            cuts.sort_unstable_by(f64::total_cmp);
            let mut from = piece.from;
            for to in cuts {
                // false for what is no number, too
                if !(from < to && to <= piece.to) {
                    continue;
                }
                let middle = f64::midpoint(from, to);
                let is_lower = low < middle
                    && middle < high
                    && front.radius(middle) + LOWER < piece.front.radius(middle);
                let (site, front) =
                    if is_lower { (Some(site), front) } else { (piece.site, piece.front) };
                match self.fresh.last_mut() {
                    Some(last) if last.site == site => last.to = to,
                    _ => self.fresh.push(Piece { from, to, site, front }),
                }
                from = to;
            }
        }
        self.pieces.splice(begin..end, self.fresh.drain(..));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Clone, Copy)]
    struct Line(f64, f64);

    impl Front for Line {
        fn radius(&self, at: f64) -> f64 {
            self.0 + self.1 * at
        }

        fn meetings(&self, other: &Self) -> [f64; 2] {
            [(other.0 - self.0) / (self.1 - other.1), f64::NAN]
        }
    }

    #[test]
    fn the_lowest_is_on_top_wherever_it_is_defined() {
        let mut envelope = Envelope::default();
        envelope.restart([0.0, 10.0], Line(5.0, 0.0));
        let lines = [Line(0.0, 1.0), Line(8.0, -1.0), Line(6.0, 0.0), Line(0.5, 0.0)];
        let domains = [[-1.0, 20.0], [3.0, 9.0], [0.0, 10.0], [6.5, 7.0]];
        for (site, (line, domain)) in (0..).zip(lines.into_iter().zip(domains)) {
            envelope.lower(site, line, domain);
        }
        let found: Vec<_> = envelope.pieces().iter().map(|p| (p.from, p.to, p.site)).collect();
        let expected = [
            (0.0, 4.0, Some(0)),
            (4.0, 6.5, Some(1)),
            (6.5, 7.0, Some(3)),
            (7.0, 9.0, Some(1)),
            (9.0, 10.0, None),
        ];
        assert_eq!(found, expected);
        assert!((envelope.largest() - 5.0).abs() < 1e-12);
    }
}
