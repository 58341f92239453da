//! Where along each line of a hatch there must be marks, and where there may be.
//!
//! Every edge of a section keeps the hatch out of a strip on its inner side and, where the material
//! bends around its start, of a disc. A line cuts strips and discs in intervals whose ends are
//! exact. Twice for every depth, a tolerance less and a tolerance more, they say where there
//! certainly is no hatch and where there possibly is none. Borders between kinds of region are
//! treated likewise: within a tolerance of them a point may be of any kind.

use super::around::Around;
use super::expected::{Corners, TOLERANCE_NM};
use super::grid::Xy;
use super::lattice::edges;
use super::pieces_of_lines::Stretch;
use super::strip::Strip;
use super::walls::{Edge, Walls, xy};
use region::Region;
use scan_path::RegionKind;

/// Axes along and across the lines of a hatch, which lie at `v = (k + ½) · spacing`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Frame {
    pub(super) sin: f64,
    pub(super) cos: f64,
    pub(super) spacing: f64,
}

impl Frame {
    pub(super) fn uv(&self, [x, y]: Xy) -> Xy {
        [self.cos * x + self.sin * y, self.cos * y - self.sin * x]
    }

    pub(super) fn xy(&self, [u, v]: Xy) -> Xy {
        [self.cos * u - self.sin * v, self.sin * u + self.cos * v]
    }

    /// The last line at or below `v`.
    #[expect(clippy::cast_possible_truncation, reason = "the grid over a spacing of 1 µm")]
    pub(super) fn line_below(&self, v: f64) -> i64 {
        (v / self.spacing - 0.5).floor() as i64
    }

    pub(super) fn v(&self, line: i64) -> f64 {
        (line as f64 + 0.5) * self.spacing
    }
}

/// What begins or ends at a place on a line.
#[derive(Clone, Copy, Debug)]
enum Step {
    /// In or out of a section.
    Section(u16),
    /// In (+1) or out (−1) of where there certainly is no hatch of this depth.
    Certain(u8, i8),
    /// In or out of where there possibly is none.
    Possible(u8, i8),
    /// In or out of where kinds of region meet.
    Border(i8),
}

/// A hatch to be looked at: its kind of region and its depth.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted {
    pub(super) region: RegionKind,
    pub(super) depth: f64,
}

/// Stretches of one line for one of the hatches.
#[derive(Clone, Debug, Default)]
pub(super) struct Stretches {
    /// Without a gap wherever a mark may be.
    pub(super) allowed: Vec<Stretch>,
    /// Wherever one must be.
    pub(super) required: Vec<Stretch>,
}

/// All lines of one frame over a section.
#[derive(Debug, Default)]
pub(super) struct Sweep {
    first: i64,
    lines: Vec<Vec<(f64, Step)>>,
    /// How many sections decide what is fused, what faces down, and what faces up.
    counts: [usize; 3],
    only_kind: Option<RegionKind>,
    depths: Vec<f64>,
}

impl Sweep {
    /// Crosses everything around a layer with the lines of a frame.
    pub(super) fn fill(
        &mut self,
        frame: &Frame,
        around: &Around,
        walls: &Walls,
        wanted: &[Wanted],
        corners: Corners,
    ) {
        self.lines.iter_mut().for_each(Vec::clear);
        let vs = walls.edges.iter().map(|edge| frame.uv(edge.start)[1]);
        let (low, high) = vs.fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
        self.first = frame.line_below(low);
        let count = usize::try_from(frame.line_below(high) + 2 - self.first).unwrap_or(0);
        self.lines.resize_with(count, Vec::new);
        self.depths.clear();
        for wanted in wanted {
            if !self.depths.contains(&wanted.depth) {
                self.depths.push(wanted.depth);
            }
        }
        self.only_kind = around.only_kind();
        let [below, above] = [&around.below, &around.above].map(|group| {
            let decides = self.only_kind.is_none();
            group.as_deref().filter(|_| decides).unwrap_or_default()
        });
        self.counts = [around.own.len(), below.len(), above.len()];
        let sections = around.own.iter().chain(below).chain(above);
        for (number, section) in (0_u16..).zip(sections) {
            let is_border = usize::from(number) >= around.own.len();
            self.add_section(frame, &section.region, number, is_border);
        }
        for edge in &walls.edges {
            self.add_edge(frame, edge, corners);
        }
    }

