//! The bytes of one layer: the content of a `layers/….bin` entry. See SPEC.md, "Layer entry".

use crate::header::Header;
use crate::layer::{Block, ExposureKind, Layer, Paths, RegionKind};
use base::{GRID_LIMIT_NM, Point};

/// Largest layer entry before compression, bytes: some 130 million points. Bounds what a hostile
/// file can make a reader allocate.
pub const MAX_LAYER_BYTES: u64 = 1 << 30;

const MAGIC: [u8; 4] = *b"HWVL";
const LAYER_HEAD: usize = 16;
const BLOCK_HEAD: usize = 20;
const SEGMENTS: u8 = 0;
const POLYLINES: u8 = 1;

/// Why a layer cannot be put into a vector file.
#[derive(Debug, thiserror::Error)]
pub enum EncodeError {
    /// The layer number is not below the header's layer count.
    #[error("layer {layer} does not exist: the header announces {layer_count} layers")]
    LayerOutOfRange {
        /// Layer number.
        layer: u32,
        /// What the header announces.
        layer_count: u32,
    },
    /// A block refers to a row that a table does not have.
    #[error(
        "layer {layer}, block {block}: {table} {row} does not exist, the table has {rows} rows"
    )]
    RowOutOfRange {
        /// Layer number.
        layer: u32,
        /// Index of the block in the layer.
        block: usize,
        /// `placement` or `exposure`.
        table: &'static str,
        /// The offending index.
        row: u32,
        /// Length of the table.
        rows: usize,
    },
    /// The ends of a block's polylines do not rise by 2 or more up to the number of points.
    #[error(
        "layer {layer}, block {block}, path {path}: every path needs at least two points, and the last path must end with the last point"
    )]
    BadPath {
        /// Layer number.
        layer: u32,
        /// Index of the block in the layer.
        block: usize,
        /// Index of the path in the block.
        path: usize,
    },
    /// A point lies outside the build space.
    #[error(
        "layer {layer}, block {block}: the point ({:.6}, {:.6}) mm lies outside the build space; move or turn the part",
        point.to_mm()[0], point.to_mm()[1]
    )]
    OutsideBuildSpace {
        /// Layer number.
        layer: u32,
        /// Index of the block in the layer.
        block: usize,
        /// The first such point.
        point: Point,
    },
    /// The layer is larger than any reader accepts.
    #[error("layer {layer} takes {bytes} bytes, more than the {MAX_LAYER_BYTES} a layer may have")]
    TooLarge {
        /// Layer number.
        layer: u32,
        /// Size before compression.
        bytes: u64,
    },
    /// The compressor failed.
    #[error("layer {layer} could not be compressed: {source}")]
    Compression {
        /// Layer number.
        layer: u32,
        /// What it said.
        source: std::io::Error,
    },
}

/// What is wrong with the bytes of a layer, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("at byte {at}: {what}")]
pub struct Malformed {
    /// Offset into the uncompressed layer.
    pub at: usize,
    /// What is wrong there.
    pub what: &'static str,
}

/// The bytes of a layer, before compression.
///
/// # Errors
/// [`EncodeError`] if the layer does not fit the header's tables or the build space.
pub(crate) fn bytes_of_layer(layer: &Layer, header: &Header) -> Result<Vec<u8>, EncodeError> {
    let index = layer.index;
    if index >= header.layer_count {
        let layer_count = header.layer_count;
        return Err(EncodeError::LayerOutOfRange { layer: index, layer_count });
    }
    let size: u64 = LAYER_HEAD as u64 + layer.blocks.iter().map(block_size).sum::<u64>();
    if size > MAX_LAYER_BYTES {
        return Err(EncodeError::TooLarge { layer: index, bytes: size });
    }
    let mut out = Vec::with_capacity(usize::try_from(size).unwrap_or_default());
    out.extend(MAGIC);
    out.extend(index.to_le_bytes());
    out.extend(u32_of(layer.blocks.len()).to_le_bytes());
    out.extend([0; 4]);
    for (i, block) in layer.blocks.iter().enumerate() {
        check_block(block, i, index, header)?;
        push_block(&mut out, block);
    }
    Ok(out)
}

fn block_size(block: &Block) -> u64 {
    let counts = match &block.paths {
        Paths::Segments(_) => 0,
        Paths::Polylines { ends, .. } => ends.len() as u64,
    };
    BLOCK_HEAD as u64 + 4 * counts + 8 * block.paths.points().len() as u64
}

