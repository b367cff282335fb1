//! The difference of two independent estimates from their intervals alone.

/// An estimate with its 95 % and 90 % limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    pub value: f64,
    pub low: f64,
    pub high: f64,
    pub low90: f64,
    pub high90: f64,
}

impl Bounds {
    /// From a standard uncertainty with `df` degrees of freedom (infinite: taken as known).
    pub fn from_u(value: f64, u: f64, df: f64) -> Self {
        let (half, half90) = (
            super::t_quantile(0.975, df) * u,
            super::t_quantile(0.95, df) * u,
        );
        Self {
            value,
            low: value - half,
            high: value + half,
            low90: value - half90,
            high90: value + half90,
        }
    }

    /// `self` − `other` for independent estimates.
    ///
    /// Method of variance estimates recovery: Zou and Donner, Statistics in Medicine 27 (2008)
    /// 1693. It keeps the shape of both intervals and their degrees of freedom.
    pub fn minus(&self, other: &Self) -> Self {
        let value = self.value - other.value;
        let reach = |own: f64, others: f64| (self.value - own).hypot(other.value - others);
        Self {
            value,
            low: value - reach(self.low, other.high),
            high: value + reach(self.high, other.low),
            low90: value - reach(self.low90, other.high90),
            high90: value + reach(self.high90, other.low90),
        }
    }
}
