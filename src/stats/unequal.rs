//! The variance of a contrast where the two sides of a comparison may scatter unequally.
//!
//! Pooled, an interval of 95 % holds the truth in 91 to 93 % where one fan scatters three times as
//! much as the other and few days have both (datasets/studies/calibration.csv). Here each side has a
//! variance of its own, estimated without bias from the squared residuals of its rows.
//!
//! Sources: Rao, J. Am. Statist. Assoc. 65 (1970) 161, for unbiased quadratic estimates of unequal
//! variances in a linear model; Satterthwaite, Biometrics Bull. 2 (1946) 110, and Welch, Biometrika 34
//! (1947) 28, for their degrees of freedom; Bell and McCaffrey, Survey Methodology 28 (2002) 169, for
//! those of a working model of equal scatter, which are their upper end. Ours: how unequal the two are
//! is taken from variances drawn together by [`TOGETHER`]; from variances as found, of one or two
//! degrees of freedom each, the intervals hold 97 to 98 % where both scatter alike.
//!
//! The robust standard error of single squared residuals (HC2) with the degrees of freedom of Bell and
//! McCaffrey was tried: it uses none but the flights of the shared day, so that it has two degrees of
//! freedom where this has four to twelve, and held 91 to 96 %.

use nalgebra::{DMatrix, Matrix2, Vector2};

use super::distributions::f_quantile;
use super::linear::{Contrast, Fit};

/// Whence the degrees of freedom come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Freedom {
    /// From how unequal the two sides are found to scatter.
    Scatter,
    /// From the design alone, as if both scattered alike (Bell and McCaffrey).
    Design,
}

/// Quadratic forms of the residuals that tell the variance of one contrast.
#[derive(Debug, Clone)]
pub struct Forms {
    /// What a squared residual of either side counts in the variance of the contrast.
    counts: Vector2<f64>,
    /// Share of the second side in each row.
    share: Vec<f64>,
    /// The variance is y·form·y.
    form: DMatrix<f64>,
    /// Of all residuals.
    residual_df: f64,
    /// Degrees of freedom where both scatter alike.
    alike: f64,
    /// Where the two variances can be told apart.
    apart: Option<Apart>,
}

#[derive(Debug, Clone)]
struct Apart {
    /// From sums of squares of either side to variances.
    solve: Matrix2<f64>,
    /// The contrast's variance: linear in the two.
    mean: Vector2<f64>,
    /// Variance of the contrast's variance: quadratic in the two, over 2.
    spread: Matrix2<f64>,
    /// Degrees of freedom of either variance where both are alike.
    freedom: [f64; 2],
}

/// Degrees of freedom that a variance common to both adds to either, where their ratio is asked for.
const TOGETHER: f64 = 1.0;
/// Rank is decided at this share of the largest term.
const TINY: f64 = 1e-9;