fn check_block(block: &Block, i: usize, layer: u32, header: &Header) -> Result<(), EncodeError> {
    let exposure = u32::from(block.exposure);
    for (table, row, rows) in [
        ("placement", block.placement, header.placements.len()),
        ("exposure", exposure, header.exposures.len()),
    ] {
        if row as usize >= rows {
            return Err(EncodeError::RowOutOfRange { layer, block: i, table, row, rows });
        }
    }
    if let Paths::Polylines { points, ends } = &block.paths {
        if let Some(path) = (0..ends.len()).find(|&path| block.paths.path(path).len() < 2) {
            return Err(EncodeError::BadPath { layer, block: i, path });
        }
        if ends.last().map_or(0, |&end| end as usize) != points.len() {
            return Err(EncodeError::BadPath { layer, block: i, path: ends.len() });
        }
    }
    let on_grid = |p: &Point| {
        p.x.unsigned_abs() < GRID_LIMIT_NM.unsigned_abs()
            && p.y.unsigned_abs() < GRID_LIMIT_NM.unsigned_abs()
    };
    match block.paths.points().iter().find(|&p| !on_grid(p) || !header.contains(*p)) {
        Some(&point) => Err(EncodeError::OutsideBuildSpace { layer, block: i, point }),
        None => Ok(()),
    }
}

fn push_block(out: &mut Vec<u8>, block: &Block) {
    let points = block.paths.points();
    out.extend(block.placement.to_le_bytes());
    out.extend(block.exposure.to_le_bytes());
    let layout = match block.paths {
        Paths::Segments(_) => SEGMENTS,
        Paths::Polylines { .. } => POLYLINES,
    };
    out.extend([kind_code(block.kind), region_code(block.region), layout, 0, 0, 0]);
    out.extend(u32_of(block.paths.len()).to_le_bytes());
    out.extend(u32_of(points.len()).to_le_bytes());
    if let Paths::Polylines { ends, .. } = &block.paths {
        let mut start = 0;
        for &end in ends {
            out.extend((end - start).to_le_bytes());
            start = end;
        }
    }
    push_coordinates(out, points.iter().map(|p| p.x));
    push_coordinates(out, points.iter().map(|p| p.y));
}

/// Differences of neighbours, then the four bytes of each in four planes: deflate then finds the
/// high bytes nearly constant, which saves a quarter (hatch) to a third (contours) of the file.
fn push_coordinates(out: &mut Vec<u8>, values: impl ExactSizeIterator<Item = i32> + Clone) {
    let (start, n) = (out.len(), values.len());
    out.resize(start + 4 * n, 0);
    let (low, high) = out[start..].split_at_mut(2 * n);
    let ((plane_0, plane_1), (plane_2, plane_3)) = (low.split_at_mut(n), high.split_at_mut(n));
    let planes = plane_0.iter_mut().zip(plane_1).zip(plane_2.iter_mut().zip(plane_3));
    let mut before = 0;
    for (((b0, b1), (b2, b3)), value) in planes.zip(values) {
        [*b0, *b1, *b2, *b3] = (value - before).to_le_bytes(); // on the grid, so it fits
        before = value;
    }
}

/// The code of a kind of exposure. A new kind also goes into [`ExposureKind::ALL`] and SPEC.md.
fn kind_code(kind: ExposureKind) -> u8 {
    match kind {
        ExposureKind::Contour => 0,
        ExposureKind::Hatch => 1,
        ExposureKind::Centreline => 2,
    }
}

fn kind_of(code: u8) -> Option<ExposureKind> {
    ExposureKind::ALL.into_iter().find(|kind| kind_code(*kind) == code)
}

/// The code of a kind of region. A new kind also goes into [`RegionKind::ALL`] and SPEC.md.
fn region_code(region: RegionKind) -> u8 {
    match region {
        RegionKind::Core => 0,
        RegionKind::UpFacing => 1,
        RegionKind::DownFacing => 2,
    }
}

fn region_of(code: u8) -> Option<RegionKind> {
    RegionKind::ALL.into_iter().find(|region| region_code(*region) == code)
}

