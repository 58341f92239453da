//! Links of a medial axis joined into long paths, straight over junctions.

use super::axis::Axis;
use super::prune::Star;

/// A polyline with clearances.
pub(super) struct Path {
    /// x, y, clearance, nm.
    pub(super) points: Vec<[f64; 3]>,
    /// Whether the last point is the first again.
    pub(super) closed: bool,
}

/// Junctions closer than this part of their clearance count as one: the axis of a crossing is
/// seldom one point, and the discs there cover each other anyhow. Common sense, no source.
const BRIDGE: f64 = 0.5;

/// A run of links between two nodes that are not passed straight: tips, open ends, junctions.
/// Its ends have the numbers 2·chain and 2·chain + 1.
type Chain = Vec<usize>;

/// Joins all links of the axis into paths.
pub(super) fn chains(axis: &Axis) -> Vec<Path> {
    let star = Star::new(axis.nodes.len(), &axis.links);
    let chains = runs(axis, &star);
    let junctions = Junctions::new(axis, &star, &chains);
    let mut visited = junctions.is_bridge.clone();
    let mut paths = Vec::new();
    // From all loose ends first; what is left then are rings, and any end will do.
    for loose in [true, false] {
        for end in 0..2 * chains.len() {
            if visited[end / 2] || loose && junctions.partner[end].is_some() {
                continue;
            }
            let mut nodes: Vec<usize> = Vec::new();
            let mut next = Some(end);
            while let Some(end) = next.filter(|end| !visited[end / 2]) {
                visited[end / 2] = true;
                let chain = &chains[end / 2];
                if let Some(&from) = nodes.last() {
                    nodes.extend(junctions.way(&chains, from, node_at(&chains, end)));
                }
                // Neighbouring chains share a node; equal points go when the line is rounded.
                if end.is_multiple_of(2) {
                    nodes.extend(chain);
                } else {
                    nodes.extend(chain.iter().rev());
                }
                next = junctions.partner[end ^ 1];
            }
            if let Some(end) = next {
                // Back at the beginning.
                let from = nodes[nodes.len() - 1];
                nodes.extend(junctions.way(&chains, from, node_at(&chains, end)));
                nodes.push(nodes[0]);
            }
            let closed = nodes.first() == nodes.last();
            let mut points: Vec<_> = nodes.iter().map(|&node| axis.nodes[node]).collect();
            points.dedup();
            paths.push(Path { points, closed });
        }
    }
    paths
}

/// Splits the axis at all nodes that do not have exactly two links.
fn runs(axis: &Axis, star: &Star) -> Vec<Chain> {
    let mut walked = vec![false; axis.links.len()];
    let mut chains = Vec::new();
    for rings in [false, true] {
        for node in 0..axis.nodes.len() {
            if star.at(node).len() == 2 && !rings {
                continue;
            }
            for &(link, next) in star.at(node) {
                if walked[link] {
                    continue;
                }
                walked[link] = true;
                let mut chain = vec![node, next];
                let mut at = next;
                while star.at(at).len() == 2 {
                    let Some(&(link, next)) = star.at(at).iter().find(|way| !walked[way.0]) else {
                        break; // once around
                    };
                    walked[link] = true;
                    chain.push(next);
                    at = next;
                }
                chains.push(chain);
            }
        }
    }
    chains
}

fn node_at(chains: &[Chain], end: usize) -> usize {
    let chain = &chains[end / 2];
    if end.is_multiple_of(2) { chain[0] } else { chain[chain.len() - 1] }
}

/// How chains go on at their ends.
struct Junctions {
    /// The chain end at which the path goes on, for each chain end.
    partner: Vec<Option<usize>>,
    /// Whether a chain is but a short way between two junctions.
    is_bridge: Vec<bool>,
    /// The ends of all bridges with their nodes, sorted by node.
    bridge_ends: Vec<(usize, usize)>,
}