    fn add_section(&mut self, frame: &Frame, section: &Region, number: u16, is_border: bool) {
        for (a, b) in section.rings().flat_map(edges) {
            let (p, q) = (frame.uv(xy(a)), frame.uv(xy(b)));
            let (low, high) = if p[1] < q[1] { (p, q) } else { (q, p) };
            // A corner on a line counts as above it: each ring crosses a line an even number of times.
            let (from, to) = (below(frame, low[1]) + 1, below(frame, high[1]));
            for line in from..=to {
                let t = (frame.v(line) - low[1]) / (high[1] - low[1]);
                self.push(line, low[0] + t * (high[0] - low[0]), Step::Section(number));
            }
            if is_border {
                let strip = Strip::new(p, q, [-TOLERANCE_NM, TOLERANCE_NM], TOLERANCE_NM);
                self.add_strip(frame, &strip, Step::Border(1), Step::Border(-1));
            }
        }
    }

    fn add_edge(&mut self, frame: &Frame, edge: &Edge, corners: Corners) {
        let (p, q) = (frame.uv(edge.start), frame.uv(edge.end));
        for number in 0..self.depths.len() {
            let depth = self.depths[number];
            let n = u8::try_from(number).unwrap_or(u8::MAX);
            let (certain, possible) = (depth - TOLERANCE_NM, depth + TOLERANCE_NM);
            if certain > 0.0 {
                let strip = Strip::new(p, q, [0.0, certain], 0.0);
                self.add_strip(frame, &strip, Step::Certain(n, 1), Step::Certain(n, -1));
            }
            let strip = Strip::new(p, q, [-TOLERANCE_NM, possible], 1.0);
            self.add_strip(frame, &strip, Step::Possible(n, 1), Step::Possible(n, -1));
            if edge.bends[0] > 0.0 {
                let certain = corners.certain(depth);
                let possible = corners.possible(depth, edge.bends[0]);
                self.add_disc(frame, p, certain, Step::Certain(n, 1), Step::Certain(n, -1));
                self.add_disc(frame, p, possible, Step::Possible(n, 1), Step::Possible(n, -1));
            }
        }
    }

    fn add_strip(&mut self, frame: &Frame, strip: &Strip, begin: Step, end: Step) {
        let (low, high) = strip.across();
        for line in below(frame, low) + 1..=frame.line_below(high) {
            if let Some((from, to)) = strip.on_line(frame.v(line)) {
                self.push(line, from, begin);
                self.push(line, to, end);
            }
        }
    }

    fn add_disc(&mut self, frame: &Frame, centre: Xy, radius: f64, begin: Step, end: Step) {
        if radius <= 0.0 {
            return;
        }
        let lines = below(frame, centre[1] - radius) + 1..=frame.line_below(centre[1] + radius);
        for line in lines {
            let v = frame.v(line) - centre[1];
            let half = (radius * radius - v * v).max(0.0).sqrt();
            self.push(line, centre[0] - half, begin);
            self.push(line, centre[0] + half, end);
        }
    }

    #[inline]
    fn push(&mut self, line: i64, u: f64, step: Step) {
        let index = usize::try_from(line - self.first).ok();
        if let Some(events) = index.and_then(|index| self.lines.get_mut(index)) {
            events.push((u, step));
        }
    }

    /// All lines that meet something, in rising order.
    pub(super) fn lines(&self) -> impl Iterator<Item = i64> + use<> {
        let first = self.first;
        (0_i64..).take(self.lines.len()).map(move |i| first + i)
    }

