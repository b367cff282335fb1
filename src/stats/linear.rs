//! Ordinary least squares that knows what its columns cannot tell apart.

use super::distributions::f_upper_p;

/// Share of its own length below which a column counts as a combination of those before it.
const ALIASED: f64 = 1e-9;

/// A least-squares fit with intercept. Coefficient 0 is the intercept, coefficient j + 1 belongs to
/// column j.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Least-squares coefficients; 0 for a column that adds nothing to those before it.
    pub coefficients: Vec<f64>,
    /// Residual standard deviation; NaN without residual degrees of freedom.
    pub s: f64,
    pub df: usize,
    pub rank: usize,
    pub r_squared: f64,
    /// F of the regression on its intercept, with its p value; NaN without columns.
    pub f: f64,
    pub f_p: f64,
    pub residuals: Vec<f64>,
    qr: Qr,
}

/// A linear combination of coefficients that the data do determine.
#[derive(Debug, Clone, PartialEq)]
pub struct Contrast {
    pub value: f64,
    /// Standard error; NaN without residual degrees of freedom.
    pub se: f64,
    /// Share of each observation: value = Σ influence·y. The sum of squares is the variance of the
    /// value over the residual variance.
    pub influence: Vec<f64>,
}

/// Fits `y` on an intercept and `columns`; `None` for no rows, ragged or non-finite input.
///
/// QR by modified Gram-Schmidt, each column orthogonalised twice (Björck, Numerical Methods for
/// Least Squares Problems (1996), section 2.4); a column that is a combination of those before it
/// is left out and the combination kept, as in R's `lm`.
pub fn fit(columns: &[Vec<f64>], y: &[f64]) -> Option<Fit> {
    let n = y.len();
    let finite = |v: &[f64]| v.iter().all(|a| a.is_finite());
    if n == 0 || !finite(y) || columns.iter().any(|c| c.len() != n || !finite(c)) {
        return None;
    }
    let all: Vec<Vec<f64>> = std::iter::once(vec![1.0; n])
        .chain(columns.iter().cloned())
        .collect();
    Some(of_design(&all, y))
}

/// As [`fit`] with the intercept's column among the others: rows that stand for many observations
/// ([`super::compressed::Compressed`]) have no ones in it. Degrees of freedom and what rests on them are those of the rows.
pub(super) fn of_design(all: &[Vec<f64>], y: &[f64]) -> Fit {
    let n = y.len();
    let qr = Qr::new(all);
    // Where classes come before the intercept, what is explained beyond it is told from values about
    // their mean.
    let mean = if qr.kept.first() == Some(&0) {
        0.0
    } else {
        y.iter().sum::<f64>() / n as f64
    };
    let mut residuals: Vec<f64> = y.iter().map(|y| y - mean).collect();
    let mut effects = vec![0.0; qr.q.len()];
    for _ in 0..2 {
        for (effect, q) in effects.iter_mut().zip(&qr.q) {
            *effect += q.take_off(&mut residuals);
        }
    }
    let mut coefficients = qr.spread(&qr.back_substitute(&effects));
    coefficients[0] += mean;
    let rank = qr.q.len();
    let df = n.saturating_sub(rank);
    let rss = dot(&residuals, &residuals);
    let of_intercept = usize::from(qr.kept.first() == Some(&0));
    let explained: f64 = effects.iter().skip(of_intercept).map(|e| e * e).sum();
    let s = if df > 0 {
        (rss / df as f64).sqrt()
    } else {
        f64::NAN
    };
    let regressors = rank.saturating_sub(1) as f64;
    let f = explained / regressors / (s * s);
    Fit {
        coefficients,
        s,
        df,
        rank,
        r_squared: explained / (explained + rss),
        f,
        f_p: f_upper_p(f, regressors, df as f64),
        residuals,
        qr,
    }
}

impl Fit {
    /// Whether `weights` (one a coefficient, intercept first) times the coefficients is the same
    /// for every least-squares solution.
    pub fn estimable(&self, weights: &[f64]) -> bool {
        let size = dot(weights, weights).sqrt();
        weights.len() == self.coefficients.len()
            && self
                .qr
                .null
                .iter()
                .all(|v| dot(weights, v).abs() <= 1e-7 * size * dot(v, v).sqrt())
    }

