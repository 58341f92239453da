//! Closing what the mesh leaves open.
//!
//! A contour that runs into an edge without partner is an open *chain*. Chains become rings in two
//! steps, both independent of the order in which the chains were found except for exact ties:
//!
//! 1. Two chains that both end, or both begin, at the same edge meet where two triangles face
//!    opposite sides. They belong together, one of them reversed. The joined chain keeps the
//!    direction of its longer part.
//! 2. Of what is still open, the nearest pair of an end and a beginning is joined by a straight
//!    gap, then the nearest of those that remain, and so on.

use crate::Gap;
use crate::cut::Crossing;
use base::Point;

/// An open contour.
#[derive(Clone, Debug, Default)]
pub(crate) struct Chain {
    points: Vec<Point>,
    /// Edge at which it begins and edge at which it ends, as upper and lower vertex. Above and
    /// below the plane, these name the edge uniquely.
    edges: [[u32; 2]; 2],
}

impl Chain {
    pub(crate) fn new(points: Vec<Point>, first: Crossing, last: Crossing) -> Self {
        Self { points, edges: [first, last].map(|c| [c.upper, c.lower]) }
    }

    fn length(&self) -> f64 {
        self.points.windows(2).map(|w| w[0].distance(w[1])).sum()
    }
}

/// Joins chains to rings; the gaps tell where straight pieces were added. A gap is from the end of
/// a chain to the beginning of the next, and not reported where the two coincide.
pub(crate) fn close(chains: &[Chain]) -> (Vec<Vec<Point>>, Vec<Gap>) {
    let (mut rings, open) = join_where_orientation_flips(chains);
    let next = nearest_beginnings(&open);

    let mut gaps = Vec::new();
    let mut done = vec![false; open.len()];
    for first in 0..open.len() {
        let mut ring = Vec::new();
        let mut i = first;
        while !done[i] {
            done[i] = true;
            ring.extend_from_slice(&open[i]);
            let (from, to) = (end(&open[i]), beginning(&open[next[i]]));
            if from != to {
                gaps.push(Gap { from_mm: from.to_mm(), to_mm: to.to_mm() });
            }
            i = next[i];
        }
        rings.push(ring);
    }
    for ring in &mut rings {
        ring.dedup();
        while ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
    }
    (rings, gaps)
}

/// Step 1: rings closed thereby, and what is still open.
fn join_where_orientation_flips(chains: &[Chain]) -> (Vec<Vec<Point>>, Vec<Vec<Point>>) {
    // All chain tips by edge: tip 2·i is the beginning of chain i, 2·i + 1 its end.
    let mut tips: Vec<([u32; 2], usize)> =
        (0..2 * chains.len()).map(|tip| (chains[tip / 2].edges[tip % 2], tip)).collect();
    tips.sort_unstable();
    let mut mate = vec![None; tips.len()];
    for group in tips.chunk_by(|a, b| a.0 == b.0) {
        if let &[(_, p), (_, q)] = group
            && p % 2 == q % 2
        {
            (mate[p], mate[q]) = (Some(q), Some(p));
        }
    }

    let (mut rings, mut open) = (Vec::new(), Vec::new());
    let mut done = vec![false; chains.len()];
    // From the tips without mate first, so that what is left afterwards is rings.
    let mut tips: Vec<usize> = (0..mate.len()).collect();
    tips.sort_by_key(|&tip| (mate[tip].is_some(), tip));
    for tip in tips {
        if done[tip / 2] {
            continue;
        }
        let is_ring = mate[tip].is_some();
        let (mut points, mut forward, mut backward) = (Vec::new(), 0.0, 0.0);
        let mut enter = Some(tip);
        while let Some(at) = enter {
            let chain = &chains[at / 2];
            if std::mem::replace(&mut done[at / 2], true) {
                break;
            }
            if at % 2 == 0 {
                points.extend(&chain.points);
                forward += chain.length();
            } else {
                points.extend(chain.points.iter().rev());
                backward += chain.length();
            }
            enter = mate[at ^ 1];
        }
        if backward > forward {
            points.reverse();
        }
        if is_ring { rings.push(points) } else { open.push(points) }
    }
    (rings, open)
}

