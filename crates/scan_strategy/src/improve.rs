//! A sequence made shorter by exchanges, with the time of jumps as the cost.
//!
//! From the nearest-next order on, two kinds of changes are tried as long as they save time: an item goes to
//! another place, in whichever of its ways of being run is best there; a stretch of the sequence is turned around
//! (Or-opt and 2-opt; D. S. Johnson and L. A. `McGeoch`, *The traveling salesman problem: a case study in local optimization*,
//! 1997). Both are tried only between items that lie near each other, in order of the sequence, and a fixed number of
//! rounds bounds the work: O(n²) distances, few of them turned into times.

use motion::{Jumps, PathEnd};

/// One way to run an item.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Way {
    /// Where a jump to it ends.
    pub(crate) enter: PathEnd,
    /// Where the next jump begins.
    pub(crate) leave: PathEnd,
    /// The number of the item's way that begins where this one ends.
    pub(crate) back: usize,
}

/// An item by number, and the number of its way.
pub(crate) type Stop = (usize, usize);

/// Sequences longer than this stay as they are: finding who lies near whom would take too long.
const MOST_ITEMS: usize = 1500;

/// Other items that each is tried beside.
const NEIGHBOURS: usize = 6;

const ROUNDS: usize = 3;

/// Longest stretch that is turned around, items: times within it may change, and are added up anew.
const LONGEST_TURNED: usize = 50;

/// Less than this is no gain, s: rounding.
const LEAST_GAIN_S: f64 = 1e-9;

/// Makes a sequence that starts from a place, if it is known, shorter in time. `order` holds every item once.
pub(crate) fn improve(
    items: &[Vec<Way>],
    order: &mut Vec<Stop>,
    from: Option<PathEnd>,
    jumps: &Jumps,
) {
    if order.len() < 3 || order.len() > MOST_ITEMS || items.iter().any(Vec::is_empty) {
        return;
    }
    let neighbours: Vec<Vec<usize>> = (0..items.len()).map(|i| nearest(items, i)).collect();
    let mut place = vec![0; items.len()];
    let mut sequence = Sequence { items, from, jumps, order };
    for _ in 0..ROUNDS {
        sequence.number(&mut place, 0);
        let mut has_gained = false;
        for item in 0..items.len() {
            for &other in &neighbours[item] {
                let (at, beside) = (place[item], place[other]);
                let first = sequence.moved(at, beside).or_else(|| sequence.turned(at, beside));
                if let Some(first) = first {
                    sequence.number(&mut place, first);
                    has_gained = true;
                }
            }
        }
        if !has_gained {
            break;
        }
    }
}

/// The items that an item's ends lie nearest to, nearest first.
fn nearest(items: &[Vec<Way>], item: usize) -> Vec<usize> {
    let squared = |a: &PathEnd, b: &PathEnd| {
        let [dx, dy] = [0, 1].map(|i| a.at_mm[i] - b.at_mm[i]);
        dx * dx + dy * dy
    };
    let away = |other: usize| {
        let ways = items[item].iter().flat_map(|a| items[other].iter().map(move |b| (a, b)));
        ways.map(|(a, b)| squared(&a.leave, &b.enter)).fold(f64::INFINITY, f64::min)
    };
    let others = (0..items.len()).filter(|other| *other != item);
    let mut found: Vec<(f64, usize)> = others.map(|other| (away(other), other)).collect();
    let by_distance = |a: &(f64, usize), b: &(f64, usize)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
    if found.len() > NEIGHBOURS {
        found.select_nth_unstable_by(NEIGHBOURS, by_distance);
        found.truncate(NEIGHBOURS);
    }
    found.sort_by(by_distance);
    found.into_iter().map(|(_, other)| other).collect()
}

struct Sequence<'a> {
    items: &'a [Vec<Way>],
    from: Option<PathEnd>,
    jumps: &'a Jumps,
    order: &'a mut Vec<Stop>,
}

