//! A sum that no way through all places stays below: trees with prices.
//!
//! A way that visits every place once is a tree in which no place has more than two neighbours. The shortest tree of
//! all is no longer. It may have places with many neighbours, and ends; a price on the first kind and a reward for the
//! second, paid by every edge that ends there, changes which tree is shortest, but every way by the same amount, apart
//! from its two ends. So each set of prices gives a bound, and better prices a better one (M. Held and R. M. Karp, *The
//! traveling-salesman problem and minimum spanning trees*, Operations Research 18, 1970, with a further place that
//! is free to reach, so that the way need not be closed).

/// Rounds of prices. The bound hardly rises any more after that.
const ROUNDS: u32 = 60;

/// How much smaller the changes of prices get from round to round.
const SLOWER: f64 = 0.93;

/// A sum of costs that no order of `n` places stays below; `costs` has that of going from one to the next, or the
/// other way round, whichever is less: n × n, symmetric. O(n²) time a round.
pub(super) fn least_path(n: usize, costs: &[f64]) -> f64 {
    if n < 2 {
        return 0.0;
    }
    let mut prices = vec![0.0; n];
    let mut tree = Tree::new(n);
    let mut best = 0.0_f64;
    let mut step = 0.0;
    for round in 0..ROUNDS {
        let length = tree.grow(costs, &prices);
        // the further place is reached from the two where that is cheapest
        let [first, second] = two_least(&prices);
        tree.neighbours[first] += 1;
        tree.neighbours[second] += 1;
        let sum: f64 = prices.iter().sum();
        best = best.max(length + prices[first] + prices[second] - 2.0 * sum);
        if round == 0 {
            step = length / f64::from(u32::try_from(n).unwrap_or(u32::MAX));
        }
        for (price, neighbours) in prices.iter_mut().zip(&tree.neighbours) {
            *price += step * (f64::from(*neighbours) - 2.0);
        }
        step *= SLOWER;
    }
    best
}

/// The shortest tree, grown place by place (R. C. Prim, 1957).
struct Tree {
    n: usize,
    /// How many edges of the tree end at each place.
    neighbours: Vec<u32>,
    /// Of each place that is not in the tree: what reaching it from there costs at least, and from where.
    reach: Vec<(f64, usize)>,
    waiting: Vec<usize>,
}

impl Tree {
    fn new(n: usize) -> Self {
        Self { n, neighbours: vec![0; n], reach: vec![(0.0, 0); n], waiting: Vec::with_capacity(n) }
    }

    /// Its length with prices.
    fn grow(&mut self, costs: &[f64], prices: &[f64]) -> f64 {
        let n = self.n;
        self.neighbours.fill(0);
        self.reach.fill((f64::INFINITY, 0));
        self.waiting.clear();
        self.waiting.extend(1..n);
        let (mut last, mut length) = (0, 0.0);
        while !self.waiting.is_empty() {
            let mut nearest = 0;
            for (k, &place) in self.waiting.iter().enumerate() {
                let by_last = costs[last * n + place] + prices[last] + prices[place];
                if by_last < self.reach[place].0 {
                    self.reach[place] = (by_last, last);
                }
                if self.reach[place].0 < self.reach[self.waiting[nearest]].0 {
                    nearest = k;
                }
            }
            last = self.waiting.swap_remove(nearest);
            let (added, from) = self.reach[last];
            length += added;
            self.neighbours[last] += 1;
            self.neighbours[from] += 1;
        }
        length
    }
}

/// The two places with the lowest prices; there are two.
fn two_least(prices: &[f64]) -> [usize; 2] {
    let mut order = if prices[1] < prices[0] { [1, 0] } else { [0, 1] };
    for (place, price) in prices.iter().enumerate().skip(2) {
        if *price < prices[order[0]] {
            order = [place, order[0]];
        } else if *price < prices[order[1]] {
            order[1] = place;
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The shortest way through all places, by trying every order.
    fn shortest(points: &[[f64; 2]], way: &mut Vec<usize>) -> f64 {
        if way.len() == points.len() {
            return way.windows(2).map(|w| distance(points, w[0], w[1])).sum();
        }
        let mut best = f64::INFINITY;
        for next in 0..points.len() {
            if !way.contains(&next) {
                way.push(next);
                best = best.min(shortest(points, way));
                way.pop();
            }
        }
        best
    }

    fn bound(n: usize, cost: impl Fn(usize, usize) -> f64) -> f64 {
        let costs: Vec<f64> = (0..n * n).map(|at| cost(at / n, at % n)).collect();
        least_path(n, &costs)
    }

    fn distance(points: &[[f64; 2]], a: usize, b: usize) -> f64 {
        (points[a][0] - points[b][0]).hypot(points[a][1] - points[b][1])
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]

        /// Never above the shortest way, and not far below it.
        #[test]
        fn it_is_a_bound_and_a_good_one(
            points in prop::collection::vec([0.0..10.0, 0.0..10.0], 2..8),
        ) {
            let found = bound(points.len(), |a, b| distance(&points, a, b));
            let best = shortest(&points, &mut Vec::new());
            prop_assert!(found <= best + 1e-9, "{found} above {best}");
            prop_assert!(found >= 0.75 * best, "{found} far below {best}");
        }
    }

    /// Where the shortest tree is a way already, the bound is its length: places along a line.
    #[test]
    fn on_a_line_it_is_exact() {
        let found = bound(50, |a, b| f64::from(u32::try_from(a.abs_diff(b)).unwrap()));
        assert!((found - 49.0).abs() < 1e-9, "{found}");
    }
}