/// Step 2: for each chain the one that follows it, a permutation. Repeatedly joins all pairs of an
/// end and a beginning that are each other's nearest; that is what taking the nearest pair of all,
/// over and over, arrives at. Lower indices win ties.
///
/// Tips that coincide are one place: a hundred copies of a triangle are then joined in one round, not in
/// a hundred rounds that look at all the others.
fn nearest_beginnings(chains: &[Vec<Point>]) -> Vec<usize> {
    let mut next = vec![usize::MAX; chains.len()];
    let mut ends = places(chains, end);
    let mut beginnings = places(chains, beginning);
    while !ends.is_empty() {
        let nearest_end: Vec<usize> =
            beginnings.iter().map(|place| nearest(place.point, &ends)).collect();
        let nearest_beginning: Vec<usize> =
            ends.iter().map(|place| nearest(place.point, &beginnings)).collect();
        for (e, (place, b)) in ends.iter_mut().zip(nearest_beginning).enumerate() {
            if nearest_end[b] == e {
                let count = place.waiting().len().min(beginnings[b].waiting().len());
                for (from, to) in place.waiting().iter().zip(beginnings[b].waiting()) {
                    next[*from] = *to;
                }
                place.joined += count;
                beginnings[b].joined += count;
            }
        }
        ends.retain(|place| !place.waiting().is_empty());
        beginnings.retain(|place| !place.waiting().is_empty());
    }
    next
}

/// Where chains end, or begin.
struct Place {
    point: Point,
    /// The chains, rising.
    chains: Vec<usize>,
    /// How many of these are joined already.
    joined: usize,
}

impl Place {
    fn waiting(&self) -> &[usize] {
        &self.chains[self.joined..]
    }
}

/// All places, by rising x.
fn places(chains: &[Vec<Point>], of: impl Fn(&[Point]) -> Point) -> Vec<Place> {
    let mut points: Vec<_> = chains.iter().enumerate().map(|(i, c)| (of(c), i)).collect();
    points.sort_unstable();
    let same = points.chunk_by(|p, q| p.0 == q.0);
    same.map(|same| Place {
        point: same[0].0,
        chains: same.iter().map(|(_, chain)| *chain).collect(),
        joined: 0,
    })
    .collect()
}

/// The index of the place nearest to a point, of equals that with the lowest chain that waits; `among` is
/// sorted by x and not empty.
fn nearest(to: Point, among: &[Place]) -> usize {
    let split = among.partition_point(|place| place.point.x < to.x);
    let mut best = (u64::MAX, usize::MAX, usize::MAX);
    let mut look = |(k, place): (usize, &Place)| {
        let dx = u64::from(place.point.x.abs_diff(to.x)).pow(2);
        // Fits: differences are below 2³¹, their squares below 2⁶².
        let square = dx + u64::from(place.point.y.abs_diff(to.y)).pow(2);
        best = best.min((square, place.waiting().first().copied().unwrap_or(usize::MAX), k));
        dx <= best.0 // further out in x nothing can be nearer
    };
    let _ = among.iter().enumerate().skip(split).all(&mut look);
    let _ = among[..split].iter().enumerate().rev().all(&mut look);
    best.2
}

fn beginning(chain: &[Point]) -> Point {
    chain.first().copied().unwrap_or_default()
}

fn end(chain: &[Point]) -> Point {
    chain.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight hundred copies of one contour, and a gap in two more: each copy is closed by itself, by a line as
    /// long as it is.
    #[test]
    fn copies_of_a_chain_are_closed_one_by_one() {
        let chain = |points: &[[i32; 2]]| points.iter().map(|[x, y]| Point::new(*x, *y)).collect();
        let copy: Vec<Point> = chain(&[[0, 0], [300, 0], [300, 400]]);
        let mut chains = vec![copy; 800];
        chains.push(chain(&[[9000, 0], [9100, 0], [9100, 50]]));
        chains.push(chain(&[[9100, 60], [9000, 60], [9000, 10]]));
        let next = nearest_beginnings(&chains);
        assert_eq!(next[..800], (0..800).collect::<Vec<_>>());
        assert_eq!(next[800..], [801, 800]);
    }
}
