//! The difference of two means without assuming equal variances.

use super::describe::{mean, sd};
use super::distributions::{t_quantile, t_two_sided_p};

/// A difference with its standard error and degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    pub value: f64,
    pub se: f64,
    pub df: f64,
}

impl Difference {
    pub fn t(&self) -> f64 {
        self.value / self.se
    }

    /// Two-sided p value of no difference.
    pub fn p(&self) -> f64 {
        t_two_sided_p(self.t(), self.df)
    }

    /// Two-sided interval at `level` (0..1).
    pub fn interval(&self, level: f64) -> (f64, f64) {
        let half = t_quantile(0.5 + 0.5 * level, self.df) * self.se;
        (self.value - half, self.value + half)
    }
}

/// mean(a) − mean(b); `None` below two values on either side or without any scatter.
///
/// Source: Welch, Biometrika 34 (1947) 28; degrees of freedom of Satterthwaite (1946).
pub fn welch(a: &[f64], b: &[f64]) -> Option<Difference> {
    let part = |x: &[f64]| (x.len() >= 2).then(|| sd(x).powi(2) / x.len() as f64);
    let (va, vb) = (part(a)?, part(b)?);
    let variance = va + vb;
    let df =
        variance * variance / (va * va / (a.len() as f64 - 1.0) + vb * vb / (b.len() as f64 - 1.0));
    (variance > 0.0).then(|| Difference {
        value: mean(a) - mean(b),
        se: variance.sqrt(),
        df,
    })
}
