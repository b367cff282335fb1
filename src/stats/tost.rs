//! Two one-sided tests: is a difference shown to be too small to matter?

use super::distributions::t_cdf;
use super::welch::Difference;

/// Outcome of the two one-sided tests against ±margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tost {
    /// p value against "the difference is −margin or below".
    pub p_lower: f64,
    /// p value against "the difference is +margin or above".
    pub p_upper: f64,
}

impl Tost {
    /// p value of the whole: the larger of the two.
    pub fn p(&self) -> f64 {
        self.p_lower.max(self.p_upper)
    }
}

/// Source: Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657. Equivalent at 5 % exactly when the
/// 90 % interval lies within ±margin.
pub fn tost(difference: Difference, margin: f64) -> Tost {
    let Difference { value, se, df } = difference;
    Tost {
        p_lower: t_cdf(-(value + margin) / se, df),
        p_upper: t_cdf((value - margin) / se, df),
    }
}