    /// Walks along a line; leaves in `out`, one for each of `wanted`, where marks must and may be.
    pub(super) fn walk(&mut self, line: i64, wanted: &[Wanted], out: &mut [Stretches]) {
        for stretches in out.iter_mut() {
            stretches.allowed.clear();
            stretches.required.clear();
        }
        let index = usize::try_from(line - self.first).ok();
        let Some(events) = index.and_then(|index| self.lines.get_mut(index)) else { return };
        events.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut state = State::new(self.counts, self.only_kind, self.depths.len());
        let numbers: Vec<usize> = wanted
            .iter()
            .map(|w| self.depths.iter().position(|d| d.to_bits() == w.depth.to_bits()).unwrap_or(0))
            .collect();
        for pair in 0..events.len() {
            let (u, step) = events[pair];
            state.step(step);
            let Some(&(next, _)) = events.get(pair + 1) else { break };
            if next <= u || state.is_outside() {
                continue;
            }
            for ((wanted, &number), out) in wanted.iter().zip(&numbers).zip(out.iter_mut()) {
                let (may, must) = state.of(wanted.region, number);
                if may {
                    extend(&mut out.allowed, u, next);
                }
                if must {
                    extend(&mut out.required, u, next);
                }
            }
        }
    }
}

/// The last line below `v`; a line at `v` is not.
fn below(frame: &Frame, v: f64) -> i64 {
    let line = frame.line_below(v);
    if frame.v(line) < v { line } else { line - 1 }
}

/// Prolongs the last stretch, or begins another; gaps of a nanometre are rounding.
fn extend(stretches: &mut Vec<Stretch>, from: f64, to: f64) {
    match stretches.last_mut() {
        Some(last) if from - last.1 <= 1.0 => last.1 = to,
        _ => stretches.push((from, to)),
    }
}

/// What is true at a place on a line.
struct State {
    is_in: Vec<bool>,
    counts: [usize; 3],
    /// Of each group of sections, how many lack the place.
    lacking: [usize; 3],
    only_kind: Option<RegionKind>,
    certain: Vec<i32>,
    possible: Vec<i32>,
    border: i32,
}

impl State {
    fn new(counts: [usize; 3], only_kind: Option<RegionKind>, depths: usize) -> Self {
        Self {
            is_in: vec![false; counts.iter().sum()],
            counts,
            lacking: counts,
            only_kind,
            certain: vec![0; depths],
            possible: vec![0; depths],
            border: 0,
        }
    }

    fn step(&mut self, step: Step) {
        match step {
            Step::Section(number) => {
                let number = usize::from(number);
                let is_in = &mut self.is_in[number];
                *is_in = !*is_in;
                let [own, below, _] = self.counts;
                let group = usize::from(number >= own) + usize::from(number >= own + below);
                if *is_in {
                    self.lacking[group] -= 1;
                } else {
                    self.lacking[group] += 1;
                }
            }
            Step::Certain(depth, by) => self.certain[usize::from(depth)] += i32::from(by),
            Step::Possible(depth, by) => self.possible[usize::from(depth)] += i32::from(by),
            Step::Border(by) => self.border += i32::from(by),
        }
    }

    fn is_outside(&self) -> bool {
        self.lacking[0] > 0
    }

    fn kind(&self) -> RegionKind {
        let [_, below, above] = self.lacking;
        self.only_kind.unwrap_or(match (below, above) {
            (1.., _) => RegionKind::DownFacing,
            (0, 1..) => RegionKind::UpFacing,
            (0, 0) => RegionKind::Core,
        })
    }

    /// Whether hatch of a kind and depth may be here, and whether it must.
    fn of(&self, region: RegionKind, depth: usize) -> (bool, bool) {
        let (is_here, is_at_border) = (self.kind() == region, self.border > 0);
        let may = (is_here || is_at_border) && self.certain[depth] == 0;
        (may, is_here && !is_at_border && self.possible[depth] == 0)
    }
}