    /// Value and standard error of an estimable combination; `None` if it is not estimable.
    pub fn contrast(&self, weights: &[f64]) -> Option<Contrast> {
        if !self.estimable(weights) {
            return None;
        }
        let z = self.qr.forward_substitute(weights);
        Some(Contrast {
            value: dot(weights, &self.coefficients),
            se: self.s * dot(&z, &z).sqrt(),
            influence: self.qr.times(&z, self.residuals.len()),
        })
    }

    /// The matrix that makes residuals of `y` (identity less projection), row by row; symmetric.
    pub fn residual_maker(&self) -> Vec<f64> {
        let n = self.residuals.len();
        let mut maker = vec![0.0; n * n];
        for (i, row) in maker.chunks_mut(n).enumerate() {
            for q in &self.qr.q {
                q.add(-q.at(i), row);
            }
            row[i] += 1.0;
        }
        maker
    }

    /// What is left of a vector without what the columns explain of it.
    pub fn residual_of(&self, vector: &mut [f64]) {
        for q in &self.qr.q {
            q.take_off(vector);
        }
    }

    /// What leaving out each observation would change of a contrast (Belsley, Kuh and Welsch, Regression
    /// Diagnostics (1980), 2.1: the update of a least-squares fit by one row); not finite where nothing
    /// else tells it.
    pub fn without_each(&self, contrast: &Contrast) -> Vec<f64> {
        let mut leverage = vec![0.0; self.residuals.len()];
        self.qr.q.iter().for_each(|q| q.add_squares(&mut leverage));
        let of_row = |((a, e), h): ((&f64, &f64), &f64)| -a * e / (1.0 - h);
        let rows = contrast.influence.iter().zip(&self.residuals);
        rows.zip(&leverage).map(of_row).collect()
    }

    /// Contrast of one coefficient alone.
    pub fn coefficient(&self, index: usize) -> Option<Contrast> {
        let mut weights = vec![0.0; self.coefficients.len()];
        *weights.get_mut(index)? = 1.0;
        self.contrast(&weights)
    }
}

/// A thin QR factorisation of the columns kept.
#[derive(Debug, Clone, PartialEq)]
struct Qr {
    q: Vec<Unit>,
    /// Columns of R, upper triangle.
    r: Vec<Vec<f64>>,
    /// Index of each kept column among all.
    kept: Vec<usize>,
    /// Combinations of columns that are zero in every row: what the data cannot tell apart.
    null: Vec<Vec<f64>>,
    columns: usize,
}

impl Qr {
    fn new(columns: &[Vec<f64>]) -> Self {
        let mut qr = Self {
            q: Vec::new(),
            r: Vec::new(),
            kept: Vec::new(),
            null: Vec::new(),
            columns: columns.len(),
        };
        let classes = classes(columns);
        for (index, rows) in classes.iter().enumerate() {
            qr.append_class(index + 1, rows);
        }
        let rest = (0..columns.len()).filter(|i| *i == 0 || *i > classes.len());
        for index in rest {
            qr.append(index, &columns[index]);
        }
        qr
    }

    /// A class, of which no row is in any before it: at right angles to them as it is.
    fn append_class(&mut self, index: usize, rows: &[usize]) {
        let length = (rows.len() as f64).sqrt();
        let mut shares = vec![0.0; self.q.len()];
        shares.push(length);
        self.q.push(Unit::Class(rows.to_vec(), length.recip()));
        self.r.push(shares);
        self.kept.push(index);
    }

    fn append(&mut self, index: usize, column: &[f64]) {
        let mut rest = column.to_vec();
        let mut shares = vec![0.0; self.q.len()];
        for _ in 0..2 {
            for (share, q) in shares.iter_mut().zip(&self.q) {
                *share += q.take_off(&mut rest);
            }
        }
        let length = dot(&rest, &rest).sqrt();
        if length <= ALIASED * dot(column, column).sqrt() {
            let mut combination = self.spread(&self.back_substitute(&shares));
            combination.iter_mut().for_each(|c| *c = -*c);
            combination[index] = 1.0;
            self.null.push(combination);
            return;
        }
        rest.iter_mut().for_each(|x| *x /= length);
        shares.push(length);
        self.q.push(Unit::Dense(rest));
        self.r.push(shares);
        self.kept.push(index);
    }

