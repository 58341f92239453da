//! What can be typed.

use crate::verbs::library::LibraryArgs;
use base::Unit;
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum, value_parser};
use std::path::PathBuf;

/// Prepares builds for laser-sintering machines: meshes in, a verified vector file out.
#[derive(Parser)]
#[command(
    name = "hatchwright",
    version,
    after_help = "A vector file steers a class 4 laser. Read it back with `verify` before any \
                  controller runs it, and follow the machine's own safety rules.\n\nAn output never \
                  replaces a file that it is made from.\n\nExit codes: \
                  0 done, 1 the job has a stop finding, a file is not verified or two differ, 2 wrong use or \
                  unreadable input, 130 ended by Ctrl-C or another signal.\n\nHATCHWRIGHT_LIMITS=2 in the \
                  environment allows files that hold twice as much as the usual limits."
)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) verb: Option<Verb>,
}

#[derive(Subcommand)]
pub(crate) enum Verb {
    /// Open the window, as without a verb
    Open(OpenArgs),
    /// Write the vector file of a job
    Write(WriteArgs),
    /// Nest the parts of a job in the build space, proven clear of each other
    Nest(NestArgs),
    /// Prove the clearances of a job's arrangement, and that every part can be taken out
    Prove(ProveArgs),
    /// Gather small parts of a job in a cage of thin bars, so that none is lost in the powder
    Gather(GatherArgs),
    /// Show what a vector file holds
    Inspect(InspectArgs),
    /// Verify a vector file, alone or against its job
    Verify(VerifyArgs),
    /// Check a job, all its layers and clearances too, or a mesh file, without writing anything
    Check(CheckArgs),
    /// Say what differs between two vector files: tables, layers, blocks, marks
    Diff(DiffArgs),
    /// Draw one layer of a vector file as SVG, to scale in mm
    Draw(DrawArgs),
    /// Estimate the laser energy that every spot of a layer gets, and what will melt of it, or of all layers
    Dose(DoseArgs),
    /// Slice a job: write its sections as 3MF with slice stacks
    Slice(SliceArgs),
    /// Work out how long a build takes, as it is and with the hatch or the order changed
    Time(TimeArgs),
    /// Show what a machine's head does over its field: angles, focus, spot, resolution
    Field(FieldArgs),
    /// Machines and recipes to pick from: list, compare, copy, hand on
    Library(LibraryArgs),
}

#[derive(ClapArgs)]
pub(crate) struct OpenArgs {
    /// A job (.ron), and meshes to add to it or to start a new one from; the demo job when absent
    pub(crate) files: Vec<PathBuf>,
}

