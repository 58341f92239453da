//! The few arguments of the examples.

/// What to draw and how often.
pub(crate) struct Arguments {
    /// Number of placements.
    pub(crate) placements: usize,
    /// Triangles of each part, about.
    pub(crate) triangles: usize,
    /// Frames of one turn.
    pub(crate) frames: usize,
    /// Width and height, pixels.
    pub(crate) size: [u32; 2],
    /// Cut the build open.
    pub(crate) section: bool,
    /// Light ink on deep blue.
    pub(crate) blueprint: bool,
    /// Parallel projection.
    pub(crate) parallel: bool,
    /// Where to write a picture.
    pub(crate) png: Option<String>,
}

impl Arguments {
    /// Reads `--name value` pairs.
    ///
    /// # Errors
    /// A sentence that names the argument that was not understood.
    pub(crate) fn read(arguments: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut read = Self {
            placements: 300,
            triangles: 200_000,
            frames: 240,
            size: [1920, 1080],
            section: false,
            blueprint: false,
            parallel: false,
            png: None,
        };
        let mut arguments = arguments;
        while let Some(name) = arguments.next() {
            let mut value = || arguments.next().ok_or(format!("{name} needs a value"));
            let number = |text: String| {
                text.parse::<usize>().map_err(|_| format!("{name} needs a number, not {text:?}"))
            };
            match name.as_str() {
                "--placements" => read.placements = number(value()?)?,
                "--triangles" => read.triangles = number(value()?)?,
                "--frames" => read.frames = number(value()?)?.max(1),
                "--size" => {
                    let text = value()?;
                    let sides = text
                        .split_once('x')
                        .and_then(|(w, h)| Some([w.parse().ok()?, h.parse().ok()?]));
                    read.size = sides.ok_or(format!("--size needs WxH, not {text:?}"))?;
                }
                "--section" => read.section = true,
                "--blueprint" => read.blueprint = true,
                "--parallel" => read.parallel = true,
                "--png" => read.png = Some(value()?),
                _ => return Err(format!("{name} is not an argument of this example")),
            }
        }
        Ok(read)
    }
}