impl Junctions {
    fn new(axis: &Axis, star: &Star, chains: &[Chain]) -> Self {
        let is_junction = |node: usize| star.at(node).len() > 2;
        let is_bridge: Vec<bool> = chains
            .iter()
            .map(|chain| {
                let (a, b) = (chain[0], chain[chain.len() - 1]);
                let clearance = axis.nodes[a][2].max(axis.nodes[b][2]);
                let both = is_junction(a) && is_junction(b) && a != b;
                both && length(axis, chain) < BRIDGE * clearance
            })
            .collect();

        let mut group: Vec<usize> = (0..axis.nodes.len()).collect(); // a forest, roots at the top
        for (chain, _) in chains.iter().zip(&is_bridge).filter(|(_, is_bridge)| **is_bridge) {
            let (a, b) = (root(&group, chain[0]), root(&group, chain[chain.len() - 1]));
            group[a.max(b)] = a.min(b);
        }
        let mut bridge_ends = Vec::new();
        let mut arms = Vec::new();
        let mut partner = vec![None; 2 * chains.len()];
        for end in 0..2 * chains.len() {
            let node = node_at(chains, end);
            if is_bridge[end / 2] {
                bridge_ends.push((node, end));
            } else if is_junction(node) {
                arms.push((root(&group, node), end));
            } else if node == node_at(chains, end ^ 1) {
                partner[end] = Some(end ^ 1); // a ring without junctions
            }
        }
        bridge_ends.sort_unstable();
        arms.sort_unstable();
        for arms in arms.chunk_by(|a, b| a.0 == b.0) {
            let ends: Vec<_> =
                arms.iter().map(|&(_, end)| (end, direction(axis, chains, end))).collect();
            pair(&ends, &mut partner);
        }
        Self { partner, is_bridge, bridge_ends }
    }

    /// The nodes on bridges from one node of a junction to another, ends included; breadth first.
    fn way(&self, chains: &[Chain], from: usize, to: usize) -> Vec<usize> {
        // Nodes reached, with the place in this list from where and the bridge's end there.
        let mut reached: Vec<(usize, Option<(usize, usize)>)> = vec![(from, None)];
        let mut at = 0;
        while at < reached.len() && reached[at].0 != to {
            let node = reached[at].0;
            let first = self.bridge_ends.partition_point(|end| end.0 < node);
            for &(_, end) in self.bridge_ends[first..].iter().take_while(|end| end.0 == node) {
                let next = node_at(chains, end ^ 1);
                if reached.iter().all(|&(other, _)| other != next) {
                    reached.push((next, Some((at, end))));
                }
            }
            at += 1;
        }
        let mut way = Vec::new();
        while let Some(&(_, Some((before, end)))) = reached.get(at) {
            let bridge = &chains[end / 2];
            if end.is_multiple_of(2) {
                way.extend(bridge.iter().rev());
            } else {
                way.extend(bridge);
            }
            at = before;
        }
        way.reverse();
        way
    }
}

fn root(group: &[usize], mut node: usize) -> usize {
    while group[node] != node {
        node = group[node];
    }
    node
}

fn length(axis: &Axis, chain: &[usize]) -> f64 {
    chain.windows(2).map(|pair| distance(axis, pair[0], pair[1])).sum()
}

fn distance(axis: &Axis, a: usize, b: usize) -> f64 {
    let (a, b) = (axis.nodes[a], axis.nodes[b]);
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// Unit direction in which a chain leaves an end, seen from as far as the clearance there: close
/// by, all axes bend away from reflex corners.
fn direction(axis: &Axis, chains: &[Chain], end: usize) -> [f64; 2] {
    let chain = &chains[end / 2];
    let node = |i: usize| if end.is_multiple_of(2) { chain[i] } else { chain[chain.len() - 1 - i] };
    let [x, y, reach] = axis.nodes[node(0)];
    let mut gone = 0.0;
    let mut i = 0;
    while i + 1 < chain.len() && gone < reach {
        gone += distance(axis, node(i), node(i + 1));
        i += 1;
    }
    let to = axis.nodes[node(i)];
    let (dx, dy) = (to[0] - x, to[1] - y);
    let length = dx.hypot(dy);
    if length > 0.0 { [dx / length, dy / length] } else { [0.0, 0.0] }
}

/// Pairs chain ends at one junction, the straightest pair first, none with a turn above 90°.
fn pair(ends: &[(usize, [f64; 2])], partner: &mut [Option<usize>]) {
    let mut pairs = Vec::new();
    for (i, (a, u)) in ends.iter().enumerate() {
        for (b, v) in &ends[i + 1..] {
            pairs.push((u[0] * v[0] + u[1] * v[1], *a, *b));
        }
    }
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0).then((p.1, p.2).cmp(&(q.1, q.2))));
    for (cosine, a, b) in pairs {
        if cosine < 0.0 && partner[a].is_none() && partner[b].is_none() {
            partner[a] = Some(b);
            partner[b] = Some(a);
        }
    }
}