    /// Solves R·b = effects for the kept columns.
    fn back_substitute(&self, effects: &[f64]) -> Vec<f64> {
        let mut b = effects.to_vec();
        for i in (0..b.len()).rev() {
            b[i] /= self.r[i][i];
            for j in 0..i {
                b[j] -= self.r[i][j] * b[i];
            }
        }
        b
    }

    /// Kept coefficients at their places among all, 0 elsewhere.
    fn spread(&self, kept: &[f64]) -> Vec<f64> {
        let mut all = vec![0.0; self.columns];
        for (index, value) in self.kept.iter().zip(kept) {
            all[*index] = *value;
        }
        all
    }

    /// Solves Rᵀ·z = weights of the kept columns.
    fn forward_substitute(&self, weights: &[f64]) -> Vec<f64> {
        let mut z: Vec<f64> = Vec::with_capacity(self.kept.len());
        for (column, index) in self.r.iter().zip(&self.kept) {
            let known = dot(column, &z);
            z.push((weights[*index] - known) / column[z.len()]);
        }
        z
    }

    /// Q·z, for `n` rows.
    fn times(&self, z: &[f64], n: usize) -> Vec<f64> {
        let mut sum = vec![0.0; n];
        for (q, share) in self.q.iter().zip(z) {
            q.add(*share, &mut sum);
        }
        sum
    }
}

/// A column of Q: of length one.
#[derive(Debug, Clone, PartialEq)]
enum Unit {
    Dense(Vec<f64>),
    /// The same value in some rows and nothing in the others.
    Class(Vec<usize>, f64),
}

impl Unit {
    /// Takes its share off a vector; the share.
    fn take_off(&self, vector: &mut [f64]) -> f64 {
        let share = match self {
            Unit::Dense(q) => dot(q, vector),
            Unit::Class(rows, value) => value * rows.iter().map(|&i| vector[i]).sum::<f64>(),
        };
        self.add(-share, vector);
        share
    }

    /// Adds so many of it.
    fn add(&self, times: f64, to: &mut [f64]) {
        match self {
            Unit::Dense(q) => to.iter_mut().zip(q).for_each(|(x, q)| *x += times * q),
            Unit::Class(rows, value) => rows.iter().for_each(|&i| to[i] += times * value),
        }
    }

    fn add_squares(&self, to: &mut [f64]) {
        match self {
            Unit::Dense(q) => to.iter_mut().zip(q).for_each(|(x, q)| *x += q * q),
            Unit::Class(rows, value) => rows.iter().for_each(|&i| to[i] += value * value),
        }
    }

    fn at(&self, row: usize) -> f64 {
        match self {
            Unit::Dense(q) => q[row],
            Unit::Class(rows, value) => rows.binary_search(&row).map_or(0.0, |_| *value),
        }
    }
}

/// So many classes are worth going their own way: the work is then that of the few other columns, not
/// that of the square of the classes.
const MANY_CLASSES: usize = 8;

/// The rows of each column after the intercept's that is an indicator of a class, as long as no two classes
/// share a row (the days of a season): none where they are few, and none without an intercept.
fn classes(columns: &[Vec<f64>]) -> Vec<Vec<usize>> {
    let intercept = columns.first().filter(|c| c.iter().all(|x| *x == 1.0));
    let Some(n) = intercept.map(Vec::len) else {
        return Vec::new();
    };
    let mut taken = vec![false; n];
    let mut classes = Vec::new();
    for column in columns.iter().skip(1) {
        let mut rows = Vec::new();
        for (i, x) in column.iter().enumerate() {
            if *x == 1.0 && !taken[i] {
                rows.push(i);
            } else if *x != 0.0 {
                rows.clear();
                break;
            }
        }
        if rows.is_empty() {
            break;
        }
        rows.iter().for_each(|&i| taken[i] = true);
        classes.push(rows);
    }
    if classes.len() < MANY_CLASSES {
        classes.clear();
    }
    classes
}

/// Sum of products over the shorter length.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