impl Forms {
    /// `share` of the second side in each row of the fit (0 or 1 for a flight, between for a day's
    /// mean). `None` where the residuals do not tell the variance side by side: too few rows of one.
    pub fn new(fit: &Fit, contrast: &Contrast, share: &[f64]) -> Option<Self> {
        let n = share.len();
        if fit.df == 0 || fit.residuals.len() != n || contrast.influence.len() != n {
            return None;
        }
        let maker = DMatrix::from_row_slice(n, n, &fit.residual_maker());
        let weight = |side: usize, row: usize| match side {
            0 => 1.0 - share[row],
            _ => share[row],
        };
        // E(sum of weighted squared residuals of side g) = sum over h of sums[g, h]·variance of h.
        let square = |a: &DMatrix<f64>| -> Matrix2<f64> {
            let mut sums = Matrix2::zeros();
            for (j, column) in a.column_iter().enumerate() {
                let (mut both, mut second) = (0.0, 0.0);
                for (x, share) in column.iter().zip(share) {
                    both += x * x;
                    second += x * x * share;
                }
                let of_side = Vector2::new(both - second, second);
                sums += of_side * Vector2::new(weight(0, j), weight(1, j)).transpose();
            }
            sums
        };
        let sums = square(&maker);
        let wanted = Vector2::from_fn(|g, _| {
            let squares = contrast.influence.iter().map(|a| a * a);
            squares.enumerate().map(|(i, a)| a * weight(g, i)).sum()
        });
        let size = sums.norm();
        let inverse = (sums.determinant() > TINY * size * size)
            .then(|| sums.try_inverse())
            .flatten();
        let counts = match inverse {
            Some(inverse) => inverse * wanted,
            // Only a sum of the two is told: it does where it is the one that is wanted.
            None => {
                let counts = wanted / sums.trace();
                let told = (sums * counts - wanted).norm() <= TINY.sqrt() * wanted.norm();
                told.then_some(counts)?
            }
        };
        // A form is the maker, its rows scaled by what their squares count, times the maker, which is its own
        // square: its trace and the sum of its squares are those of the maker, weighted.
        let traces = Vector2::from_fn(|g, _| {
            let diagonal = (0..n).map(|i| maker[(i, i)] * weight(g, i));
            diagonal.sum::<f64>()
        });
        let freedom =
            |counts: &Vector2<f64>| counts.dot(&traces).powi(2) / (sums * counts).dot(counts);
        let mean = sums * counts;
        // The maker times the scaled one, without the cube of the rows.
        let mut form = maker;
        for (i, mut row) in form.row_iter_mut().enumerate() {
            row *= counts[0] * weight(0, i) + counts[1] * weight(1, i);
        }
        for column in form.as_mut_slice().chunks_mut(n) {
            fit.residual_of(column);
        }
        let alike = freedom(&counts);
        let apart = inverse.map(|solve| Apart {
            solve,
            mean,
            spread: square(&form),
            freedom: [0, 1].map(|side| freedom(&solve.row(side).transpose())),
        });
        (alike >= 1.0 && alike.is_finite()).then(|| Self {
            counts,
            share: share.to_vec(),
            form,
            residual_df: fit.df as f64,
            alike,
            apart,
        })
    }

    /// Standard error and degrees of freedom from residuals; `None` where the estimated variance is
    /// not positive.
    pub fn estimate(&self, residuals: &[f64], freedom: Freedom) -> Option<(f64, f64)> {
        let mut squares = Vector2::zeros();
        for (r, share) in residuals.iter().zip(&self.share) {
            squares += r * r * Vector2::new(1.0 - share, *share);
        }
        let variance = self.counts.dot(&squares);
        let df = match (&self.apart, freedom) {
            (Some(apart), Freedom::Scatter) => {
                // Sum of squared residuals over their degrees of freedom.
                let pooled = squares.sum() / self.residual_df;
                apart.freedom_at(apart.solve * squares, pooled, self.alike)
            }
            _ => self.alike,
        };
        (variance > 0.0).then(|| (variance.sqrt(), df))
    }

    /// Degrees of freedom of the variance where the rows have those true variances.
    pub fn freedom(&self, variances: &[f64]) -> f64 {
        let (mut mean, mut spread) = (0.0, 0.0);
        for (j, vj) in variances.iter().enumerate() {
            mean += self.form[(j, j)] * vj;
            for (i, vi) in variances.iter().enumerate() {
                spread += self.form[(i, j)].powi(2) * vi * vj;
            }
        }
        mean * mean / spread
    }

    /// Degrees of freedom that [`Self::estimate`] will come to where both sides scatter alike: the
    /// middles of the lower, middle and upper third of seasons.
    pub fn thirds(&self, freedom: Freedom) -> [f64; 3] {
        let Some(apart) = self.apart.as_ref().filter(|_| freedom == Freedom::Scatter) else {
            return [self.alike; 3];
        };
        [1.0, 3.0, 5.0].map(|sixth| {
            let ratio = f_quantile(sixth / 6.0, apart.freedom[0], apart.freedom[1]);
            let [a, b] = apart.freedom;
            apart.freedom_at(
                Vector2::new(ratio, 1.0),
                (a * ratio + b) / (a + b),
                self.alike,
            )
        })
    }
}

impl Apart {
    /// Satterthwaite's at the two variances drawn together, never above what equal scatter has.
    fn freedom_at(&self, found: Vector2<f64>, pooled: f64, alike: f64) -> f64 {
        let drawn = Vector2::from_fn(|side, _| {
            let own = self.freedom[side];
            (own * found[side].max(0.0) + TOGETHER * pooled) / (own + TOGETHER)
        });
        let spread = (self.spread * drawn).dot(&drawn);
        (self.mean.dot(&drawn).powi(2) / spread).clamp(1.0, alike)
    }
}