impl Sequence<'_> {
    fn number(&self, place: &mut [usize], first: usize) {
        for (at, (item, _)) in self.order.iter().enumerate().skip(first) {
            place[*item] = at;
        }
    }

    fn way(&self, (item, way): Stop) -> &Way {
        &self.items[item][way]
    }

    /// Where the beam comes from to the stop at a place; nowhere at the start of a layer.
    fn before(&self, at: usize) -> Option<PathEnd> {
        at.checked_sub(1).map_or(self.from, |last| Some(self.way(self.order[last]).leave))
    }

    fn after(&self, at: usize) -> Option<PathEnd> {
        self.order.get(at + 1).map(|stop| self.way(*stop).enter)
    }

    /// Time of a jump; none from nowhere, or after the last item.
    fn time(&self, from: Option<PathEnd>, to: Option<PathEnd>) -> f64 {
        from.zip(to).map_or(0.0, |(from, to)| self.jumps.time_s(&from, &to))
    }

    fn least(&self, from: Option<PathEnd>, to: Option<PathEnd>) -> f64 {
        from.zip(to).map_or(0.0, |(from, to)| self.jumps.at_least_s(&from, &to))
    }

    /// Moves the item at a place right before or after another one, if that saves time; returns the first place
    /// that has changed.
    fn moved(&mut self, at: usize, beside: usize) -> Option<usize> {
        let way = *self.way(self.order[at]);
        let (before, after) = (self.before(at), self.after(at));
        let now = self.time(before, Some(way.enter)) + self.time(Some(way.leave), after);
        let saved = now - self.least(before, after);
        if saved <= LEAST_GAIN_S {
            return None;
        }
        let saved = now - self.time(before, after);
        let (item, _) = self.order[at];
        let mut best: Option<(f64, usize, usize)> = None;
        for gap in [beside, beside + 1] {
            if gap == at || gap == at + 1 {
                continue;
            }
            let (left, right) = (self.before(gap), self.order.get(gap).map(|s| self.way(*s).enter));
            let joined = self.time(left, right);
            let most = best.map_or(saved - LEAST_GAIN_S, |best| best.0);
            for (number, way) in self.items[item].iter().enumerate() {
                let (enter, leave) = (Some(way.enter), Some(way.leave));
                if self.least(left, enter) + self.least(leave, right) - joined >= most {
                    continue;
                }
                let added = self.time(left, enter) + self.time(leave, right) - joined;
                if added < best.map_or(saved - LEAST_GAIN_S, |best| best.0) {
                    best = Some((added, gap, number));
                }
            }
        }
        let (_, gap, number) = best?;
        self.order.remove(at);
        self.order.insert(if gap > at { gap - 1 } else { gap }, (item, number));
        Some(at.min(gap))
    }

    /// Turns around what lies between two places, so that one comes to lie beside the other, if that saves time.
    fn turned(&mut self, a: usize, b: usize) -> Option<usize> {
        // the earlier one stays and what follows it is turned, up to the later one
        let (first, last) = (a.min(b) + 1, a.max(b));
        if last <= first || last - first >= LONGEST_TURNED {
            return None;
        }
        let turned: Vec<Stop> = self.order[first..=last]
            .iter()
            .rev()
            .map(|(item, way)| (*item, self.items[*item][*way].back))
            .collect();
        let (before, after) = (self.before(first), self.after(last));
        let ends = |stops: &[Stop]| {
            let first = stops.first().map(|stop| self.way(*stop).enter);
            (first, stops.last().map(|stop| self.way(*stop).leave))
        };
        let within = |stops: &[Stop]| -> f64 {
            let pairs = stops.windows(2).map(|pair| {
                self.time(Some(self.way(pair[0]).leave), Some(self.way(pair[1]).enter))
            });
            pairs.sum()
        };
        let (old, new) = (ends(&self.order[first..=last]), ends(&turned));
        let outside = self.time(before, old.0) + self.time(old.1, after);
        if self.least(before, new.0) + self.least(new.1, after) >= outside {
            return None;
        }
        let now = outside + within(&self.order[first..=last]);
        let then = self.time(before, new.0) + self.time(new.1, after) + within(&turned);
        if then >= now - LEAST_GAIN_S {
            return None;
        }
        self.order[first..=last].copy_from_slice(&turned);
        Some(first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motion::Head;
    use proptest::prelude::*;
    use scan_path::{ExposureRow, Header};

    fn jumps(head: Option<&Head>) -> Jumps {
        let exposures = vec![ExposureRow { speed_mm_s: 4000.0, ..ExposureRow::default() }];
        let header = Header { jump_speed_mm_s: 8000.0, exposures, ..Header::default() };
        Jumps::new(&header, head)
    }

    fn total(items: &[Vec<Way>], order: &[Stop], jumps: &Jumps) -> f64 {
        let way = |stop: &Stop| items[stop.0][stop.1];
        order.windows(2).map(|p| jumps.time_s(&way(&p[0]).leave, &way(&p[1]).enter)).sum()
    }

    /// Lines that may be run from either end.
    fn lines(ends: &[[f64; 4]]) -> Vec<Vec<Way>> {
        let end = |x: f64, y: f64| PathEnd { at_mm: [x, y], velocity_mm_s: [0.0; 2] };
        let way = |a, b, back| Way { enter: a, leave: b, back };
        ends.iter()
            .map(|[a, b, c, d]| {
                vec![way(end(*a, *b), end(*c, *d), 1), way(end(*c, *d), end(*a, *b), 0)]
            })
            .collect()
    }

    proptest! {
        #[test]
        fn every_item_stays_once_and_no_sequence_gets_longer(
            ends in prop::collection::vec(prop::array::uniform4(-50.0..50.0), 1..30),
        ) {
            let items = lines(&ends);
            let jumps = jumps(None);
            let mut order: Vec<Stop> = (0..items.len()).map(|i| (i, 0)).collect();
            let before = total(&items, &order, &jumps);
            improve(&items, &mut order, None, &jumps);
            prop_assert!(total(&items, &order, &jumps) <= before + 1e-9);
            let mut numbers: Vec<usize> = order.iter().map(|(item, _)| *item).collect();
            numbers.sort_unstable();
            prop_assert_eq!(numbers, (0..items.len()).collect::<Vec<_>>());
        }

        /// Points along a line, one of them left behind as the nearest-next order does: the way out and back is
        /// saved.
        #[test]
        fn what_was_left_behind_is_fetched_on_the_way(left in 1..18_usize) {
            let points: Vec<[f64; 4]> = (0..20).map(|i| [f64::from(i), 0.0, f64::from(i), 0.0]).collect();
            let (items, jumps) = (lines(&points), jumps(None));
            let mut order: Vec<Stop> = (0..20).filter(|i| *i != left).map(|i| (i, 0)).collect();
            order.push((left, 0));
            improve(&items, &mut order, None, &jumps);
            prop_assert!((total(&items, &order, &jumps) - 19.0 / 8000.0).abs() < 1e-9);
        }
    }
}