/// Sizes were checked against [`MAX_LAYER_BYTES`], so every count fits.
fn u32_of(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// Rebuilds a layer from its bytes. Allocates no more than a small multiple of `bytes`.
///
/// # Errors
/// [`Malformed`] where the bytes break SPEC.md or refer to rows that `header` does not have.
pub(crate) fn layer_from_bytes(bytes: &[u8], header: &Header) -> Result<Layer, Malformed> {
    let mut input = Input { bytes, at: 0 };
    if input.array()? != MAGIC {
        return Err(input.error_back(4, "a layer must begin with HWVL"));
    }
    let index = input.u32()?;
    let block_count = input.u32()?;
    if input.u32()? != 0 {
        return Err(input.error_back(4, "reserved bytes must be 0"));
    }
    let mut blocks = Vec::new(); // not sized in advance: the count is not to be trusted
    for _ in 0..block_count {
        blocks.push(read_block(&mut input, header)?);
    }
    if input.at != bytes.len() {
        return Err(input.error_back(0, "bytes follow the last block"));
    }
    Ok(Layer { index, blocks })
}

fn read_block(input: &mut Input<'_>, header: &Header) -> Result<Block, Malformed> {
    let placement = input.u32()?;
    if placement as usize >= header.placements.len() {
        return Err(input.error_back(4, "no such placement"));
    }
    let exposure = u16::from_le_bytes(input.array()?);
    if usize::from(exposure) >= header.exposures.len() {
        return Err(input.error_back(2, "no such exposure"));
    }
    let [kind, region, layout, reserved @ ..] = input.array::<6>()?;
    let Some(kind) = kind_of(kind) else {
        return Err(input.error_back(6, "unknown kind of exposure"));
    };
    let Some(region) = region_of(region) else {
        return Err(input.error_back(5, "unknown kind of region"));
    };
    if reserved != [0; 3] {
        return Err(input.error_back(3, "reserved bytes must be 0"));
    }
    let path_count = input.u32()?;
    let point_count = input.u32()?;
    let paths = match layout {
        SEGMENTS if u64::from(point_count) == 2 * u64::from(path_count) => {
            Paths::Segments(input.points(point_count)?.as_chunks::<2>().0.to_vec())
        }
        SEGMENTS => return Err(input.error_back(4, "single marks need two points each")),
        POLYLINES => {
            let ends = read_ends(input, path_count, point_count)?;
            Paths::Polylines { points: input.points(point_count)?, ends }
        }
        _ => return Err(input.error_back(12, "unknown layout of points")),
    };
    Ok(Block { placement, exposure, kind, region, paths })
}

fn read_ends(
    input: &mut Input<'_>,
    path_count: u32,
    point_count: u32,
) -> Result<Vec<u32>, Malformed> {
    let (counts, _) = input.take(4 * u64::from(path_count))?.as_chunks::<4>();
    let mut end = 0_u32;
    let mut ends = Vec::with_capacity(counts.len());
    for &count in counts {
        let count = u32::from_le_bytes(count);
        end = match end.checked_add(count) {
            Some(end) if count >= 2 && end <= point_count => end,
            _ => return Err(input.error_back(0, "paths need two points or more each")),
        };
        ends.push(end);
    }
    if end == point_count {
        Ok(ends)
    } else {
        Err(input.error_back(0, "the points of the paths do not add up"))
    }
}

struct Input<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Input<'a> {
    fn take(&mut self, size: u64) -> Result<&'a [u8], Malformed> {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        let taken = usize::try_from(size).ok().and_then(|size| rest.get(..size));
        let taken = taken.ok_or(Malformed { at: self.at, what: "the layer ends too early" })?;
        self.at += taken.len();
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Malformed> {
        let at = self.at;
        let taken = self.take(N as u64)?;
        taken.try_into().map_err(|_| Malformed { at, what: "the layer ends too early" })
    }

    fn u32(&mut self) -> Result<u32, Malformed> {
        Ok(u32::from_le_bytes(self.array()?))
    }

    fn points(&mut self, count: u32) -> Result<Vec<Point>, Malformed> {
        let start = self.at;
        let n = count as usize;
        let planes = self.take(8 * u64::from(count))?;
        let (x, y) = planes.split_at(4 * n);
        let mut points = vec![Point::default(); n];
        let x = accumulate(x, n, points.iter_mut().map(|p| &mut p.x));
        let y = accumulate(y, n, points.iter_mut().map(|p| &mut p.y));
        if x && y {
            Ok(points)
        } else {
            Err(Malformed { at: start, what: "a coordinate is off the grid of ±2³⁰ nm" })
        }
    }

    /// An error about what began `back` bytes before the current position.
    fn error_back(&self, back: usize, what: &'static str) -> Malformed {
        Malformed { at: self.at - back.min(self.at), what }
    }
}

/// Undoes [`push_coordinates`]; `false` if a value leaves the grid.
fn accumulate<'a>(planes: &[u8], n: usize, out: impl Iterator<Item = &'a mut i32>) -> bool {
    let (low, high) = planes.split_at(2 * n);
    let ((plane_0, plane_1), (plane_2, plane_3)) = (low.split_at(n), high.split_at(n));
    let bytes = plane_0.iter().zip(plane_1).zip(plane_2.iter().zip(plane_3));
    let mut value = 0_i32;
    let mut on_grid = true;
    for (((b0, b1), (b2, b3)), out) in bytes.zip(out) {
        let step = i32::from_le_bytes([*b0, *b1, *b2, *b3]);
        // On the grid no sum overflows; off it we only need to know that it was left once.
        let (sum, overflowed) = value.overflowing_add(step);
        on_grid &= !overflowed && sum.unsigned_abs() < GRID_LIMIT_NM.unsigned_abs();
        value = sum;
        *out = sum;
    }
    on_grid
}
