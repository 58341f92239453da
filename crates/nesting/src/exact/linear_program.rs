//! A linear program with sparse rows, solved by `clarabel`.

use base::Progress;
use clarabel::algebra::CscMatrix;
use clarabel::solver::{
    DefaultInfo, DefaultSettingsBuilder, DefaultSolver, IPSolver, SolverStatus, SupportedConeT,
};

/// Unknowns with a cost each, and rows that bound weighted sums of them from above. The sum of cost ×
/// unknown is made as small as the rows allow.
pub(super) struct LinearProgram {
    /// Per unknown.
    pub(super) cost: Vec<f64>,
    /// Per row.
    bounds: Vec<f64>,
    /// Coefficients that are not 0, as row, unknown and value.
    rows: Vec<usize>,
    columns: Vec<usize>,
    values: Vec<f64>,
}

impl LinearProgram {
    pub(super) fn new(unknowns: usize) -> Self {
        let cost = vec![0.0; unknowns];
        Self { cost, bounds: Vec::new(), rows: Vec::new(), columns: Vec::new(), values: Vec::new() }
    }

    /// Adds the row Σ value · unknown ≤ bound.
    pub(super) fn at_most(&mut self, entries: &[(usize, f64)], bound: f64) {
        for &(column, value) in entries {
            self.rows.push(self.bounds.len());
            self.columns.push(column);
            self.values.push(value);
        }
        self.bounds.push(bound);
    }

    /// The best unknowns, by an interior-point method in one thread; `None` if the solver finds none, or is
    /// cancelled, which it asks between two steps.
    pub(super) fn solution(self, progress: &Progress) -> Option<Vec<f64>> {
        let Self { cost, bounds, rows, columns, values } = self;
        let unknowns = cost.len();
        let matrix = CscMatrix::new_from_triplets(bounds.len(), unknowns, rows, columns, values);
        let no_squares = CscMatrix::zeros((unknowns, unknowns));
        let settings = DefaultSettingsBuilder::default().verbose(false).build().ok()?;
        let cone = [SupportedConeT::NonnegativeConeT(bounds.len())];
        let mut solver =
            DefaultSolver::new(&no_squares, &cost, &matrix, &bounds, &cone, settings).ok()?;
        let progress = progress.clone();
        solver.set_termination_callback(move |_: &DefaultInfo<f64>| progress.check().is_err());
        solver.solve();
        let usable =
            matches!(solver.solution.status, SolverStatus::Solved | SolverStatus::AlmostSolved)
                && solver.solution.x.iter().all(|x| x.is_finite());
        usable.then(|| std::mem::take(&mut solver.solution.x))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Corners of a triangle, by hand: x + 2y ≤ 4, 3x + y ≤ 6, both at least 0; most of x + y at
    /// (1.6, 1.2). Without an upper bound there is no solution.
    #[test]
    fn the_best_corner_is_found_and_the_endless_is_refused() {
        let program = |bounded: bool| {
            let mut program = LinearProgram::new(2);
            program.cost = vec![-1.0, -1.0];
            program.at_most(&[(0, -1.0)], 0.0);
            program.at_most(&[(1, -1.0)], 0.0);
            if bounded {
                program.at_most(&[(0, 1.0), (1, 2.0)], 4.0);
                program.at_most(&[(0, 3.0), (1, 1.0)], 6.0);
            }
            program.solution(&Progress::default())
        };
        let best = program(true).unwrap();
        assert!((best[0] - 1.6).abs() < 1e-6 && (best[1] - 1.2).abs() < 1e-6, "{best:?}");
        assert_eq!(program(false), None);
    }
}