#[derive(ClapArgs)]
pub(crate) struct WriteArgs {
    /// Job file (.ron)
    pub(crate) job: PathBuf,
    /// Where to write; out/NAME.hwv beside the job when absent, NAME being that of the job file
    #[arg(short, long)]
    pub(crate) out: Option<PathBuf>,
    /// Write it though the job has stop findings, as NAME.not-fit.hwv; without this it is not written
    #[arg(long)]
    pub(crate) despite_stops: bool,
    /// Go on with a build that was broken off: the layers below this one stay empty, from 0. The file says so
    #[arg(long, value_name = "LAYER")]
    pub(crate) from_layer: Option<u32>,
    /// Leave out a placement, as "bracket 2 of 4", in all layers or from --from-layer on; may be given several times
    #[arg(long, value_name = "PLACEMENT")]
    pub(crate) without: Vec<String>,
    /// Number of threads; all cores when absent. The bytes do not depend on it
    #[arg(long, value_parser = threads)]
    pub(crate) threads: Option<usize>,
    /// Do not prove the clearances first: parts that are too near are then not noticed unless they overlap
    #[arg(long)]
    pub(crate) unproven: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct NestArgs {
    /// Job file (.ron); `nest` of each part says how many copies, in which allowed orientations
    pub(crate) job: PathBuf,
    /// Where to write the first build; further ones get -2, -3 … added to the name.
    /// `out/NAME_nested.ron` beside the job when absent, NAME being its. Not over the job itself: it is
    /// what the next search starts from
    #[arg(short, long)]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) clearances: Clearances,
    /// Let the parts sink from where they are, by exact distances, instead of nesting them anew
    #[arg(long)]
    pub(crate) compact: bool,
    /// End after so many seconds of nesting; by itself when absent. Meshes are read before, and what is
    /// written is proven after. Ctrl-C ends it too: the best arrangement so far is written
    #[arg(long, value_name = "S")]
    pub(crate) time: Option<f64>,
    /// Rounds that bring nothing after which the search ends by itself
    #[arg(long, value_name = "N", default_value_t = 250)]
    pub(crate) patience: u32,
    /// Equal seeds give equal arrangements, if the search ends by itself
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// What counts once parts lie as low as they get
    #[arg(long, value_enum, default_value_t)]
    pub(crate) objective: Objective,
    /// Most builds to fill
    #[arg(long, default_value_t = 16)]
    pub(crate) builds: usize,
    /// Number of threads; all cores when absent. The result does not depend on it
    #[arg(long, value_parser = threads)]
    pub(crate) threads: Option<usize>,
    /// List all pairs nearer than twice the clearance, not only the nearest ten
    #[arg(long)]
    pub(crate) all: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct Clearances {
    /// Least distance between parts, mm; as the job says when absent
    #[arg(long, value_name = "MM")]
    pub(crate) clearance: Option<f64>,
    /// Least distance of parts from walls and platform, mm; as the job says when absent
    #[arg(long, value_name = "MM")]
    pub(crate) wall: Option<f64>,
}

#[derive(Clone, Copy, Default, ValueEnum)]
pub(crate) enum Objective {
    /// The lowest height, then nothing else
    #[default]
    Height,
    /// The lowest height, then an even area along Z
    Even,
}

#[derive(ClapArgs)]
pub(crate) struct GatherArgs {
    /// Job file (.ron)
    pub(crate) job: PathBuf,
    /// Name of a part all of whose placements go in; may be given several times
    #[arg(short, long = "part", value_name = "NAME", required = true)]
    pub(crate) parts: Vec<String>,
    /// Width of the bars, mm
    #[arg(long, value_name = "MM", default_value_t = 1.2)]
    pub(crate) bar: f64,
    /// Widest opening between two bars, mm: less than the smallest part
    #[arg(long, value_name = "MM", default_value_t = 6.0)]
    pub(crate) opening: f64,
    /// Where to write the job; `out/NAME_caged.ron` beside the job read when absent, the mesh beside it
    #[arg(short, long)]
    pub(crate) out: Option<PathBuf>,
}

#[derive(ClapArgs)]
pub(crate) struct ProveArgs {
    /// Job file (.ron)
    pub(crate) job: PathBuf,
    #[command(flatten)]
    pub(crate) clearances: Clearances,
    /// List all pairs nearer than twice the clearance, not only the nearest ten
    #[arg(long)]
    pub(crate) all: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct InspectArgs {
    /// Vector file (.hwv)
    pub(crate) file: PathBuf,
    /// Show this layer, from 0; the whole file's tables when absent
    #[arg(short, long)]
    pub(crate) layer: Option<u32>,
    /// With --layer: list every vector
    #[arg(long, requires = "layer")]
    pub(crate) vectors: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct VerifyArgs {
    /// Vector file (.hwv)
    pub(crate) file: PathBuf,
    /// Also verify every layer against this job (.ron)
    #[arg(long)]
    pub(crate) job: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct CheckArgs {
    /// Job (.ron) or mesh file (.stl, .3mf, .obj)
    pub(crate) file: PathBuf,
    /// Unit of the numbers in a mesh file: micron, mm, cm, inch, ft or m, or as 3MF spells them
    #[arg(long, value_parser = Unit::from_name)]
    pub(crate) unit: Option<Unit>,
    /// Take findings of a kind, as --json names it, as they are: `near_wall:bracket 2 of 4` at a placement,
    /// `weak_wall:bracket` of a part, `area_jump` wherever they are. Kept in the job; may be given several times
    #[arg(long, value_name = "KIND[:PLACE]", requires = "reason")]
    pub(crate) accept: Vec<String>,
    /// With --accept: why, in a sentence
    #[arg(long, requires = "accept", value_name = "SENTENCE")]
    pub(crate) reason: Option<String>,
    /// With --accept: only within these layers, both ends included
    #[arg(long, requires = "accept", value_name = "FIRST..LAST", value_parser = layers)]
    pub(crate) layers: Option<(u32, Option<u32>)>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct DiffArgs {
    /// Vector file (.hwv)
    pub(crate) first: PathBuf,
    /// Another one
    pub(crate) second: PathBuf,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct DrawArgs {
    /// Vector file (.hwv)
    pub(crate) file: PathBuf,
    /// Which layer, from 0
    #[arg(short, long)]
    pub(crate) layer: u32,
    /// Where to write; NAME-LAYER.svg in the folder out beside the file, or beside it there, when absent
    #[arg(short, long)]
    pub(crate) out: Option<PathBuf>,
    /// Draw jumps too, dotted
    #[arg(long)]
    pub(crate) jumps: bool,
}

#[derive(ClapArgs)]
pub(crate) struct DoseArgs {
    /// Vector file (.hwv)
    pub(crate) file: PathBuf,
    /// Which layer, from 0; many layers in sums, with --job, when absent
    #[arg(short, long)]
    pub(crate) layer: Option<u32>,
    /// These layers, both ends included, either of which may be left out; all when absent
    #[arg(long, value_name = "FIRST..LAST", value_parser = layers, conflicts_with = "layer")]
    pub(crate) layers: Option<(u32, Option<u32>)>,
    /// Of many layers, only the first, and every one so many on
    #[arg(long, value_name = "N", value_parser = value_parser!(u32).range(1..),
          default_value_t = 1, conflicts_with = "layer")]
    pub(crate) step: u32,
    /// Job file (.ron) of the vector file: compares what melts with the section, and proposes beam offsets
    #[arg(long, required_unless_present = "layer")]
    pub(crate) job: Option<PathBuf>,
    /// With --layer: print the dose at this place, mm; may be given several times
    #[arg(long = "at", requires = "layer", value_name = "X,Y", value_parser = place, allow_hyphen_values = true)]
    pub(crate) places: Vec<[f64; 2]>,
    /// With --layer: distance of the points over which doses are summed up and drawn, mm
    #[arg(long, requires = "layer", value_name = "MM", default_value_t = 0.02)]
    pub(crate) pitch: f64,
    /// Radius at which the beam's intensity has fallen to 1/e², mm; as file or job say when absent
    #[arg(long, value_name = "MM")]
    pub(crate) beam_radius: Option<f64>,
    /// Dose from which on the powder melts, J/mm²; as file or job say when absent
    #[arg(long, value_name = "J/MM2")]
    pub(crate) threshold: Option<f64>,
    /// Only marks and parts with the recipe of this name; all when absent
    #[arg(long, value_name = "NAME")]
    pub(crate) recipe: Option<String>,
    /// With --layer: draw a picture, to scale, with the predicted outline (.png)
    #[arg(short, long, requires = "layer")]
    pub(crate) out: Option<PathBuf>,
    /// With --layer and --json: list the points of the predicted outlines
    #[arg(long, requires_all = ["layer", "json"])]
    pub(crate) outline: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Most threads: more than any machine of one person has cores, and few enough to start.
const MOST_THREADS: usize = 1024;

fn threads(text: &str) -> Result<usize, String> {
    let wanted = || format!("a whole number from 1 to {MOST_THREADS} is wanted");
    text.parse().ok().filter(|n| (1..=MOST_THREADS).contains(n)).ok_or_else(wanted)
}

/// Two layers, either of which may be left out, with two dots between them.
fn layers(text: &str) -> Result<(u32, Option<u32>), String> {
    let number = |text: &str, absent| match text.trim() {
        "" => Some(absent),
        digits => digits.parse().ok().map(Some),
    };
    let ends = text.split_once("..");
    let both = ends.and_then(|(first, last)| Some((number(first, Some(0))??, number(last, None)?)));
    both.ok_or_else(|| "layers are FIRST..LAST, such as 100..200, 100.. or ..200".to_owned())
}

/// Two numbers with a comma between them.
fn place(text: &str) -> Result<[f64; 2], String> {
    let numbers = text.split_once(',').map(|(x, y)| [x, y].map(|n| n.trim().parse::<f64>()));
    match numbers {
        Some([Ok(x), Ok(y)]) if x.is_finite() && y.is_finite() => Ok([x, y]),
        _ => Err("a place is X,Y: two numbers in mm with a comma between them".to_owned()),
    }
}

#[derive(ClapArgs)]
pub(crate) struct TimeArgs {
    /// Job file (.ron)
    pub(crate) job: PathBuf,
    /// Compute one of so many layers only; 1 for all. Without it about 64 layers stand for the build
    #[arg(long, value_name = "LAYERS", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) every: Option<u32>,
    /// Also work out a time that no order within the blocks of the layers could stay below
    #[arg(long)]
    pub(crate) least: bool,
    /// Of this layer, from 0: how soon each spot is heated again by another mark
    #[arg(short, long)]
    pub(crate) layer: Option<u32>,
    /// With --layer: how much hotter this place is at its end, mm; may be given several times
    #[arg(long = "at", requires = "layer", value_name = "X,Y", value_parser = place, allow_hyphen_values = true)]
    pub(crate) places: Vec<[f64; 2]>,
    /// With --at: how well the bed conducts heat, W/(m·K); 0.1 is from memory, for loose polyamide
    #[arg(long, requires = "layer", value_name = "W/MK", default_value_t = 0.1)]
    pub(crate) conductivity: f64,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct FieldArgs {
    /// Machine file (.ron)
    pub(crate) machine: PathBuf,
    /// Places from the middle to the edge
    #[arg(long, default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=100))]
    pub(crate) steps: u32,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(ClapArgs)]
pub(crate) struct SliceArgs {
    /// Job file (.ron)
    pub(crate) job: PathBuf,
    /// Where to write; out/NAME.3mf beside the job when absent, NAME being that of the job file
    #[arg(short, long)]
    pub(crate) out: Option<PathBuf>,
}
