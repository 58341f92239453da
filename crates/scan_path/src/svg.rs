//! A layer as a drawing to scale.

use crate::decimal::{Mm, escape, whole_nm};
use crate::header::Header;
use crate::layer::{Block, ExposureKind, Layer, RegionKind};
use base::Point;
use std::fmt::Write as _;

/// What a drawing shows besides the marks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SvgOptions {
    /// Dotted lines for the jumps.
    pub jumps: bool,
}

/// Line widths are those of the drawing, not of the beam: contours heavy, hatch fine.
const STYLE: &str = "\
path,rect{fill:none;stroke-linecap:round;stroke-linejoin:round}
.contour{stroke-width:.2}.hatch{stroke-width:.06}.centreline{stroke-width:.12}
.core{stroke:#1f2a44}.up-facing{stroke:#00796b}.down-facing{stroke:#c2410c}
.jump{stroke:#888;stroke-width:.05;stroke-dasharray:.01 .3}.frame{stroke:#bbb;stroke-width:.1}
";

/// Draws a layer seen from above, to scale: one user unit is 1 mm, the page is the build space,
/// the front of the machine at the bottom.
///
/// Each block has a title with its placement and exposure, which browsers show at the pointer.
/// Indices that the tables lack are drawn all the same. O(points).
pub fn layer_svg(header: &Header, layer: &Layer, options: SvgOptions) -> String {
    let [width, height, _] = header.build_space_mm.map(|size| whole_nm(size).unwrap_or(0));
    let page = Page { half_width: width / 2, half_height: height / 2 };
    let (width, height) = (Mm(width), Mm(height));
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\">\n"
    );
    let z = |k: u32| Mm(whole_nm(f64::from(k) * header.layer_thickness_mm).unwrap_or(0));
    let (bottom, top) = (z(layer.index), z(layer.index.saturating_add(1)));
    let (name, index) = (escape(&header.job_name), layer.index);
    let _ = writeln!(svg, "<title>{name}, layer {index}, z {bottom} to {top} mm</title>");
    svg += "<desc>Seen from above, X right, Y up the page, the cross marks the centre of the build platform. Heavy: contours; medium: centrelines; fine: hatch. Dark blue: core; green: up-facing; orange: down-facing.";
    svg += if options.jumps { " Dotted: jumps.</desc>\n" } else { "</desc>\n" };
    let _ = write!(svg, "<style>\n{STYLE}</style>\n");
    let _ = writeln!(svg, "<rect class=\"frame\" width=\"{width}\" height=\"{height}\"/>");
    let (x, y) = (Mm(page.half_width), Mm(page.half_height));
    let _ = writeln!(svg, "<path class=\"frame\" d=\"M{x} {y}m-2 0h4m-2-2v4\"/>");
    for block in &layer.blocks {
        draw_block(&mut svg, header, block, page);
    }
    if options.jumps {
        draw_jumps(&mut svg, layer, page);
    }
    svg += "</svg>\n";
    svg
}

#[derive(Clone, Copy)]
struct Page {
    /// nm.
    half_width: i64,
    /// nm.
    half_height: i64,
}

impl Page {
    /// Appends a position on the page; Y points down there.
    fn draw(self, svg: &mut String, command: char, p: Point) {
        let (x, y) = (i64::from(p.x) + self.half_width, self.half_height - i64::from(p.y));
        let _ = write!(svg, "{command}{} {}", Mm(x), Mm(y)); // cannot fail on a `String`
    }
}

fn draw_block(svg: &mut String, header: &Header, block: &Block, page: Page) {
    let kind = match block.kind {
        ExposureKind::Contour => "contour",
        ExposureKind::Hatch => "hatch",
        ExposureKind::Centreline => "centreline",
    };
    let region = match block.region {
        RegionKind::Core => "core",
        RegionKind::UpFacing => "up-facing",
        RegionKind::DownFacing => "down-facing",
    };
    let _ = write!(svg, "<path class=\"{kind} {region}\" d=\"");
    for path in block.paths.iter() {
        let Some((&start, rest)) = path.split_first() else { continue };
        let closed = path.len() > 2 && path.last() == Some(&start);
        page.draw(svg, 'M', start);
        for &point in &rest[..rest.len() - usize::from(closed)] {
            page.draw(svg, 'L', point);
        }
        svg.push_str(if closed { "Z" } else { "" });
    }
    let placement = header.placement_name(block.placement);
    let _ = write!(svg, "\"><title>{}: {region} {kind}", escape(&placement));
    if let Some(row) = header.exposures.get(usize::from(block.exposure)) {
        let _ = write!(svg, ", {}, {} W, {} mm/s", escape(&row.name), row.power_w, row.speed_mm_s);
    }
    svg.push_str("</title></path>\n");
}

fn draw_jumps(svg: &mut String, layer: &Layer, page: Page) {
    let paths = layer.blocks.iter().flat_map(|block| block.paths.iter());
    let mut ends = paths.filter_map(|path| Some((*path.first()?, *path.last()?)));
    let Some((_, mut from)) = ends.next() else { return };
    svg.push_str("<path class=\"jump\" d=\"");
    for (start, end) in ends {
        if start != from {
            page.draw(svg, 'M', from);
            page.draw(svg, 'L', start);
        }
        from = end;
    }
    svg.push_str("\"/>\n");
}
