//! All problems of the catalogue in one type.

use super::arrangement::ArrangementProblem;
use super::dose::DoseProblem;
use super::entry::Entry;
use super::heat::HeatProblem;
use super::import::{FileProblem, StlProblem};
use super::job::JobProblem;
use super::layers::LayerProblem;
use super::mesh::{ShellProblem, SurfaceProblem};
use super::motion::MotionProblem;
use super::shape::ShapeProblem;
use super::vector_file::VectorFileProblem;
use super::vectors::VectorsProblem;

/// Declares [`Problem`] with a conversion from the problems of every stage.
macro_rules! stages {
    ($($(#[$doc:meta])* $stage:ident($problem:ident),)*) => {
        /// A problem of any stage, with its numbers.
        #[derive(Clone, Debug, PartialEq)]
        pub enum Problem {
            $($(#[$doc])* $stage($problem),)*
        }

        impl Problem {
            pub(super) fn entry(&self) -> Entry {
                match self {
                    $(Self::$stage(problem) => problem.entry(),)*
                }
            }
        }

        $(
            impl From<$problem> for Problem {
                fn from(problem: $problem) -> Self {
                    Self::$stage(problem)
                }
            }
        )*
    };
}

stages! {
    /// Reading an STL file.
    Stl(StlProblem),
    /// Reading any mesh file.
    File(FileProblem),
    /// Edges and triangles of a mesh.
    Surface(SurfaceProblem),
    /// What the shells of a mesh enclose.
    Shell(ShellProblem),
    /// What of a shape will not come out.
    Shape(ShapeProblem),
    /// The job as a whole, and nesting.
    Job(JobProblem),
    /// Sections and paths of layers.
    Layer(LayerProblem),
    /// What warms and cools unevenly.
    Heat(HeatProblem),
    /// What mirrors and laser cannot do.
    Motion(MotionProblem),
    /// Clearance and removal.
    Arrangement(ArrangementProblem),
    /// A vector file by itself.
    VectorFile(VectorFileProblem),
    /// The vectors of a file against the job.
    Vectors(VectorsProblem),
    /// What the estimated dose melts, and does not.
    Dose(DoseProblem),
}
