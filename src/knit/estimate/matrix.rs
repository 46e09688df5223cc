//! As much of square matrices as the learning needs: the few numbers of it don't ask for a library.

/// A square matrix, row by row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Square {
    size: usize,
    cells: Vec<f64>,
}

impl Square {
    /// Made cell by cell, from row and column.
    pub(super) fn of(size: usize, cell: impl Fn(usize, usize) -> f64) -> Square {
        let cells = (0..size * size).map(|i| cell(i / size, i % size)).collect();
        Square { size, cells }
    }

    pub(super) fn at(&self, row: usize, column: usize) -> f64 {
        self.cells[row * self.size + column]
    }

    pub(super) fn row(&self, row: usize) -> &[f64] {
        &self.cells[row * self.size..(row + 1) * self.size]
    }

    /// The matrix times a column.
    pub(super) fn times(&self, column: &[f64]) -> Vec<f64> {
        (0..self.size).map(|row| dot(self.row(row), column)).collect()
    }

    /// `row` times the matrix times `column`.
    pub(super) fn between(&self, row: &[f64], column: &[f64]) -> f64 {
        dot(row, &self.times(column))
    }

    /// Adds to a cell.
    pub(super) fn add(&mut self, row: usize, column: usize, what: f64) {
        self.cells[row * self.size + column] += what;
    }

    /// The lower triangle L with L L' = this, which is symmetric and not negative. A direction without
    /// any spread gets a column of noughts.
    pub(super) fn root(&self) -> Square {
        let size = self.size;
        let mut root = Square { size, cells: vec![0.0; size * size] };
        for column in 0..size {
            let before = dot(&root.row(column)[..column], &root.row(column)[..column]);
            let rest = self.at(column, column) - before;
            // Rounding leaves this much where nothing is left.
            if rest <= 1e-15 * self.at(column, column) {
                continue;
            }
            let diagonal = rest.sqrt();
            for row in column..size {
                let before = dot(&root.row(row)[..column], &root.row(column)[..column]);
                root.cells[row * size + column] = (self.at(row, column) - before) / diagonal;
            }
        }
        root
    }
}

/// The sum of products.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// A symmetric matrix that is surely above nought, by its root.
pub(super) struct Solver {
    root: Square,
}

impl Solver {
    pub(super) fn of(matrix: &Square) -> Solver {
        Solver { root: matrix.root() }
    }

    /// What the matrix has to be multiplied by to give `column`.
    pub(super) fn solve(&self, column: &[f64]) -> Vec<f64> {
        let (root, size) = (&self.root, column.len());
        let mut x = column.to_vec();
        for i in 0..size {
            x[i] = (x[i] - dot(&root.row(i)[..i], &x[..i])) / root.at(i, i);
        }
        for i in (0..size).rev() {
            let later: f64 = (i + 1..size).map(|j| root.at(j, i) * x[j]).sum();
            x[i] = (x[i] - later) / root.at(i, i);
        }
        x
    }

    /// Logarithm of the density of a normal with this spread at `miss` from its mean.
    pub(super) fn log_density(&self, miss: &[f64]) -> f64 {
        let size = miss.len();
        let log_root: f64 = (0..size).map(|i| self.root.at(i, i).ln()).sum();
        let around = size as f64 / 2.0 * std::f64::consts::TAU.ln();
        -dot(miss, &self.solve(miss)) / 2.0 - log_root - around
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: ((4, 2), (2, 3)) has the root ((2, 0), (1, sqrt 2)) and the determinant 8.
    #[test]
    fn a_root_multiplied_by_itself_is_the_matrix() {
        let matrix = Square::of(2, |r, c| [[4.0, 2.0], [2.0, 3.0]][r][c]);
        let root = matrix.root();
        assert_eq!([root.at(0, 0), root.at(0, 1), root.at(1, 0)], [2.0, 0.0, 1.0]);
        assert!((root.at(1, 1) - 2f64.sqrt()).abs() < 1e-15);
        let solver = Solver::of(&matrix);
        let x = solver.solve(&[8.0, 7.0]);
        assert!((x[0] - 1.25).abs() < 1e-12 && (x[1] - 1.5).abs() < 1e-12, "{x:?}");
        let log = -(8.0 * 1.25 + 7.0 * 1.5) / 2.0 - 8f64.ln() / 2.0 - std::f64::consts::TAU.ln();
        assert!((solver.log_density(&[8.0, 7.0]) - log).abs() < 1e-12);
    }

    #[test]
    fn a_direction_without_spread_has_none_in_the_root() {
        let matrix = Square::of(2, |r, c| [[1.0, 1.0], [1.0, 1.0]][r][c]);
        let root = matrix.root();
        assert_eq!([root.at(0, 0), root.at(1, 0), root.at(1, 1)], [1.0, 1.0, 0.0]);
        // Nor one that had none from the beginning.
        let root = Square::of(2, |r, c| [[0.0, 0.0], [0.0, 4.0]][r][c]).root();
        assert_eq!([root.at(0, 0), root.at(1, 0), root.at(1, 1)], [0.0, 0.0, 2.0]);
    }
}
