//! One-way analysis of variance and what it says of clusters.

use super::describe::mean;
use super::distributions::f_upper_p;

/// One-way analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWay {
    pub ss_between: f64,
    pub ss_within: f64,
    pub df_between: usize,
    pub df_within: usize,
    pub f: f64,
    pub p: f64,
    pub r_squared: f64,
    /// Standard deviation within groups.
    pub s: f64,
    /// Variance between groups by the method of moments; may be negative.
    pub variance_between: f64,
}

impl OneWay {
    /// Share of the variance that members of a group have in common, not below 0.
    pub fn intraclass_correlation(&self) -> f64 {
        let between = self.variance_between.max(0.0);
        between / (between + self.s * self.s)
    }
}

/// One-way analysis of variance of `groups`; `None` for fewer than two groups with values or no
/// degree of freedom within. The size of a group in the variance between is Snedecor's n0.
///
/// Source: Searle, Casella, McCulloch, Variance Components (1992), section 3.6.
pub fn one_way(groups: &[Vec<f64>]) -> Option<OneWay> {
    let groups: Vec<&Vec<f64>> = groups.iter().filter(|g| !g.is_empty()).collect();
    let n: usize = groups.iter().map(|g| g.len()).sum();
    if groups.len() < 2 || n <= groups.len() {
        return None;
    }
    let all: Vec<f64> = groups.iter().flat_map(|g| g.iter().copied()).collect();
    let grand = mean(&all);
    let (mut between, mut within, mut squares) = (0.0, 0.0, 0.0);
    for g in &groups {
        let m = mean(g);
        let size = g.len() as f64;
        between += size * (m - grand).powi(2);
        within += g.iter().map(|v| (v - m).powi(2)).sum::<f64>();
        squares += size * size;
    }
    let (df_between, df_within) = (groups.len() - 1, n - groups.len());
    let (ms_between, ms_within) = (between / df_between as f64, within / df_within as f64);
    let n0 = (n as f64 - squares / n as f64) / df_between as f64;
    let f = ms_between / ms_within;
    Some(OneWay {
        ss_between: between,
        ss_within: within,
        df_between,
        df_within,
        f,
        p: f_upper_p(f, df_between as f64, df_within as f64),
        r_squared: between / (between + within),
        s: ms_within.sqrt(),
        variance_between: (ms_between - ms_within) / n0,
    })
}
